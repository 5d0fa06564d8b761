package lumen

import "strings"

// RuleKind names one rule a placement must meet.
type RuleKind string

// The rules that a conflict may name. Beside them stand, without a name of
// their own, what a lumen is: one thing at a time, one lumen for all doses
// of an infusion, nothing running in a lumen that blood is drawn from.
const (
	Window     RuleKind = "window"
	AskedLumen RuleKind = "asked-lumen"
	Together   RuleKind = "together"
	OwnLine    RuleKind = "own-line"
	NoBolus    RuleKind = "no-bolus"
	NeverPause RuleKind = "never-pause"
	Fluid      RuleKind = "flush-fluid"
	Distance   RuleKind = "distance"
	DrawLumen  RuleKind = "draw-lumen"
	OtherDrug  RuleKind = "level-from-another-lumen"
	StopBefore RuleKind = "stop-before-draw"
	TroughTime RuleKind = "trough"
)

// Rule is one rule of a conflict: of one item, or of two for Together.
type Rule struct {
	Kind    RuleKind
	Of      []string
	Meeting Meeting // of Together
}

// RuleText is what a rule asks and who says so.
type RuleText struct {
	Kind     RuleKind
	Asks     string // with %s for the items; Together also has words for each meeting
	Standing string // sourced, corroborated, memory
	Source   string
}

var ruleTexts = []RuleText{
	{Window, "%s starts at its scheduled times, within what is allowed round them", "memory", "common practice, no source; the site says how much is allowed"},
	{AskedLumen, "%s runs through the lumen it is ordered for", "memory", "common practice, no source"},
	{Together, "%s and %s are not known to be compatible: never together in one lumen, and a flush between them", "sourced", "Nursing management of venous access devices, docslib.org/doc/11940499; ceftriaxone labelling on calcium, api.fda.gov set_id 8351aa37-552d-471d-b293-c564dcb6ec29: in sequence with a thorough flush, contraindicated up to 28 days of age; that an unknown pair counts as not compatible: common practice, no source"},
	{OwnLine, "nothing else runs through the lumen of %s", "sourced", "Epoprostenol for injection label, highlights, dailymed.nlm.nih.gov setid 2a163b77-9e01-4516-b19c-f5a12ce48560"},
	{NoBolus, "nothing may push what is in the lumen ahead of %s: no flush, no draw and no dose of another drug behind it; withdraw first at its end", "corroborated", "nurses' exchanges, aphon.org and iv-therapy.net (weak); Blinatumomab prescribing advisory page: no flush at bag change or at the end; for inotropes and opioids common practice, no source"},
	{NeverPause, "%s is not stopped for longer than is allowed", "memory", "drug labels where the drug table names one, else common practice, no source"},
	{Fluid, "%s does not meet a flush or lock it may not meet", "sourced", "product-information reprints as in the drug table: amphotericin B liposomal and dalbavancin are flushed with dextrose 5 %"},
	{Distance, "doses of %s are far enough apart", "memory", "common practice, no source; where the distance is not stated, three quarters of the smallest scheduled one: common practice, no source"},
	{DrawLumen, "%s is drawn from a lumen that allows it", "memory", "common practice, no source"},
	{OtherDrug, "%s is drawn from another lumen than the drug it measures, since the line has one", "sourced", "practice article by a home-infusion pharmacist, How home infusion pharmacists provide therapy: a level drawn wrongly was acted upon; therapy-level-timing"},
	{StopBefore, "nothing runs in the lumen for the stop time before %s", "memory", "common practice, no source"},
	{TroughTime, "%s is drawn shortly before a dose", "sourced", "consensus table on drug levels before the fourth dose; 30 to 60 minutes: common practice, no source"},
}

// Rules lists every rule with its source, in a fixed order.
func Rules() []RuleText { return append([]RuleText(nil), ruleTexts...) }

// meetings are the words of Together.
var meetings = map[Meeting]string{
	Unknown:         "nothing is known of %s and %s in one lumen: never at the same time, and a flush between them",
	Apart:           "%s and %s never run at the same time in one lumen, and a flush stands between them",
	Separate:        "%s and %s never run through one lumen",
	Contraindicated: "%s and %s are not given to this patient, at no time and through no lumen",
}

// Says is the rule in words.
func (r Rule) Says() string {
	text := meetings[r.Meeting]
	for _, t := range ruleTexts {
		if t.Kind == r.Kind && t.Kind != Together {
			text = t.Asks
		}
	}
	parts := strings.Split(text, "%s")
	var b strings.Builder
	for i, part := range parts {
		b.WriteString(part)
		if i < len(r.Of) && i < len(parts)-1 {
			b.WriteString(r.Of[i])
		}
	}
	return b.String()
}
