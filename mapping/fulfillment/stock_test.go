package fulfillment_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/fulfillment"
)

// Practice table (k): stock reported on the refill call is taken off. By hand,
// of the 47 saline syringes of a week: 20 at home, 3 doses until the first of
// the delivery use 6, 14 are left, 33 to send.
func TestStockAtHomeIsTakenOffTheNextDelivery(t *testing.T) {
	for says, c := range map[string]struct {
		stock   int
		until   fulfillment.Use
		item    string
		want    int
		formula string
	}{
		"some used until then":        {20, fulfillment.Use{Doses: 3, Days: 1, Known: true}, "saline-syringe", 33, "; 20 at home on 9 Nov 2026, 6 used until then: 14 taken off; 33 to send"},
		"all used until then":         {6, fulfillment.Use{Doses: 3, Days: 1, Known: true}, "saline-syringe", 47, "6 used until then: 0 taken off; 47 to send"},
		"one left":                    {7, fulfillment.Use{Doses: 3, Days: 1, Known: true}, "saline-syringe", 46, "1 taken off; 46 to send"},
		"more than is needed":         {500, fulfillment.Use{Known: true}, "saline-syringe", 0, "47 taken off; 0 to send"},
		"the time between is unknown": {20, fulfillment.Use{}, "saline-syringe", 47, "20 at home on 9 Nov 2026, not taken off: how many of them are used until then is not known"},
		"a box lasts":                 {1, fulfillment.Use{Doses: 3, Days: 1, Known: true}, "examination-gloves", 0, "1 taken off; 0 to send"},
		"the drug itself never":       {4, fulfillment.Use{Known: true}, "elastomeric-reservoir", 21, "1 a dose × 21 doses; 21 in all"},
	} {
		t.Run(says, func(t *testing.T) {
			s := elastomericAntibiotic(t)
			s.Deliveries[0].Before = c.until
			s.Stock = []fulfillment.Stock{{Item: c.item, Count: c.stock, At: s.Now, On: "9 Nov 2026"}}
			kit := fulfillment.Kit(s)
			line := find(t, kit, c.item, 1)
			assert.Equal(t, c.want, line.Quantity)
			assert.Contains(t, line.Formula, c.formula)
			assert.Equal(t, find(t, fulfillment.Kit(elastomericAntibiotic(t)), c.item, 2).Quantity, find(t, kit, c.item, 2).Quantity, "the delivery after it")
		})
	}
}
