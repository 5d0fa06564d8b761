package computation

import (
	"strings"
	"testing"
)

// Whatever is typed is answered or refused; nothing brings the program down,
// and what is given is never lost.
func FuzzCompute(f *testing.F) {
	for _, s := range []string{
		"volume=250mL duration=90min dose=1250mg", "dose=4390mg volume=92mL duration=46h rate=47.7mL/h", "height=175cm weight=70kg age=50a sex=male serumCreatinine=1mg/dL",
		"step=10mL/h@30min step=20mL/h volume=100mL", "dose=15meq molarMass=74.5g/mol valence=1 vialStrength=2mg/mL", "basal=2mg/h demand=2mg lockout=6min window=4h concentration=1mg/mL",
		"start=2015-01-16 end=2015-01-18", "weight=22[lb_av] poundsPerKilogram=2.2[lb_av]/kg", "volume=2000mL cycle=12h rampUp=1h rampDown=13h", "dose=0mg", "rate=1e20mL/h volume=1e-20mL",
		"dose=1[iU] concentration=1mg/mL", "roundTo=100mg dose=733mg dosesPerDay=3/d", "volume=1mL volume=2mL volume=3mL", "zone=Nowhere start=2026-01-01T00:00:00Z duration=99999999999h",
		strings.Repeat("rate", 50000) + "=1mL/h",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, line string) {
		arguments := strings.Fields(line)
		if len(arguments) > 12 {
			return
		}
		given, err := Parse(arguments)
		if err != nil {
			return
		}
		a, err := Compute(Request{Given: given})
		if err != nil {
			return
		}
		for _, g := range given {
			_, number := a.Quantities[g.Name]
			_, word := a.Words[g.Name]
			if !number && !word && g.Step == nil {
				t.Fatalf("%s was given and is not in the answer", g.Name)
			}
		}
		b, _ := Compute(Request{Given: given})
		if len(a.Conflicts) != len(b.Conflicts) || len(a.Quantities) != len(b.Quantities) {
			t.Fatal("the same numbers gave two answers")
		}
	})
}
