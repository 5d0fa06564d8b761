package conformance

import (
	"fmt"
	"strings"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/worksheet"
)

// summary is what a pharmacist looks at before anything else: the order in
// one line, the body, allergies, the line, the kidneys. What is not on record
// says so.
func (s *state) summary() []worksheet.Line {
	return []worksheet.Line{
		{Label: "ordered", Text: s.orderLine()},
		{Label: "weight", Text: s.measured(s.body.Weight, "no weight on record")},
		{Label: "allergies", Text: s.allergies()},
		{Label: "access", Text: s.accessLine()},
		{Label: "kidneys", Text: s.kidneys()},
	}
}

func (s *state) orderLine() string {
	var parts []string
	facts := s.facts()
	say := func(before, name string) {
		q, ok := s.numbers[name]
		if !ok {
			return
		}
		amount := notation.About(q.Value, q.Unit, 4)
		if least, most := verification.Permitted(facts, name); least.Less(most) && (q.Stated || name == "dailyDose") { // the middle of a range is what nobody ordered
			amount = notation.About(least, q.Unit, 4) + " to " + notation.About(most, q.Unit, 4)
		}
		text := strings.TrimSpace(before + " " + amount)
		if q.Disputed {
			text += " (disputed)"
		}
		parts = append(parts, text)
	}
	say("", "dose")
	say("in", "volume")
	say("over", "duration")
	say("at", "rate")
	say("every", "interval")
	say("", "dailyDose")
	if len(parts) == 0 {
		return "no number that can be read"
	}
	return strings.Join(parts, ", ")
}

func (s *state) measured(m order.Measurement, none string) string {
	if m.Quantity.Absent() {
		return none
	}
	return notation.Code(m.Quantity.Low.Decimal(), m.Quantity.Unit.Code()) + " on " + notation.Date(m.At.Time)
}

func (s *state) allergies() string {
	var parts []string
	for _, a := range s.kase.Allergies {
		switch {
		case a.NoneKnown:
			parts = append(parts, "none known, on record")
		case a.Active:
			parts = append(parts, a.Substance.Name())
		}
	}
	if len(parts) == 0 {
		return "nothing on record: that is not none"
	}
	return strings.Join(parts, "; ")
}

func (s *state) accessLine() string {
	var parts []string
	for _, a := range s.kase.Access {
		if a.Kind == "" || !a.Removed.Absent() {
			continue
		}
		text := a.Kind
		if a.Lumens > 0 {
			text = fmt.Sprintf("%s, lumens: %d", text, a.Lumens)
		}
		if !a.Placed.Absent() {
			text += ", placed " + notation.Date(a.Placed.Time)
		}
		if a.TipConfirmed {
			text += ", tip confirmed"
		} else {
			text += ", tip not confirmed"
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return "no line on record"
	}
	return strings.Join(parts, "; ")
}

func (s *state) kidneys() string {
	text := s.measured(s.body.Creatinine, "no creatinine on record")
	if q, ok := s.numbers["creatinineClearance"]; ok {
		text = "clearance " + notation.About(q.Value, q.Unit, 3) + "; creatinine " + text
	}
	if verification.OnDialysis(s.kase) {
		text = "on dialysis: no clearance holds that is worked out from creatinine; creatinine " + text
	}
	return text
}
