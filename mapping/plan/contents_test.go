package plan_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
)

// part is an active ingredient: its name, milligrams and the millilitres they
// are in; "" is not on record.
func part(name, mg, ml string) order.Ingredient {
	yes := true
	i := order.Ingredient{Active: &yes, Concept: order.Concept{Text: name}}
	if mg != "" {
		i.Strength = &order.Strength{Numerator: every(mg, "mg")}
		if ml != "" {
			i.Strength.Denominator = every(ml, "mL")
		}
	}
	return i
}

// A lot with one ingredient more or less than the order, or another amount of
// one of them, serves no dose; what is not on record is said.
func TestAMixtureIsComparedIngredientByIngredient(t *testing.T) {
	unsaid := func(i order.Ingredient) order.Ingredient { i.Active = nil; return i }
	fluid := order.Ingredient{Concept: order.Concept{Text: "sodium chloride 0.9 % injection"}}
	type list []order.Ingredient
	a, ab := list{part("examplemycin", "1000", "100")}, list{part("examplemycin", "1000", "100"), part("samplebactam", "500", "100")}
	abc := append(append(list{}, ab...), part("thirdine", "10", "100"))
	const serves, not, asked = "serves", "not", "asked"
	for _, c := range []struct {
		says          string
		ordered, made list
		want, because string
	}{
		{"one and the same", a, a, serves, ""},
		{"with its fluid", a, append(list{fluid}, a...), serves, ""},
		{"two ingredients for an order of one", a, ab, not, "also holds samplebactam"},
		{"the second without a strength", a, list{a[0], part("samplebactam", "", "")}, not, "also holds samplebactam"},
		{"the second first", a, list{ab[1], ab[0]}, not, "also holds samplebactam"},
		{"three for one", a, abc, not, "also holds samplebactam"},
		{"a second that may be no active one", a, list{a[0], unsaid(part("buffer", "", ""))}, asked, "whether buffer in it is an active ingredient"},
		{"a second without a name", a, list{a[0], part("", "5", "100")}, asked, "what one of its ingredients is"},
		{"one for two", ab, a, not, "does not hold samplebactam"},
		{"two and the same", ab, ab, serves, ""},
		{"the other way round", ab, list{ab[1], ab[0]}, serves, ""},
		{"another amount of the second", ab, list{ab[0], part("samplebactam", "250", "100")}, not, "holds 250 mg of samplebactam in each unit, not 500 mg"},
		{"5 % more of the second", ab, list{ab[0], part("samplebactam", "525", "100")}, serves, ""},
		{"more than 5 %", ab, list{ab[0], part("samplebactam", "525.1", "100")}, not, "holds 525.1 mg of samplebactam"},
		{"the same amounts in half the volume", ab, list{part("examplemycin", "1000", "50"), part("samplebactam", "500", "50")}, not, "in another strength per volume"},
		{"the amount of the second not on record", ab, list{ab[0], part("samplebactam", "", "")}, asked, "how much samplebactam it holds"},
		{"the amount of the second not ordered", list{ab[0], part("samplebactam", "", "")}, ab, asked, "how much samplebactam it holds"},
		{"three and the same", abc, abc, serves, ""},
		{"two for three", abc, ab, not, "does not hold thirdine"},
		{"another third", abc, list{abc[0], abc[1], part("fourthine", "10", "100")}, not, "also holds fourthine"},
		{"another amount of the third", abc, list{abc[0], abc[1], part("thirdine", "20", "100")}, not, "holds 20 mg of thirdine"},
	} {
		o, k := once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-01-17T12:00:00-05:00", "2027-01-10T12:00:00-05:00", "refrigerated", "2027-01-19T12:00:00-05:00", 6)
		o.Drug.Ingredients = c.ordered
		k.Orders[0] = o
		k.Held.Prepared[0].Drug.Ingredients = c.made
		p := plan.Draft(o, nil, k, rules(), zone(t, "America/New_York"), instant(t, "2027-01-10T13:00:00-05:00"))
		p.Basis.Unit = unit("examplemycin", "1000")
		require.Len(t, p.Prepared, 1)
		assert.Equal(t, c.want != not, len(p.Prepared[0].Doses) == 6, c.says)
		assert.Contains(t, strings.Join(p.Unknown, "\n")+"\n"+strings.Join(p.Says, "\n"), c.because, c.says)
		if c.want == serves {
			assert.NotContains(t, strings.Join(append(p.Unknown, p.Says...), "\n"), "lot X", c.says)
		}
		change, _ := p.Batches()[0].Unit.Compare(p.Basis.Unit)
		assert.Equal(t, map[string]plan.Change{serves: plan.Same, not: plan.Remake, asked: plan.Unread}[c.want], change, "as a record: %s", c.says)
	}
}

// A lot that the draft found to be wrong does not come back as the right one.
func TestAWrongLotIsNoRecordOfTheRightUnit(t *testing.T) {
	o, k := once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-01-17T12:00:00-05:00", "2027-01-10T12:00:00-05:00", "refrigerated", "2027-01-19T12:00:00-05:00", 6)
	k.Held.Prepared[0].Drug = order.Drug{Name: "othermycin", Concept: order.Concept{Text: "othermycin 1000 mg bag"}, Ingredients: []order.Ingredient{part("othermycin", "1000", "100")}}
	p := plan.Draft(o, nil, k, rules(), zone(t, "America/New_York"), instant(t, "2027-01-10T13:00:00-05:00"))
	p.Basis = plan.Basis{Now: instant(t, "2027-01-10T13:00:00-05:00"), Order: "placer|X", Unit: unit("examplemycin", "1000")}
	_, moves := settled(t, p, p.Batches(), p)
	require.Len(t, only(moves, plan.Waste), 1)
	assert.Equal(t, []any{plan.WrongDrug, 6}, []any{only(moves, plan.Waste)[0].Reason, only(moves, plan.Waste)[0].Units})
}
