package terminal

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
)

// Drug writes one row of the table of drugs as a pharmacist reads it before
// signing: names and codes, safeguards, what goes with it, and every fact
// with its source, how it is known and whether it can stop an order. What is
// not written here would be signed unread.
func Drug(d compendium.Drug, l compendium.Listing, color bool) string {
	p := &page{color: color, narrow: true, labels: 17}
	p.line(p.paint(bold, notation.DrugName(d.Name)) + "   " + plain(d.Class))
	identity(p, d)
	safeguards(p, d)
	hazardous(p, d, l)
	preparation(p, d)
	p.labels = 12
	for _, t := range topicsOf(d) {
		p.head(title(t))
		for _, f := range d.Facts {
			if f.Topic == t {
				oneFact(p, f)
			}
		}
	}
	p.line("")
	p.text(0, "How it is known: sourced, read in the named document; corroborated, recalled and found again in weak support; memory, recalled: where it would block it holds until this table is signed; local, the site's own. "+
		"The label of the product dispensed decides.")
	return p.b.String()
}

// known is how a value is known, with its source.
func known(standing, source string) string {
	if standing == "" {
		return source
	}
	return strings.TrimSuffix(standing+": "+source, ": ")
}

func identity(p *page, d compendium.Drug) {
	p.head("Names and codes")
	p.field(2, "also called", strings.Join(d.Also, "; "))
	p.field(2, "never this", strings.Join(d.NotThis, "; "))
	p.field(2, "ingredients", parts(d.Parts))
	p.field(2, "any mixture of", parts(d.Mixture))
	p.field(2, "may also hold", strings.Join(d.Additives, "; "))
	p.field(2, "RxNorm", cmp.Or(strings.Join(d.Codes.RxNorm, ", "), "none"))
	p.field(2, "ATC", cmp.Or(strings.Join(d.Codes.ATC, ", "), "none"))
	p.field(2, "codes known", known(d.Codes.Standing, d.Codes.Source))
	for _, a := range d.Codes.Ambiguous {
		p.field(2, "ambiguous code", a.Code+", finds nothing: "+plain(a.Why))
	}
	p.field(2, "kinds", strings.Join(d.Kinds, ", "))
}

func parts(list []compendium.Part) string {
	var out []string
	for _, x := range list {
		text := x.Name
		if x.RxNorm != "" {
			text += " (RxNorm " + x.RxNorm + ")"
		}
		out = append(out, text)
	}
	return strings.Join(out, "; ")
}

// onFact names the fact that something rests on.
func onFact(id string) string {
	if id == "" {
		return ""
	}
	return "; rests on " + id
}

func safeguards(p *page, d compendium.Drug) {
	p.head("Safeguards")
	p.field(2, "high alert", map[bool]string{true: "yes: two people pass what one may pass for other drugs", false: "no"}[d.HighAlert])
	p.field(2, "gene test", map[bool]string{true: "asked for before the first dose", false: "not asked for"}[d.GenotypeTest])
	p.field(2, "before release", map[bool]string{true: "monitoring is asked for before the first release", false: "no monitoring is asked for before the first release"}[d.MonitorBeforeFirstRelease])
	for _, f := range d.Flags {
		p.field(2, "rule", say(flagWords, f.Flag)+" ("+known(f.Standing, plain(f.Source))+onFact(f.Fact)+")")
	}
	for _, c := range d.Companions {
		p.field(2, "goes with", plain(c.Need)+", "+plain(c.When)+"; missing: "+say(gates, c.Gate)+onFact(c.Fact))
		names := strings.Join(c.Names, "; ")
		if c.RxNorm != "" {
			names += "; RxNorm " + c.RxNorm
		}
		p.field(4, "found as", names)
	}
	for _, x := range d.LabLimits {
		p.field(2, "laboratory", plain(x.Test)+" above "+x.Above.Words()+": "+plain(x.Do)+onFact(x.Fact))
	}
}

func hazardous(p *page, d compendium.Drug, l compendium.Listing) {
	p.head("Hazardous drug")
	listed := map[string]string{"yes": "yes", "no": "no", "unassessed": "not assessed"}
	text := say(listed, l.Listed)
	if l.Table != "" {
		text += ", Table " + l.Table
	}
	p.field(2, "hazardous", text+"; "+l.Edition)
	p.field(2, "antineoplastic", l.Antineoplastic)
	p.field(2, "closed transfer", say(map[string]string{"by-policy": "as the site's signed assessment of risk decides", "unassessed": "not assessed"}, l.ClosedTransfer))
	p.field(2, "waste code", l.Waste)
	p.field(2, "says", plain(l.Says))
	r := d.Hazard
	if r == nil || r.Reason != l.Source {
		p.field(2, "known", known(l.Standing, l.Source))
	}
	if r == nil {
		return
	}
	p.field(2, "looked up", "listed: "+r.Listed+", in "+r.Edition)
	p.field(4, "by", cmp.Or(r.Reviewer, "this program; no pharmacist is named"))
	p.field(4, "found", r.Reason)
	p.field(4, "approved", strings.TrimSuffix("by "+r.ApprovedBy, "by "))
	p.field(4, "known", r.Standing)
}

func preparation(p *page, d compendium.Drug) {
	if d.RoundingStep == nil && d.UsualVolumes == nil {
		return
	}
	p.head("Rounding and volumes")
	if s := d.RoundingStep; s != nil {
		p.field(2, "rounded to", notation.Patient(s.Value, s.Unit)+" for "+say(populations, s.Population)+" ("+known(s.Standing, s.Source)+")")
	}
	if v := d.UsualVolumes; v != nil {
		var list []string
		for _, n := range v.List {
			list = append(list, notation.Patient(n, v.Unit))
		}
		p.field(2, "usual volumes", strings.Join(list, ", ")+" ("+known(v.Standing, v.Source)+")")
	}
}

// topicsOf are the topics of a drug in the order they are read.
func topicsOf(d compendium.Drug) []string {
	var out []string
	for _, f := range d.Facts {
		if !slices.Contains(out, f.Topic) {
			out = append(out, f.Topic)
		}
	}
	slices.SortStableFunc(out, func(a, b string) int { return placeOf(a) - placeOf(b) })
	return out
}

// placeOf is the place of a topic in that order; the last for one that is not
// listed.
func placeOf(topic string) int {
	for i, t := range topics {
		if t.topic == topic {
			return i
		}
	}
	return len(topics)
}

func title(topic string) string {
	for _, t := range topics {
		if t.topic == topic {
			return t.title
		}
	}
	return strings.ReplaceAll(topic, "_", " ")
}
