package verification

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// mayBePregnant: the drug is hazardous, or nobody has said that it is not,
// and pregnancy is possible. A gender that is not told excludes nothing; that the
// uterus was removed does.
func mayBePregnant(f Facts) bool {
	years := f.years()
	return f.hazard().Listed != "no" && f.kase().Patient.Gender != "male" && !withoutUterus(f) && years >= f.policy().Records.PregnancyFrom && years <= f.policy().Records.PregnancyTo
}

// uterusRemoved are ICD-10-CM and SNOMED CT codes of it (from memory).
var uterusRemoved = []string{"Z90.710", "Z90.711", "161800001"}

// unsettled are words that make an operation a plan or a question.
var unsettled = []string{"no", "not", "planned", "plan", "scheduled", "declined", "declines", "refused", "considering", "discussed", "possible", "pending", "mother", "sister", "family", "candidate", "for", "awaiting"}

// withoutUterus: a problem on record says that the uterus was removed.
func withoutUterus(f Facts) bool {
	return slices.ContainsFunc(f.kase().Conditions, func(c order.Concept) bool {
		if slices.ContainsFunc(c.Codings, func(k order.Coding) bool { return slices.Contains(uterusRemoved, k.Code) }) {
			return true
		}
		w := wordsOf(strings.ToLower(c.Name()))
		return slices.Contains(w, "hysterectomy") && !slices.ContainsFunc(w, func(x string) bool { return slices.Contains(unsettled, x) })
	})
}

// pregnancyMissing: row a3, no answer that still counts. "Pregnant" counts
// however old: to ask again is not what it needs.
func pregnancyMissing(f Facts) []finding.Finding {
	days := f.policy().Records.PregnancyDays
	asked := fmt.Sprintf("pregnant or not, asked or tested in the last %d days, before the first dose", days)
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
	case time.Duration(days)*24*time.Hour < f.now().Sub(p.At.Time):
		return here(p.Place, "not pregnant on "+p.At.Time.Format(time.DateOnly)+fmt.Sprintf(", more than %d days ago", days), asked)
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
