package arithmetic

import (
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// correct draws an order whose numbers agree exactly: dose and volume from
// what is ordered, time in whole minutes, the rest worked out.
func correct(t *rapid.T) []order.Stated {
	dose := quantity.Int(rapid.Int64Range(1, 40).Draw(t, "dose") * 50)
	volume := quantity.Int(rapid.SampledFrom([]int64{50, 100, 150, 250, 500, 1000}).Draw(t, "volume"))
	minutes := quantity.Int(rapid.SampledFrom([]int64{15, 20, 30, 45, 60, 90, 120, 180, 240, 720, 1440}).Draw(t, "minutes"))
	hours := quantity.Int(rapid.SampledFrom([]int64{6, 8, 12, 24}).Draw(t, "interval"))
	exact := func(name string, n quantity.Number, unit string) order.Stated {
		u := quantity.MustUnit(unit)
		want, _ := Dimension(name, quantity.Mass)
		u, _ = u.As(want)
		return order.Stated{Name: name, Quantity: quantity.Point(n, u), Literal: n.Significant(6), Witness: order.Coded, Place: finding.Place{Expression: name}}
	}
	rate := volume.Quo(minutes).Mul(quantity.Int(60))
	perDay := quantity.Int(24).Quo(hours)
	kg := quantity.Ratio(rapid.Int64Range(50, 1200).Draw(t, "weight"), 10)
	m2 := quantity.Ratio(rapid.Int64Range(30, 250).Draw(t, "area"), 100)
	days := quantity.Int(rapid.Int64Range(1, 42).Draw(t, "days"))
	sized := []order.Stated{
		exact("dosingWeight", kg, "kg"), exact("dosePerKg", dose.Quo(kg), "mg/kg"), exact("drugRatePerKg", dose.Quo(minutes).Mul(quantity.Int(60)).Quo(kg), "mg/kg/h"),
		exact("dailyDosePerKg", dose.Mul(perDay).Quo(kg), "mg/kg/d"), exact("bodySurfaceArea", m2, "m2"), exact("dosePerArea", dose.Quo(m2), "mg/m2"),
		exact("courseLength", days, "d"), exact("doseCount", days.Mul(perDay), "1"), exact("dosesPerDay", perDay, "/d"),
	}
	return append(rapid.Permutation(sized).Draw(t, "sized")[:rapid.IntRange(0, len(sized)).Draw(t, "how many")], []order.Stated{
		exact("dose", dose, "mg"), exact("volume", volume, "mL"), exact("duration", minutes, "min"), exact("interval", hours, "h"),
		exact("rate", rate, "mL/h"), exact("concentration", dose.Quo(volume), "mg/mL"), exact("dailyDose", dose.Mul(perDay), "mg/d"),
		exact("drugRate", dose.Quo(minutes).Mul(quantity.Int(60)), "mg/h"),
	}...)
}

func TestAnOrderThatAgreesSaysNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Reconcile(correct(t), Usual{})
		assert.Empty(t, a.Conflicts)
		assert.Greater(t, a.Relations, 5)
	})
}

// slipped is a correct order with one number ten times too large.
func slipped(t *rapid.T) (list []order.Stated, wrong string) {
	list = correct(t)
	names := []string{"dose", "volume", "duration", "rate", "concentration", "dailyDose", "drugRate"}
	wrong = rapid.SampledFrom(names).Draw(t, "wrong")
	for i, s := range list {
		if s.Name == wrong {
			n := s.Quantity.Low.Mul(quantity.Int(10))
			list[i].Quantity, list[i].Literal = quantity.Point(n, s.Quantity.Unit), n.Significant(6)
		}
	}
	return list, wrong
}

func TestATenfoldSlipIsAlwaysFoundAndItsCulpritListed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list, wrong := slipped(t)
		a := Reconcile(list, Usual{})
		if !assert.Len(t, a.Conflicts, 1) {
			return
		}
		listed := slices.ContainsFunc(a.Conflicts[0].Culprits, func(k finding.Culprit) bool { return k.Name == wrong })
		assert.True(t, listed, "%s is not among %+v", wrong, a.Conflicts[0].Culprits)
	})
}

