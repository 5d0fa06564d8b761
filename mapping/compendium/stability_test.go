package compendium_test

import (
	"encoding/json"
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
		// Circumstances of the order: the product decides.
		{"piperacillin-tazobactam: the same product without a container in the study", "piperacillin-tazobactam", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: mg("50"), Order: compendium.Circumstance{Product: "with edetate"}}, "", ""},
		{"treprostinil undiluted, the product with 16 weeks", "treprostinil", compendium.Keeping{Kind: compendium.Prepared, Container: "pump-reservoir", Diluent: compendium.Undiluted, Storage: "worn", Order: compendium.Circumstance{Product: "whose label gives 16 weeks undiluted"}}, "2688", ""},
		{"treprostinil undiluted, product not told", "treprostinil", compendium.Keeping{Kind: compendium.Prepared, Container: "pump-reservoir", Diluent: compendium.Undiluted, Storage: "worn"}, "", ""},
		{"treprostinil undiluted in a syringe", "treprostinil", compendium.Keeping{Kind: compendium.Prepared, Container: "syringe", Diluent: compendium.Undiluted, Storage: "worn", Order: compendium.Circumstance{Product: "whose label gives 16 weeks undiluted"}}, "72", ""},
		{"treprostinil in saline: its 14 d are in another fluid", "treprostinil", compendium.Keeping{Kind: compendium.Prepared, Container: "pump-reservoir", Diluent: "NS", Storage: "room", Concentration: mg("0.1")}, "", ""},
		{"treprostinil in sterile water", "treprostinil", compendium.Keeping{Kind: compendium.Prepared, Container: "pump-reservoir", Diluent: "SWFI", Storage: "room", Concentration: mg("0.1")}, "4", ""},
		{"epoprostenol, product not told", "epoprostenol", compendium.Keeping{Kind: compendium.Prepared, Container: "pump-reservoir", Diluent: "NS", Storage: "refrigerated"}, "", ""},
		{"epoprostenol with glycine: the shorter of two, and 40 h are in another fluid", "epoprostenol", compendium.Keeping{Kind: compendium.Prepared, Container: "pump-reservoir", Storage: "refrigerated", Order: compendium.Circumstance{Product: "with glycine, in its diluent of pH 10"}}, "24", ""},
		// Fluids in words alone: ampicillin in buffered saline is another dose.
		{"ampicillin cold in an elastomeric device, unbuffered", "ampicillin", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: mg("12")}, "", ""},
		{"ampicillin warm in a bag: the label as read in a study, and the study", "ampicillin", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: "room", Concentration: mg("12")}, "8", "24"},
		{"ampicillin above the strength of the label", "ampicillin", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: "room", Concentration: mg("30.01")}, "", ""},
		{"penicillin without its buffer: the label alone", "penicillin g potassium", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: mg("40")}, "168", ""},
		// What is no label is no label.
		{"amphotericin cold: a manual", "amphotericin b liposomal", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "D5W", Storage: "refrigerated", Concentration: mg("2")}, "", ""},
		{"amphotericin warm: the label", "amphotericin b liposomal", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "D5W", Storage: "room", Concentration: mg("2")}, "6", ""},
		{"milrinone: literature without a container", "milrinone", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: "room", Concentration: mg("0.2")}, "", ""},
		{"meropenem worn: a warning without strength dates nothing", "meropenem", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "worn", Concentration: mg("10")}, "", ""},
		// A label that names no container is not that of a syringe.
		{"cefazolin in a syringe", "cefazolin", compendium.Keeping{Kind: compendium.SyringePush, Container: "syringe", Diluent: "SWFI", Storage: "refrigerated", Concentration: mg("100")}, "", ""},
		{"cefazolin kept in a syringe as if it were a bag", "cefazolin", compendium.Keeping{Kind: compendium.Prepared, Container: "syringe", Diluent: "NS", Storage: "refrigerated", Concentration: mg("20")}, "", ""},
		{"cefazolin in a bag", "cefazolin", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: "refrigerated", Concentration: mg("20")}, "240", ""},
		{"cefazolin in who knows what: the label of the solution", "cefazolin", compendium.Keeping{Kind: compendium.Prepared, Diluent: "NS", Storage: "refrigerated", Concentration: mg("20")}, "240", ""},
		{"cefazolin kept who knows how", "cefazolin", compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Concentration: mg("20")}, "", ""},
		// A total counts warm and cold, not frozen and not worn.
		{"fluorouracil frozen", "fluorouracil", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "frozen", Concentration: mg("40")}, "", ""},
		{"fluorouracil cold", "fluorouracil", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: "NS", Storage: "refrigerated", Concentration: mg("40")}, "", "336"},
		{"fluorouracil undiluted and worn", "fluorouracil", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: compendium.Undiluted, Storage: "worn", Concentration: mg("50")}, "", "72"},
		{"fluorouracil undiluted and warm", "fluorouracil", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: compendium.Undiluted, Storage: "room", Concentration: mg("50")}, "", "336"},
		{"fluorouracil undiluted and cold: it may precipitate", "fluorouracil", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: compendium.Undiluted, Storage: "refrigerated", Concentration: mg("50")}, "", ""},
		{"fluorouracil called undiluted at another strength", "fluorouracil", compendium.Keeping{Kind: compendium.Prepared, Container: "elastomeric", Diluent: compendium.Undiluted, Storage: "worn", Concentration: mg("40")}, "", ""},
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

