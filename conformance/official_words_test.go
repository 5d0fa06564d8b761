package conformance_test

import (
	"encoding/json"
	"fmt"
	"math/big"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/sig"
)

// Where the words of an official order say something else than its coded
// fields, among dose, pace, infusion time, rate and length of the course. The
// readings are the reader's; the comparison is written here anew and uses no
// rule of the program, so that orders that are no infusion are compared too.
var officialWords = map[string][]string{
	"medrx0302": {"pace: 1 a day in words, 4 coded"}, // one tablet daily for 4 days, coded four a day
	"medrx0303": {"course: 7 d in words, 5 d coded", "course: 7 d in words, 8 d coded"},
	"medrx0309": {"pace: 2 a day in words, 1/2 coded"},
	"medrx0317": { // the words of the whole escalation stand beside each of its three steps; the course stands in the infusion time
		"least dose: 30 mg in words, 3 mg coded", "largest dose: 30 mg in words, 3 mg coded",
		"least dose: 30 mg in words, 10 mg coded", "largest dose: 30 mg in words, 10 mg coded",
		"duration: 120 min in words, 12 wk coded", "duration: 120 min in words, 12 wk coded", "duration: 120 min in words, 12 wk coded",
		"pace: 1/2 a day in words, 3/7 coded", "pace: 1/2 a day in words, 3/7 coded", "pace: 1/2 a day in words, 3/7 coded",
	},
	"medrx0319": {"rate: 8 L/min in words, 50 ml/hr coded"},
	"medrx0326": {"least dose: 2 {spray} in words, 1 ea coded", "largest dose: 2 {spray} in words, 1 ea coded"},
	"medrx0333": {"largest dose: 1 {tablet} in words, 2 TAB coded"},
}

// codedDosage is what of a dosageInstruction is compared.
type codedDosage struct {
	Text   string
	Timing struct {
		Repeat struct {
			Frequency, Period, PeriodMax, Duration json.Number
			PeriodUnit, DurationUnit               string
			BoundsPeriod                           struct{ Start, End string }
		}
	}
	DoseAndRate []struct {
		DoseQuantity, RateQuantity codedQuantity
		DoseRange                  struct{ Low, High codedQuantity }
		RateRatio                  struct{ Numerator, Denominator codedQuantity }
	}
}

type codedQuantity struct {
	Value      json.Number
	Unit, Code string
}

func (q codedQuantity) unit() string {
	if q.Code != "" {
		return q.Code
	}
	return q.Unit
}

func ratio(s string) *big.Rat {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return nil
	}
	return r
}

// inUnit converts a number of the words to the coded unit; nil when the two
// are of different kinds. Counts are compared as numbers.
func inUnit(value, unit, coded string) *big.Rat {
	v := ratio(value)
	coded = strings.NewReplacer("hr", "h", "mEq", "meq", "mcg", "ug").Replace(coded)
	if coded == "U" { // units of insulin: in UCUM the enzyme's unit
		coded = "[USP'U]"
	}
	a, err1 := quantity.ParseUnit(unit)
	b, err2 := quantity.ParseUnit(coded)
	counted := strings.HasPrefix(unit, "{")
	switch {
	case v == nil || counted && err2 == nil && coded != "1" && !strings.HasPrefix(coded, "{"):
		return nil
	case counted:
		return v
	case err1 != nil || err2 != nil:
		return nil // 0.25 mg and one tablet
	case a.Dimension() != b.Dimension():
		return nil
	}
	n, err := quantity.ParseNumber(value)
	if err != nil {
		return nil
	}
	in, err := quantity.Point(n, a).In(b)
	if err != nil {
		return nil
	}
	return ratio(in.Low.Decimal())
}

var daysOf = map[string]string{"s": "1/86400", "min": "1/1440", "h": "1/24", "d": "1", "wk": "7", "mo": "30"}

func days(n *big.Rat, unit string) *big.Rat { return new(big.Rat).Mul(n, ratio(daysOf[unit])) }

// perDay is how often a day the words say.
func perDay(x order.Reading) *big.Rat {
	value := x.Value
	if x.Low != "" {
		value = x.Low
	}
	switch n := ratio(value); {
	case n == nil || x.Role != "":
	case x.Field == "interval":
		return new(big.Rat).Inv(days(n, x.Unit))
	case x.Field == "dosesPerDay":
		return n
	case x.Field == "frequency" && x.Unit == "/wk":
		return new(big.Rat).Quo(n, ratio("7"))
	}
	return nil
}

