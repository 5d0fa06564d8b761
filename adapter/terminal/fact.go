package terminal

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

func oneFact(p *page, f compendium.Fact) {
	p.line("  " + p.paint(bold, clean(f.ID)) + "   " + clean(say(populations, f.Population)))
	p.field(4, "value", strings.Join(valueWords(f.Value), "; "))
	for _, b := range f.Value.Bands {
		p.field(4, "clearance", bandWords(b))
	}
	p.field(4, "when", plain(f.Condition))
	for _, a := range f.AppliesTo {
		p.field(4, "only for", strings.Join(regimen(a), ", "))
	}
	p.field(4, "mind", plain(f.Review))
	p.field(4, "but", plain(f.Conflict))
	if o := f.Override; o != nil {
		p.field(4, "this site", strings.TrimSuffix("by "+o.By+" on "+o.On+": "+o.Reason+overruled(*o), "; "))
	}
	stops := "may hold or block an order"
	switch {
	case !f.Gates:
		stops = "to be read: never holds or blocks an order"
	case f.Gate != "":
		stops = "may lead to " + say(gates, f.Gate) + ", to no more"
	}
	p.field(4, "known", f.Standing+", from "+say(bases, cmp.Or(f.Basis, "no stated basis"))+"; "+stops)
	p.field(4, "source", f.Source)
}

// overruled is what the table itself says where a site has its own number.
func overruled(o compendium.Local) string {
	var out []string
	if w := o.Was.Words(); w != "" {
		out = append(out, "the table says "+w)
	}
	out = append(out, map[bool]string{true: "by the table it may hold or block", false: "by the table it never holds or blocks"}[o.Gated])
	if o.Loosened {
		out = append(out, "between the two numbers it holds")
	}
	return "; " + strings.Join(out, "; ")
}

// every is an interval: "every 8 hours", "daily".
func every(b compendium.Band) string {
	if n, err := quantity.ParseNumber(b.Value.String()); err == nil && b.Low == "" && b.High == "" && !strings.HasPrefix(b.Unit, "/") {
		return notation.Every(n, b.Unit)
	}
	if strings.HasPrefix(b.Unit, "/") { // so many times in a week
		return b.Words()
	}
	return "every " + b.Words()
}

// valueWords says every member of a value but the bands of the kidneys: what
// is not said here would be signed unread.
func valueWords(v compendium.Value) []string {
	var out []string
	word := func(name, text string) {
		if text = strings.TrimSpace(text); text != "" {
			out = append(out, strings.TrimSpace(name+" "+text))
		}
	}
	add := func(name string, b *compendium.Band) {
		if b != nil {
			word(name, b.Words())
		}
	}
	add("", &v.Band)
	add("dose", v.Dose)
	add("dose of a day", v.DailyDose)
	add("at once", v.Bolus)
	add("then running", v.Continuous)
	if v.Interval != nil {
		word("", every(*v.Interval))
	}
	if v.Frequency != nil {
		word("", every(*v.Frequency))
	}
	add("doses a day:", v.DividedDoses)
	add("doses in all:", v.Doses)
	add("at most", v.Max)
	add("over", v.InfusionDuration)
	add("rate", v.Rate)
	add("one bag lasts", v.BagDuration)
	add("for", v.Duration)
	word("", say(storages, v.Storage))
	add("at", v.Temperature)
	add("strength", v.Concentration)
	var kept []string
	for _, c := range v.Containers {
		kept = append(kept, say(containers, c))
	}
	word("in:", strings.Join(kept, ", "))
	word("container:", plain(v.ContainerText))
	fluids := func(codes []string) string {
		var names []string
		for _, c := range codes {
			names = append(names, compendium.DiluentName(c))
		}
		return strings.Join(names, ", ")
	}
	word("with", fluids(v.Diluent))
	word("", fluids(v.List))
	word("any fluid that holds", strings.Join(v.Containing, ", "))
	word("in words:", plain(strings.Join(v.Others, ", ")))
	word("tests:", strings.Join(v.Tests, ", "))
	word("weight:", plain(v.Weight))
	if v.NoChange {
		out = append(out, "no change")
	}
	if v.NoChangeAbove {
		out = append(out, "no change above the highest band")
	}
	var weeks []string
	for _, w := range v.Weeks {
		weeks = append(weeks, notation.Patient(w.String(), ""))
	}
	word("weeks", strings.Join(weeks, ", "))
	for _, s := range v.Strengths {
		word("", s.Words())
	}
	if c := v.Clearance; c != nil {
		out = append(out, "clearance "+say(perWhat, c.Per)+", formula "+c.Formula+", weight "+c.Weight+onFact(c.Fact))
	}
	if t := v.FollowedBy; t != nil {
		then := []string{"then"}
		if t.Duration != nil {
			then = append(then, t.Duration.Words())
		}
		then = append(then, say(storages, t.Storage))
		if t.Temperature != nil {
			then = append(then, "at "+t.Temperature.Words())
		}
		word("", strings.Join(then, " "))
	}
	var names []string
	for name := range v.Other {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		text, listed := rare[name]
		if !listed {
			text = compendium.MemberName(name)
		}
		word(text, v.Other[name].Words())
	}
	word("", plain(v.Text))
	return out
}

func bandWords(b compendium.RenalBand) string {
	var out []string
	for _, x := range []struct {
		name string
		b    *compendium.Band
	}{{"dose", b.Dose}, {"dose of a day", b.DailyDose}, {"share of the dose:", b.DoseFactor}, {"share of the dose of a day:", b.DailyDoseFactor}, {"rate", b.Rate},
		{"", b.TimesPerWeek}, {"first", b.AlternativeFirst}, {"then", b.AlternativeSecond}} {
		if x.b != nil {
			out = append(out, strings.TrimSpace(x.name+" "+x.b.Words()))
		}
	}
	if b.Interval != nil {
		out = append(out, every(*b.Interval))
	}
	if b.IntervalMin != nil {
		out = append(out, "not oftener than every "+b.IntervalMin.Words())
	}
	if b.Note != "" {
		out = append(out, plain(b.Note))
	}
	return b.Crcl.Words() + ": " + strings.Join(out, ", ")
}

func regimen(a compendium.Applies) []string {
	var out []string
	for _, x := range []struct{ name, value string }{{"", say(methods, a.Method)}, {"", plain(a.Route)}, {"", say(sites, a.Site)}, {"the part", plain(a.Component)}, {"a patient", say(exposures, a.Exposure)},
		{"the product", plain(a.Product)}, {"the regimen", plain(a.Regimen)}, {"", plain(a.Setting)}, {"", plain(strings.Join(a.Indication, " or "))}, {"not for", plain(strings.Join(a.NotIndication, " or "))}} {
		if x.value != "" {
			out = append(out, strings.TrimSpace(x.name+" "+x.value))
		}
	}
	for _, x := range []struct {
		name string
		b    *compendium.Band
	}{{"age", a.Age}, {"weight", a.Weight}, {"dose", a.Dose}} {
		if x.b != nil {
			out = append(out, x.name+" "+x.b.Words())
		}
	}
	if a.Interval != nil {
		out = append(out, every(*a.Interval))
	}
	return out
}
