package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/order"
)

// How a dose is given is told, never guessed: "push-pause" is a way to
// flush, and a refused push is none.
func TestTheMethodAnOrderTells(t *testing.T) {
	for _, x := range []struct {
		words  string
		device string
		rate   order.Witness
		want   string
	}{
		{"", "", "", ""},
		{"give 2 g over 30 minutes", "", "", ""},
		{"give as IV push over 3 to 5 minutes", "", "", "push"},
		{"IV-push over 3 minutes", "", "", "push"},
		{"10 mg bolus", "", "", "push"},
		{"Give slow IV push. Do not shake.", "", "", "push"},
		{"not by pump but as a push", "", "", "push"},
		{"push over 3 minutes, then flush with saline 10 mL", "", "", "push"},
		{"flush with saline 10 mL push-pause", "", "", ""},
		{"flush with saline 10 mL, push pause technique", "", "", ""},
		{"push 10 mL of saline as a flush", "", "", ""},
		{"never as a bolus", "", "", ""},
		{"Never as a push, bolus or rapid infusion", "", "", ""},
		{"do not give by IV push", "", "", ""},
		{"don't push", "", "", ""},
		{"avoid bolus", "", "", ""},
		{"without a bolus", "", "", ""},
		{"no bolus; infuse over 2 h", "elastomeric", "", "infusion"},
		{"flush push-pause", "elastomeric", "", "infusion"},
		{"", "gravity", "", "infusion"},
		{"", "", order.Coded, "infusion"},
		{"", "", order.Text, "infusion"},
		{"bolus 5 mg, then 2 mL/h", "", order.Coded, "infusion"},
		{"IV push at 4 mg/min", "", order.Text, ""},
		{"give as IV push", "syringe-pump", "", ""},
		{"bottled pushpin", "", "", ""},
	} {
		w := base()
		w.order.Directions = []order.Direction{{Text: x.words}}
		w.order.Device.Kind = x.device
		w.order.Stated = nil
		if x.rate != "" {
			w.order.Stated = []order.Stated{stated("rate", "200", "mL/h", x.rate)}
		}
		assert.Equal(t, x.want, circumstance(w.facts()).Method, "%q %s %s", x.words, x.device, x.rate)
	}
}

// A table keyed by a dose asks for the dose as written, not for what its
// printed precision could mean.
func TestCircumstancesAreNumbersAsWritten(t *testing.T) {
	w := base()
	follows("dose", "199", "200", "201", "mg")(w)
	c := circumstance(w.facts())
	assert.True(t, c.Quantities["dose"].IsPoint())
	assert.Equal(t, "200", c.Quantities["dose"].Low.Decimal())
	ranged("dose", "200", "500", "mg")(w)
	c = circumstance(w.facts())
	assert.Equal(t, "500", c.Quantities["dose"].High.Decimal())
}
