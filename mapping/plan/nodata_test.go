package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/plan"
)

// Units not made yet are dated by the sterility category and by the
// stability. Where one of the two is not known that is said, though the other
// one bounds them.
func TestADeliveryDatedByHalfOfItsLimitsSaysSo(t *testing.T) {
	weeks := lasting("fridge", "refrigerated", "14", "d", "label", "bag")
	const all = "no data on how long its units last: only the longest delivery of the policy bounds it"
	for _, c := range []struct {
		says string
		make *plan.Making
		want string
	}{
		{"nothing known", nil, all},
		{"neither", making(plan.Sterility{}), all},
		{"both", making(sterileOnly, weeks), ""},
		{"no stability", making(sterileOnly), "no data on the stability of its units: only the other limits bound how long they last"},
		{"no category", making(plan.Sterility{}, weeks), "no category limit is known for its units: only the other limits bound how long they last"},
	} {
		o, k := once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-01-17T12:00:00-05:00", "2027-01-10T12:00:00-05:00", "refrigerated", "", 6)
		k.Held = order.Held{}
		p := drafted(t, o, k, nil, c.make, "America/New_York", "2027-01-10T10:00:00-05:00")
		require.NotEmpty(t, p.Deliveries, c.says)
		d := p.Deliveries[0]
		assert.Equal(t, []any{c.want != "", c.want}, []any{d.NoData, d.NoDataSay}, c.says)
	}
	// The site's own time stands for all of them.
	o, k := once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-01-17T12:00:00-05:00", "2027-01-10T12:00:00-05:00", "refrigerated", "", 6)
	k.Held = order.Held{}
	r := rules()
	r.Make, r.ShelfLife = making(sterileOnly), 48*time.Hour
	p := plan.Draft(o, nil, k, r, zone(t, "America/New_York"), instant(t, "2027-01-10T10:00:00-05:00"))
	assert.False(t, p.Deliveries[0].NoData)
	// Nothing is still to be made: what is made has its own dates.
	o, k = once(t, "gravity", "2027-01-11T12:00:00-05:00", "2027-01-17T12:00:00-05:00", "2027-01-10T12:00:00-05:00", "refrigerated", "2027-01-19T12:00:00-05:00", 6)
	p = drafted(t, o, k, nil, making(sterileOnly), "America/New_York", "2027-01-10T13:00:00-05:00")
	assert.False(t, p.Deliveries[0].NoData)
}