func TestTheOrderOfStatementsNeverMatters(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list, _ := slipped(t)
		shuffled := rapid.Permutation(list).Draw(t, "shuffled")
		a, b := Reconcile(list, Usual{}), Reconcile(shuffled, Usual{})
		assert.Equal(t, a.Conflicts, b.Conflicts)
		assert.Equal(t, a.Unchecked, b.Unchecked)
	})
}

func TestWithdrawingTheNamedCulpritRestoresAgreement(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list, _ := slipped(t)
		a := Reconcile(list, Usual{})
		if len(a.Conflicts) == 0 || len(a.Conflicts[0].Culprits) == 0 || !a.Conflicts[0].Culprits[0].Named {
			t.Skip("nobody is named")
		}
		name := a.Conflicts[0].Culprits[0].Name
		rest := slices.DeleteFunc(list, func(s order.Stated) bool { return s.Name == name })
		assert.Empty(t, Reconcile(rest, Usual{}).Conflicts)
	})
}

func TestAConsistentCopyNeverMakesAFinding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := correct(t)
		for _, s := range slices.Clone(list[:4]) {
			s.Witness, s.Place.Expression = order.Text, "text:"+s.Name
			list = append(list, s)
		}
		a := Reconcile(list, Usual{})
		assert.Empty(t, a.Conflicts)
		assert.Empty(t, a.Differing)
	})
}

// What follows from an order, stated as well, is one more witness and never a
// disagreement.
func TestAConsistentExtraValueNeverMakesAFinding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.Permutation(correct(t)).Draw(t, "order")
		list = list[:rapid.IntRange(2, len(list)).Draw(t, "stated")]
		a := Reconcile(list, Usual{})
		assert.Empty(t, a.Conflicts)
		for _, name := range slices.Sorted(maps.Keys(a.Quantities)) {
			q := a.Quantities[name]
			if q.Stated {
				continue
			}
			extra := order.Stated{Name: name, Quantity: quantity.Point(q.Value, q.Unit), Literal: q.Value.Significant(6), Witness: order.Text,
				Place: finding.Place{Expression: "extra:" + name}}
			b := Reconcile(append(slices.Clone(list), extra), Usual{})
			assert.Empty(t, b.Conflicts, "%s %s", name, extra.Literal)
		}
	})
}

// The digits written carry the precision, so the same number in another unit
// is written with the same digits.
func TestChangingUnitsNeverChangesTheVerdict(t *testing.T) {
	other := map[string]string{"mg": "g", "mL": "L", "mL/h": "L/h", "mg/mL": "g/L", "mg/h": "g/h", "mg/d": "g/d"}
	rapid.Check(t, func(t *rapid.T) {
		list, _ := slipped(t)
		if rapid.Bool().Draw(t, "correct") {
			list = correct(t)
		}
		changed := slices.Clone(list)
		for i, s := range changed {
			if code, ok := other[s.Quantity.Unit.Code()]; ok {
				q, err := s.Quantity.In(quantity.MustUnit(code))
				if err != nil {
					t.Fatal(err)
				}
				changed[i].Quantity, changed[i].Literal = q, q.Low.Decimal()
			}
		}
		a, b := Reconcile(list, Usual{}), Reconcile(changed, Usual{})
		assert.Equal(t, len(a.Conflicts), len(b.Conflicts))
		if len(a.Conflicts) == 1 && len(b.Conflicts) == 1 {
			assert.Equal(t, a.Conflicts[0].Kind, b.Conflicts[0].Kind)
			assert.Equal(t, len(a.Conflicts[0].Culprits), len(b.Conflicts[0].Culprits))
		}
	})
}

func BenchmarkReconcile(b *testing.B) {
	for name, list := range map[string][]order.Stated{"consistent": fluorouracil("2"), "inconsistent": fluorouracil("47.7")} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Reconcile(list, Usual{})
			}
		})
	}
}
