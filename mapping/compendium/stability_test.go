package compendium_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

func hours(n int64, layer string) *compendium.Lasting {
	return &compendium.Lasting{Hours: quantity.Int(n), Layer: layer, Fact: layer}
}

// The order: the category of sterility ends everything (USP <797>: stability
// data cannot lengthen it); a signed local formula before data for the same
// container and strength before the label. Longer than the label on a
// formula is a warning, without one a hold.
func TestDatingFollowsTheOrderOfItsAuthorities(t *testing.T) {
	category, formula, data, label := hours(240, compendium.ByCategory), hours(200, compendium.ByFormula), hours(150, compendium.ByData), hours(100, compendium.ByLabel)
	for _, c := range []struct {
		says                           string
		category, formula, data, label *compendium.Lasting
		layer, hours                   string
		beyond, supported, cut         bool
	}{
		{"the formula, beyond the label and signed", category, formula, data, label, compendium.ByFormula, "200", true, true, false},
		{"data, beyond the label and unsigned", category, nil, data, label, compendium.ByData, "150", true, false, false},
		{"the label alone", category, nil, nil, label, compendium.ByLabel, "100", false, false, false},
		{"the category is shorter than the formula", hours(120, compendium.ByCategory), formula, data, label, compendium.ByCategory, "120", true, true, true},
		{"the category is shorter than the label", hours(96, compendium.ByCategory), formula, data, label, compendium.ByCategory, "96", false, false, true},
		{"the category is just as long", hours(100, compendium.ByCategory), nil, nil, label, compendium.ByLabel, "100", false, false, false},
		{"a formula shorter than the label is kept", category, hours(50, compendium.ByFormula), data, label, compendium.ByFormula, "50", false, false, false},
		{"data shorter than the label are kept", category, nil, hours(50, compendium.ByData), label, compendium.ByData, "50", false, false, false},
		{"data without a label to compare with", category, nil, data, nil, compendium.ByData, "150", true, false, false},
	} {
		d := compendium.Date(c.category, c.formula, c.data, c.label)
		assert.True(t, d.Known, c.says)
		assert.Equal(t, c.layer, d.Layer, c.says)
		assert.Equal(t, c.hours, d.Hours.Decimal(), c.says)
		assert.Equal(t, c.beyond, d.BeyondLabel, c.says)
		assert.Equal(t, c.supported, d.Supported, c.says)
		assert.Equal(t, c.cut, d.Cut != nil, c.says)
	}
	assert.False(t, compendium.Date(nil, formula, data, label).Known, "without a category nothing is dated")
	assert.False(t, compendium.Date(category, nil, nil, nil).Known, "a category alone says nothing of the drug")
}

func TestNothingIsEverDatedBeyondItsCategory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		some := func(name, layer string) *compendium.Lasting {
			if rapid.Bool().Draw(t, name+" known") {
				return hours(rapid.Int64Range(0, 5000).Draw(t, name), layer)
			}
			return nil
		}
		category := some("category", compendium.ByCategory)
		formula, data, label := some("formula", compendium.ByFormula), some("data", compendium.ByData), some("label", compendium.ByLabel)
		d := compendium.Date(category, formula, data, label)
		if !d.Known {
			return
		}
		assert.False(t, category.Hours.Less(d.Hours))
		if formula == nil && d.BeyondLabel {
			assert.False(t, d.Supported, "nobody signed what goes beyond the label")
		}
	})
}

// Each kind, container, fluid, strength and storage has data of its own: a
// study next to it is none.
func TestStabilityIsThatOfTheVeryDoseAndOfNoOther(t *testing.T) {
	mg := func(n string) quantity.Quantity {
		return quantity.Point(quantity.MustNumber(n), quantity.MustUnit("mg/mL"))
	}
	for _, c := range []struct {
		says, drug  string
		k           compendium.Keeping
		label, data string // hours; "" unknown
	}{
		{"cefoxitin cold in an elastomeric device (Eur J Hosp Pharm 27:65)", "cefoxitin", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "SWFI", Storage: "refrigerated", Concentration: mg("40")}, "", "96"},
		{"another strength", "cefoxitin", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "SWFI", Storage: "refrigerated", Concentration: mg("41")}, "", ""},
		{"another fluid: the label of bags", "cefoxitin", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: mg("40")}, "48", ""},
		{"another container", "cefoxitin", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "SWFI", Storage: "refrigerated", Concentration: mg("40")}, "", ""},
		{"no strength told", "cefoxitin", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "SWFI", Storage: "refrigerated"}, "", ""},
		{"oxacillin worn in saline", "oxacillin", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "worn", Concentration: mg("25")}, "", "12"},
		{"oxacillin worn in dextrose", "oxacillin", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "D5W", Storage: "worn", Concentration: mg("25")}, "", "8"},
		{"micafungin in a syringe", "micafungin", compendium.Keeping{Kind: compendium.SyringePush, Container: "syringe", Diluent: "NS", Storage: "room", Concentration: mg("1")}, "360", ""},
		{"the same in a bag", "micafungin", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: "room", Concentration: mg("1")}, "12", ""},
		{"vancomycin thawed", "vancomycin", compendium.Keeping{Kind: compendium.Premix, Container: "bag", Storage: "refrigerated"}, "720", ""},
		{"piperacillin-tazobactam: the study of another product", "piperacillin-tazobactam", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: mg("50")}, "", ""},
		{"a kind nobody knows", "cefazolin", compendium.Keeping{Kind: "frozen-plate", Container: "bag", Diluent: "NS", Storage: "room"}, "", ""},
	} {
		label, data := drug(t, c.drug).Stability(c.k)
		have := func(x *compendium.Lasting) string {
			if x == nil {
				return ""
			}
			return x.Hours.Decimal()
		}
		assert.Equal(t, c.label, have(label), "%s: label", c.says)
		assert.Equal(t, c.data, have(data), "%s: data", c.says)
	}
}
