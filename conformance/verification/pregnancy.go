package verification

import (
	"time"

	"weir.example/weir/mapping/finding"
)

// Pregnancy is possible from 12 to 55 years where the record does not say
// male, and an answer counts for 28 days (common practice, no source).
const (
	pregnancyFrom, pregnancyTo = 12, 55
	pregnancyHolds             = 28 * 24 * time.Hour
)

// mayBePregnant: the drug is hazardous, or nobody has said that it is not,
// and pregnancy is possible. A gender that is not told excludes nothing.
func mayBePregnant(f Facts) bool {
	years := f.years()
	return f.hazard().Listed != "no" && f.kase().Patient.Gender != "male" && years >= pregnancyFrom && years <= pregnancyTo
}

// pregnancyMissing: row a3, no answer that still counts. "Pregnant" counts
// however old: to ask again is not what it needs.
func pregnancyMissing(f Facts) []finding.Finding {
	const asked = "pregnant or not, asked or tested in the last 28 days, before the first dose"
	p := f.kase().Pregnancy
	switch {
	case f.hazard().Listed != "yes", p.Status == "pregnant":
		return nil
	case p.Status == "":
		return here(f.kase().Patient.Place, "nothing says whether the patient is pregnant", asked)
	case p.Status != "not-pregnant":
		return here(p.Place, "pregnancy is recorded as unknown", asked)
	case p.At.Time.IsZero():
		return here(p.Place, "not pregnant, without a date", asked)
	case pregnancyHolds < f.now().Sub(p.At.Time):
		return here(p.Place, "not pregnant on "+p.At.Time.Format(time.DateOnly)+", more than 28 days ago", asked)
	}
	return nil
}

// pregnancyUnknown: nobody has assessed whether the drug is hazardous.
func pregnancyUnknown(f Facts) []Fact {
	if f.hazard().Listed != "yes" {
		return []Fact{Hazard}
	}
	return nil
}
