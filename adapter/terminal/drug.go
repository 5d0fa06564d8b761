package terminal

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// Drug writes one row of the table of drugs as a pharmacist reads it before
// signing: names, hazard, what goes with it, and every fact with its source,
// its standing and whether it gates.
func Drug(d compendium.Drug, l compendium.Listing, color bool) string {
	p := &page{color: color}
	p.line(p.paint(bold, notation.DrugName(d.Name)) + "   " + d.Class)
	p.field(2, "also", strings.Join(d.Also, "; "))
	p.field(2, "not this", strings.Join(d.NotThis, "; "))
	p.field(2, "codes", fmt.Sprintf("RxNorm %s; ATC %s (%s: %s)", list(d.Codes.RxNorm), list(d.Codes.ATC), d.Codes.Standing, d.Codes.Source))
	for _, a := range d.Codes.Ambiguous {
		p.field(2, "ambiguous", a.Code+": "+a.Why)
	}
	p.field(2, "kinds", strings.Join(d.Kinds, ", "))
	hazard := l.Listed
	if l.Table != "" {
		hazard = "listed, Table " + l.Table
	}
	p.field(2, "hazard", strings.TrimSuffix(fmt.Sprintf("%s (%s); closed transfer %s; %s", hazard, l.Edition, l.ClosedTransfer, l.Says), "; "))
	if s := d.RoundingStep; s != nil {
		p.field(2, "rounded to", notation.Code(s.Value, s.Unit)+" ("+s.Population+", "+s.Standing+": "+s.Source+")")
	}
	for _, f := range d.Flags {
		p.field(2, "flag", f.Flag+" ("+f.Standing+": "+f.Source+")")
	}
	for _, c := range d.Companions {
		p.field(2, "goes with", c.Need+", "+c.When+" (missing: "+c.Gate+")")
	}
	for _, x := range d.LabLimits {
		p.field(2, "laboratory", x.Test+" above "+band(x.Above)+": "+x.Do)
	}
	topics := []string{}
	for _, f := range d.Facts {
		if !slices.Contains(topics, f.Topic) {
			topics = append(topics, f.Topic)
		}
	}
	for _, t := range topics {
		p.head(strings.ReplaceAll(t, "_", " "))
		for _, f := range d.Facts {
			if f.Topic == t {
				oneFact(p, f)
			}
		}
	}
	return p.b.String()
}

func oneFact(p *page, f compendium.Fact) {
	gates := "gates"
	if !f.Gates {
		gates = "never gates"
	}
	p.line("  " + pad(f.ID, 34) + "  " + f.Population + ", " + f.Standing + ", " + strings.ReplaceAll(f.Basis, "_", " ") + ", " + gates)
	p.field(4, "value", strings.Join(valueWords(f.Value), "; "))
	p.field(4, "when", f.Condition)
	for _, a := range f.AppliesTo {
		p.field(4, "only for", strings.Join(regimen(a), ", "))
	}
	p.field(4, "review", f.Review)
	p.field(4, "conflict", f.Conflict)
	if o := f.Override; o != nil {
		p.field(4, "this site", fmt.Sprintf("by %s on %s: %s; the table says %s", o.By, o.On, o.Reason, band(o.Was)))
	}
	p.field(4, "source", f.Source)
}

func list(codes []string) string {
	if len(codes) == 0 {
		return "none"
	}
	return strings.Join(codes, ", ")
}

// band is a number or range in the words of the trade.
func band(b compendium.Band) string {
	number := func(n string) string {
		if v, err := quantity.ParseNumber(n); err == nil {
			return notation.Code(v.Decimal(), b.Unit)
		}
		return n + " " + b.Unit
	}
	switch {
	case b.Value != "":
		return number(b.Value.String())
	case b.Low != "" && b.High != "":
		return number(b.Low.String()) + " to " + number(b.High.String())
	case b.Low != "":
		return "at least " + number(b.Low.String())
	case b.High != "":
		return "at most " + number(b.High.String())
	}
	return ""
}