func contrast(what, words, coded string) string {
	return fmt.Sprintf("%s: %s in words, %s coded", what, words, coded)
}

func (c codedDosage) differences() (compared int, out []string) {
	differ := func(what, words, coded string, a, b *big.Rat) {
		if a == nil || b == nil {
			return
		}
		compared++
		if a.Cmp(b) != 0 {
			out = append(out, contrast(what, words, coded))
		}
	}
	repeat := c.Timing.Repeat
	for _, x := range sig.Read(order.Line{Words: c.Text, Kind: "dosage-text"}) {
		if x.Role != "" {
			continue
		}
		said := strings.TrimSpace(x.Value + " " + x.Unit)
		if a := perDay(x); a != nil && repeat.Frequency != "" && repeat.Period != "" {
			coded := new(big.Rat).Quo(ratio(repeat.Frequency.String()), days(ratio(repeat.Period.String()), repeat.PeriodUnit))
			differ("pace", a.RatString()+" a day", coded.RatString(), a, coded)
			if x.Low != "" {
				differ("longest interval", x.High+" "+x.Unit, repeat.PeriodMax.String(), ratio(x.High), ratio(repeat.PeriodMax.String()))
			}
		}
		if x.Field == "duration" && repeat.Duration != "" && x.Low == "" {
			differ("duration", said, repeat.Duration.String()+" "+repeat.DurationUnit, days(ratio(x.Value), x.Unit), days(ratio(repeat.Duration.String()), repeat.DurationUnit))
		}
		if from, err := time.Parse(time.DateOnly, repeat.BoundsPeriod.Start); err == nil && x.Field == "courseLength" {
			to, _ := time.Parse(time.DateOnly, repeat.BoundsPeriod.End)
			coded := big.NewRat(int64(to.Sub(from).Hours())/24+1, 1) // both days are taken
			differ("course", said, coded.RatString()+" d", days(ratio(x.Value), x.Unit), coded)
		}
		for _, d := range c.DoseAndRate {
			switch {
			case strings.HasPrefix(x.Field, "dose") && x.Field != "dosesPerDay" && x.Field != "doseCount":
				low, high := d.DoseRange.Low, d.DoseRange.High
				if low.Value == "" {
					low, high = d.DoseQuantity, d.DoseQuantity
				}
				first, last := x.Low, x.High
				if first == "" {
					first, last = x.Value, x.Value
				}
				differ("least dose", first+" "+x.Unit, low.Value.String()+" "+low.unit(), inUnit(first, x.Unit, low.unit()), ratio(low.Value.String()))
				differ("largest dose", last+" "+x.Unit, high.Value.String()+" "+high.unit(), inUnit(last, x.Unit, high.unit()), ratio(high.Value.String()))
			case x.Field == "rate" || strings.HasPrefix(x.Field, "drugRate"):
				coded, value := d.RateQuantity.unit(), d.RateQuantity.Value.String()
				if r := d.RateRatio; r.Denominator.Value == "1" {
					coded, value = r.Numerator.unit()+"/"+r.Denominator.unit(), r.Numerator.Value.String()
				}
				differ("rate", said, value+" "+coded, inUnit(x.Value, x.Unit, coded), ratio(value))
			}
		}
	}
	return compared, out
}

func TestWordsOfOfficialOrdersAgreeWithTheirCodesOrAreNamed(t *testing.T) {
	documents := officialByName(t)
	compared := 0
	for name, document := range documents {
		t.Run(name, func(t *testing.T) {
			var o struct{ DosageInstruction []codedDosage }
			require.NoError(t, json.Unmarshal([]byte(document), &o))
			require.NotEmpty(t, o.DosageInstruction)
			var all []string
			for _, d := range o.DosageInstruction {
				n, differing := d.differences()
				compared += n
				all = append(all, differing...)
			}
			assert.ElementsMatch(t, officialWords[name], all)
		})
	}
	t.Logf("%d numbers of words set beside a code", compared)
	assert.GreaterOrEqual(t, compared, 80)
}
