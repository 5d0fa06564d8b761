package compendium

import (
	"strings"
	"unicode"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// Words is the number or range as a pharmacist reads it: "2 g", "15 to 20 mg
// per kg", "at least 30 minutes". Micrograms stand in full, as on a patient's
// sheet: these words are read once, before a signature. Every number that is
// set is said, also where a row sets more than it should; "" for none.
func (b Band) Words() string {
	var out []string
	if b.Value != "" {
		out = append(out, measure(b.Value.String(), b.Unit))
	}
	switch {
	case b.Low != "" && b.High != "":
		out = append(out, digits(b.Low.String())+" to "+measure(b.High.String(), b.Unit))
	case b.Low != "":
		out = append(out, "at least "+measure(b.Low.String(), b.Unit))
	case b.High != "":
		out = append(out, "at most "+measure(b.High.String(), b.Unit))
	}
	return strings.Join(out, ", ")
}

// digits is a number alone, measure one with its unit. What is no number is
// said as it stands.
func digits(n string) string { return notation.Patient(n, "") }

func measure(n, unit string) string {
	if unit == "um" { // pores of filters: the one length with no words of its own
		if v, err := quantity.ParseNumber(n); err == nil && v.Equal(quantity.Int(1)) {
			return digits(n) + " micrometre"
		}
		return digits(n) + " micrometres"
	}
	return notation.Patient(n, unit)
}

// memberWords are members whose words are not those of their name.
var memberWords = map[string]string{"RxNorm": "RxNorm", "Crcl": "clearance", "ID": "id", "A": "one side", "B": "other side", "Also": "also called",
	"NotThis": "never this", "AppliesTo": "only for", "Bands": "kidney band", "Other": "other value", "Others": "in words", "By": "whose number", "List": "list",
	"LabLimits": "laboratory limit", "Parts": "ingredient", "Mixture": "mixture", "Flags": "flag", "Companions": "goes with", "Strengths": "strength",
	"Values": "value of", "Says": "words", "UsualVolumes": "usual volumes", "Low": "low end", "High": "high end"}

// MemberName is a member of a row in words: "DailyDose" and "dailyDose" are
// "daily dose".
func MemberName(member string) string {
	if w, ok := memberWords[member]; ok {
		return w
	}
	var b strings.Builder
	r := []rune(member)
	for i, c := range r {
		apart := i > 0 && unicode.IsUpper(c) && (unicode.IsLower(r[i-1]) || i+1 < len(r) && unicode.IsLower(r[i+1])) || i > 0 && unicode.IsDigit(c) && !unicode.IsDigit(r[i-1])
		if apart {
			b.WriteByte(' ')
		}
		if word := i+1 < len(r) && unicode.IsUpper(r[i+1]) || i > 0 && unicode.IsUpper(r[i-1]) && !apart; !word {
			c = unicode.ToLower(c)
		}
		b.WriteRune(c)
	}
	return b.String()
}