// valueWords says every member of a value: what is not said here would be
// signed unread.
func valueWords(v compendium.Value) []string {
	var out []string
	add := func(name string, b *compendium.Band) {
		if b != nil && !b.Empty() {
			out = append(out, strings.TrimSpace(name+" "+band(*b)))
		}
	}
	add("", &v.Band)
	add("dose", v.Dose)
	add("dose of a day", v.DailyDose)
	add("at once", v.Bolus)
	add("continuous", v.Continuous)
	add("every", v.Interval)
	add("in so many doses", v.DividedDoses)
	add("doses", v.Doses)
	add("at most", v.Max)
	add("over", v.InfusionDuration)
	add("rate", v.Rate)
	add("bag of", v.BagDuration)
	add("for", v.Duration)
	add("at", v.Temperature)
	add("strength", v.Concentration)
	add("each", v.Frequency)
	word := func(name, text string) {
		if text != "" {
			out = append(out, strings.TrimSpace(name+" "+text))
		}
	}
	word("kept", v.Storage)
	word("in", strings.Join(append(slices.Clone(v.Containers), v.ContainerText), " "))
	fluids := func(codes []string) string {
		var names []string
		for _, c := range codes {
			names = append(names, compendium.DiluentName(c))
		}
		return strings.Join(names, ", ")
	}
	word("with", fluids(v.Diluent))
	word("", fluids(v.List))
	word("any fluid holding", strings.Join(v.Containing, ", "))
	word("in words:", strings.Join(v.Others, ", "))
	word("tests:", strings.Join(v.Tests, ", "))
	word("by weight:", v.Weight)
	if v.NoChange {
		out = append(out, "no change")
	}
	for _, w := range v.Weeks {
		out = append(out, "week "+w.String())
	}
	for _, s := range v.Strengths {
		out = append(out, band(s))
	}
	for _, b := range v.Bands {
		out = append(out, bandWords(b))
	}
	if c := v.Clearance; c != nil {
		out = append(out, fmt.Sprintf("clearance per %s by %s formula, weight %s", c.Per, c.Formula, c.Weight))
	}
	if t := v.FollowedBy; t != nil {
		then := "then kept " + t.Storage
		if t.Duration != nil {
			then += " for " + band(*t.Duration)
		}
		if t.Temperature != nil {
			then += " at " + band(*t.Temperature)
		}
		out = append(out, then)
	}
	var rare []string
	for name := range v.Other {
		rare = append(rare, name)
	}
	slices.Sort(rare)
	for _, name := range rare {
		out = append(out, name+" "+band(v.Other[name]))
	}
	word("", v.Text)
	return out
}

func bandWords(b compendium.RenalBand) string {
	out := []string{"clearance " + band(b.Crcl) + ":"}
	for _, x := range []struct {
		name string
		b    *compendium.Band
	}{{"dose", b.Dose}, {"dose of a day", b.DailyDose}, {"share of the dose", b.DoseFactor}, {"share of the dose of a day", b.DailyDoseFactor}, {"rate", b.Rate},
		{"every", b.Interval}, {"not oftener than every", b.IntervalMin}, {"", b.TimesPerWeek}, {"or first", b.AlternativeFirst}, {"then", b.AlternativeSecond}} {
		if x.b != nil {
			out = append(out, strings.TrimSpace(x.name+" "+band(*x.b)))
		}
	}
	if b.Note != "" {
		out = append(out, b.Note)
	}
	return strings.Join(out, " ")
}

func regimen(a compendium.Applies) []string {
	var out []string
	for _, x := range []struct{ name, value string }{{"method", a.Method}, {"route", a.Route}, {"tip of the line", a.Site}, {"part", a.Component}, {"opioid", a.Exposure},
		{"product", a.Product}, {"regimen", a.Regimen}, {"state", a.Setting}, {"indication", strings.Join(a.Indication, " or ")}, {"indication not", strings.Join(a.NotIndication, " or ")}} {
		if x.value != "" {
			out = append(out, x.name+" "+x.value)
		}
	}
	for _, x := range []struct {
		name string
		b    *compendium.Band
	}{{"age", a.Age}, {"weight", a.Weight}, {"dose", a.Dose}, {"every", a.Interval}} {
		if x.b != nil {
			out = append(out, x.name+" "+band(*x.b))
		}
	}
	return out
}
