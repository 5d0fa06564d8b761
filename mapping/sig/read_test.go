package sig_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/sig"
)

func line(words string) order.Line {
	return order.Line{Words: words, Kind: "dosage-text", Place: finding.Place{Expression: "MedicationRequest.dosageInstruction[0].text"}}
}

// said writes readings compactly: "dose=2 g; interval=8 h".
func said(words string) string {
	var out []string
	for _, r := range sig.Read(line(words)) {
		v := r.Value
		if r.Low != "" {
			v = r.Low + "-" + r.High
		}
		s := r.Field + "=" + v
		if r.Unit != "" {
			s += " " + r.Unit
		}
		if r.Role != "" {
			s += " (" + r.Role + ")"
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}

// Directions in the styles of the trade, with readings written by hand.
func TestDirections(t *testing.T) {
	for _, x := range []struct{ words, want string }{
		{"Cefazolin 2 g IV every 8 hours over 30 min, use 100 mL elastomeric 50 mL/h, through 15 December 2026",
			"dose=2 g; route=intravenous; interval=8 h; duration=30 min; volume=100 mL (device); device=elastomeric; nominalRate=50 mL/h (device); end=2026-12-15"},
		{"Fluorouracil 2,400 mg/m2 (4,390 mg) IV continuous over 46 h, 95.4 mg/h, elastomeric device, start Saturday 31 October 11:00",
			"dosePerArea=2400 mg/m2; dose=4390 mg; route=intravenous; duration=46 h; drugRate=95.4 mg/h; device=elastomeric; start=Saturday 31 October 11:00 (words)"},
		{"vancomycin 1.25 g IV q12h over 90 min in 250 mL NS", "dose=1.25 g; route=intravenous; interval=12 h; duration=90 min; volume=250 mL (in); diluent=NS"},
		{"run at 167 mL/hr", "rate=167 mL/h"},
		{"ceftriaxone 2 g IV daily x 6 wks", "dose=2 g; route=intravenous; interval=1 d; courseLength=6 wk"},
		{"milrinone 0.375 mcg/kg/min continuous infusion", "drugRatePerKg=0.375 ug/kg/min"},
		{"made up to 92 mL with sodium chloride 0.9 %", "volume=92 mL (to)"},
		{"75 mg/kg IV q24h", "dosePerKg=75 mg/kg; route=intravenous; interval=24 h"},
		{"meropenem 1 g IV three times daily", "dose=1 g; route=intravenous; dosesPerDay=3 /d"},
		{"ampicillin 12 g/day continuous infusion", "dailyDose=12 g/d"},
		{"not to exceed 4 g per day", "maximum=4 g/d (maximum)"},
		{"gentamicin 5 mg/kg IV every other day", "dosePerKg=5 mg/kg; route=intravenous; interval=2 d"},
		{"penicillin 24 million units over 24 hours", "dose=24 10*6.[USP'U]; duration=24 h"},
		{"heparin 100 units/mL 5 mL", "concentration=100 [USP'U]/mL; volume=5 mL"},
		{"1,000 mL over 4 hours by gravity", "volume=1000 mL; duration=4 h; device=gravity"},
		{"over 30-60 minutes", "duration=30-60 min"},
		{"25 mL/h for 30 min then 50 mL/h", "step=25 mL/h (rate); step=30 min (duration); step=50 mL/h (rate)"},
		{"wt 70 kg", "dosingWeight=70 kg"},
		{"until 12/15/2026", "end=2026-12-15"},
		{"through December 15, 2026", "end=2026-12-15"},
		{"BID PRN", "dosesPerDay=2 /d; as-needed=true"},
		{"syringe pump", "device=syringe-pump"},
		{"give 3", "=3 (unclear)"},
		{"", ""},
	} {
		assert.Equal(t, x.want, said(x.words), x.words)
	}
}

// Sizes of devices, maxima and steps are no statements about the infusion.
func TestOnlyNumbersOfTheInfusionAreStated(t *testing.T) {
	var names []string
	for _, s := range sig.Stated(sig.Read(line("2 g IV q8h over 30 min, use 100 mL elastomeric 50 mL/h, max 6 g per day"))) {
		assert.Equal(t, order.Text, s.Witness)
		names = append(names, s.Name)
	}
	assert.Equal(t, []string{"dose", "interval", "duration"}, names)
}

func TestPerKilogramIsPerBodyMass(t *testing.T) {
	s := sig.Stated(sig.Read(line("75 mg/kg IV q24h")))
	require.NotEmpty(t, s)
	assert.Equal(t, "mass per body mass", s[0].Quantity.Unit.Dimension().String())
}

func TestUnknownWordsAreListed(t *testing.T) {
	assert.Equal(t, []string{"frobnicate", "gently"}, sig.Unread(line("cefazolin 2 g IV frobnicate every 8 hours gently")))
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"2 g IV q8h", "1,25 mg", "½ g", "q q q h", "10 mL/h/h/h", "through 31 February 2026", "µg²", "\u202e2 g"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, words string) {
		runes := []rune(words)
		for _, r := range sig.Read(line(words)) {
			from, to := r.Place.Span[0], r.Place.Span[1]
			if from < 0 || to > len(runes) || from >= to {
				t.Fatalf("span %v outside the text", r.Place.Span)
			}
			if string(runes[from:to]) != r.Words {
				t.Fatalf("words %q are not at %v", r.Words, r.Place.Span)
			}
		}
		sig.Stated(sig.Read(line(words)))
		sig.Unread(line(words))
	})
}