// A statement of which nobody can tell whether it holds shortens, and never
// lengthens or stands alone.
func TestAStatementOnAnotherProductOnlyShortens(t *testing.T) {
	fact := func(id, hours string, product string) compendium.Fact {
		f := compendium.Fact{ID: id, Topic: "stability_diluted", Population: "all", Basis: "label", Standing: compendium.Sourced, Source: "s", Gates: true,
			Value: compendium.Value{Storage: "room", Duration: &compendium.Band{Value: json.Number(hours), Unit: "h"}}}
		if product != "" {
			f.AppliesTo = []compendium.Applies{{Product: product}}
		}
		return f
	}
	k := compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: "room"}
	for _, c := range []struct {
		says    string
		facts   []compendium.Fact
		product string
		want    string
	}{
		{"shorter, product not told", []compendium.Fact{fact("a", "48", ""), fact("b", "8", "p")}, "", "8"},
		{"the other way round", []compendium.Fact{fact("b", "8", "p"), fact("a", "48", "")}, "", "8"},
		{"longer, product not told", []compendium.Fact{fact("a", "48", ""), fact("b", "72", "p")}, "", "48"},
		{"shorter, another product", []compendium.Fact{fact("a", "48", ""), fact("b", "8", "p")}, "q", "48"},
		{"alone, product not told", []compendium.Fact{fact("b", "8", "p")}, "", ""},
		{"alone, this product", []compendium.Fact{fact("b", "8", "p")}, "p", "8"},
	} {
		k.Order = compendium.Circumstance{Product: c.product}
		label, data := compendium.Drug{Facts: c.facts}.Stability(k)
		assert.Nil(t, data, c.says)
		if c.want == "" {
			assert.Nil(t, label, c.says)
			continue
		}
		if assert.NotNil(t, label, c.says) {
			assert.Equal(t, c.want, label.Hours.Decimal(), c.says)
		}
	}
}

// Only a label is one: practice and studies never answer as the label does.
func TestOnlyALabelIsALabel(t *testing.T) {
	for _, basis := range []string{"label", "guideline_or_practice", "study"} {
		f := compendium.Fact{ID: "a", Topic: "stability_diluted", Population: "all", Basis: basis, Standing: compendium.Sourced, Source: "s", Gates: true,
			Value: compendium.Value{Storage: "room", Duration: &compendium.Band{Value: "8", Unit: "h"}, Concentration: &compendium.Band{High: "10", Unit: "mg/mL"}, Containers: []string{"bag"}}}
		k := compendium.Keeping{Kind: compendium.Prepared, Container: "bag", Diluent: "NS", Storage: "room", Concentration: quantity.Point(quantity.Int(10), quantity.MustUnit("mg/mL"))}
		label, data := compendium.Drug{Facts: []compendium.Fact{f}}.Stability(k)
		assert.Equal(t, basis == "label", label != nil, basis)
		assert.Equal(t, basis != "label", data != nil, basis)
		if data != nil {
			assert.Equal(t, compendium.ByData, data.Layer)
		}
	}
}
