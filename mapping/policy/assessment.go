package policy

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
)

// Assessment is the site's assessment of risk for one hazardous drug. It
// holds for 12 months.
type Assessment struct {
	Drug           string // exact generic name, lower case
	ClosedTransfer string `yaml:"closedTransfer"` // required by-policy no; empty: not decided
	Listed         string // yes or no: only for a drug the list has not assessed
	Edition        string // of the list that was read
	Handling       string // how it is handled here: printed beside the listing
	Reason         string
	By, Role, On   string // on is a date, 2026-11-26
}

// Validity says whether an assessment may be used on a day.
type Validity string

// The validities of an assessment.
const (
	NoAssessment Validity = "none"
	Current      Validity = "current"
	Expired      Validity = "expired" // reviewed last 12 months ago or more
	Future       Validity = "future"  // dated later than the day asked
)

// Assessment is the site's assessment of risk for a drug by its exact name,
// and whether it is in force on the day of now, by the calendar of its zone.
// It holds on the day it was made and ends 12 months later: on 2027-09-01
// one of 2026-09-01 has expired (USP <800> asks for a review every 12
// months).
func (p *Policy) Assessment(drug string, now time.Time) (Assessment, Validity) {
	i := slices.IndexFunc(p.Hazard.Assessments, func(a Assessment) bool { return a.Drug == drug })
	if i < 0 || drug == "" {
		return Assessment{}, NoAssessment
	}
	a := p.Hazard.Assessments[i]
	on, err := time.Parse(time.DateOnly, a.On)
	today := now.Format(time.DateOnly) // as text, days sort as they do in time
	switch {
	case err != nil || today < a.On:
		return a, Future
	case today >= on.AddDate(1, 0, 0).Format(time.DateOnly):
		return a, Expired
	}
	return a, Current
}

// strictness of closed transfer, the larger the stricter.
var strictness = map[string]int{"no": 0, "by-policy": 1, "required": 2}

// Relax says whether an assessment in force may change the listing of a drug
// as it wants to, and why. It may always ask for more. It may ask for less
// only where USP <800> leaves that to an assessment of risk: drugs of Table
// 2, and those of Table 1 that are no antineoplastics, which it does not
// force; an antineoplastic of Table 1 is manipulated when it is infused. A
// drug that nobody assessed becomes "not listed" only by an assessment that
// says so, with the list that was read and who read it.
func Relax(l compendium.Listing, a Assessment) (allowed bool, why string) {
	if l.Listed == "unassessed" {
		switch {
		case a.Listed == "no" && (a.Edition == "" || a.By == ""):
			return false, "not listed in which edition, and by whom, is not said"
		case a.Listed == "no":
			return true, "not listed in " + a.Edition + ", read by " + a.By
		case a.Listed == "yes" || a.ClosedTransfer == "required":
			return true, "asks for more"
		}
		return false, "nobody assessed the drug, and the assessment does not say that it is not listed"
	}
	switch {
	case a.ClosedTransfer == "" || strictness[a.ClosedTransfer] >= strictness[l.ClosedTransfer]:
		return true, "asks for no less"
	case l.Table == "2":
		return true, "Table 2: an assessment of risk decides (USP <800>)"
	case l.Table == "1" && l.Antineoplastic == "no":
		return true, "Table 1 and no antineoplastic: not forced by USP <800>"
	case l.Table == "1":
		return false, "an antineoplastic of Table 1 that is infused (USP <800>)"
	}
	return false, "the table of the drug is not known"
}

// Assess applies the site's assessment of risk to the listing of a drug, as
// Relax allows. One that has expired, or is not yet in force, only tightens.
// What it says of handling stands beside the listing from its day on.
func (p *Policy) Assess(drug string, l compendium.Listing, now time.Time) compendium.Listing {
	a, validity := p.Assessment(drug, now)
	if validity == NoAssessment {
		return l
	}
	l = a.apply(l, validity)
	if a.Handling != "" && validity != Future {
		l.Says = strings.TrimPrefix(l.Says+"; handled here: "+a.Handling, "; ")
	}
	return l
}

func (a Assessment) apply(l compendium.Listing, validity Validity) compendium.Listing {
	said := "this site's assessment by " + a.By + " of " + a.On
	says := func(text string) {
		if l.Says != "" {
			text = l.Says + "; " + text
		}
		l.Says = text
	}
	allowed, why := Relax(l, a)
	stays := func() {
		switch {
		case !allowed:
			says(said + " may not relax closed transfer for this drug: " + why)
		case validity == Expired:
			says(said + " has lapsed after 12 months and relaxes nothing")
		default:
			says(said + " is not yet in force and relaxes nothing")
		}
	}
	if l.Listed == "unassessed" {
		switch {
		case a.Listed == "yes":
			l.Listed, l.ClosedTransfer, l.Edition = "yes", "by-policy", a.Edition
			says("listed by " + said)
		case a.Listed == "no" && allowed && validity == Current:
			l.Listed, l.ClosedTransfer, l.Antineoplastic, l.Edition = "no", "no", "no", a.Edition
			l.Standing, l.Source, l.Says = compendium.LocalStanding, a.Reason, "not listed: "+said
		case a.Listed == "no":
			stays()
		case a.ClosedTransfer == "required":
			l.ClosedTransfer = a.ClosedTransfer
			says("closed transfer by " + said)
		}
		if l.Listed == "unassessed" {
			return l
		}
		allowed, why = Relax(l, a)
	}
	switch have, want := strictness[l.ClosedTransfer], strictness[a.ClosedTransfer]; {
	case a.ClosedTransfer == "" || want == have:
	case want > have:
		l.ClosedTransfer = a.ClosedTransfer
		says("closed transfer by " + said)
	case !allowed || validity != Current:
		stays()
	default:
		l.ClosedTransfer = a.ClosedTransfer
		says("closed transfer relaxed by " + said)
	}
	return l
}
