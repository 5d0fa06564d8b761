package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

// A most of 10 g in the table, loosened to 12 or tightened to 8 from 1
// September 2026 on; the clock of the fixtures says 10 November 2026.
func TestALooserNumberOfTheSitePassesNothingInSilence(t *testing.T) {
	const none = ""
	at := func(table, site, on string, gated, gates bool) (compendium.Fact, compendium.Band) {
		have := band(table, "", "", "g")
		f := fact("1", "max_daily_dose", "adult", compendium.Value{Band: have})
		f.Gates = gates
		if on == none {
			return f, have
		}
		f.Override = &compendium.Local{By: "J. Example", On: on, Gated: gated}
		if site != none {
			f.Override.Was = have
			have = band(site, "", "", "g")
		}
		return f, have
	}
	for _, c := range []struct {
		says, site, on string
		gated, gates   bool
		dose           string
		want           Reach
		by             string
	}{
		{"the table's, at it", none, none, true, true, "10", Within, "10"},
		{"the table's, beyond it", none, none, true, true, "10.1", Beyond, "10"},
		{"never gated", none, none, false, false, "99", Within, "10"},
		{"looser, at the table's", "12", "2026-09-01", true, true, "10", Within, "12"},
		{"looser, beyond the table's", "12", "2026-09-01", true, true, "10.1", Between, "10"},
		{"looser, at the site's", "12", "2026-09-01", true, true, "12", Between, "10"},
		{"looser, beyond the site's", "12", "2026-09-01", true, true, "12.1", Beyond, "12"},
		{"stricter, at the site's", "8", "2026-09-01", true, true, "8", Within, "8"},
		{"stricter, beyond the site's", "8", "2026-09-01", true, true, "8.1", Beyond, "8"},
		{"looser from today on", "12", "2026-11-10", true, true, "11", Between, "10"},
		{"looser from tomorrow on", "12", "2026-11-11", true, true, "11", Beyond, "10"},
		{"looser from tomorrow on, at the table's", "12", "2026-11-11", true, true, "10", Within, "10"},
		{"stricter from tomorrow on", "8", "2026-11-11", true, true, "9", Within, "10"},
		{"out of force, at the table's", none, "2026-09-01", true, false, "10", Within, "10"},
		{"out of force, beyond the table's", none, "2026-09-01", true, false, "99", Between, "10"},
		{"out of force from tomorrow on", none, "2026-11-11", true, false, "99", Beyond, "10"},
		{"into force, beyond the table's", none, "2026-09-01", false, true, "11", Beyond, "10"},
		{"into force, at the table's", none, "2026-09-01", false, true, "10", Within, "10"},
		{"into force from tomorrow on", none, "2026-11-11", false, true, "11", Within, "10"},
		{"into force with a looser number, between", "12", "2026-09-01", false, true, "11", Within, "12"},
	} {
		f, have := at("10", c.site, c.on, c.gated, c.gates)
		reach, by := Reached(f, have, baseNow, func(b compendium.Band) bool {
			q, err := b.Quantity()
			require.NoError(t, err)
			return q.High.Less(quantity.MustNumber(c.dose))
		})
		assert.Equal(t, c.want, reach, c.says)
		assert.Equal(t, c.by, by.Value.String(), c.says)
	}
}

// A least is loosened downwards; the comparison knows it, no list of topics.
func TestALooserLeastIsSmaller(t *testing.T) {
	have := band("30", "", "", "min")
	f := fact("1", "infusion_duration_min", "adult", compendium.Value{Band: have})
	f.Override = &compendium.Local{On: "2026-09-01", Gated: true, Was: band("60", "", "", "min")}
	for duration, want := range map[string]Reach{"60": Within, "59": Between, "30": Between, "29": Beyond} {
		reach, _ := Reached(f, have, baseNow, func(b compendium.Band) bool {
			q, err := b.Quantity()
			require.NoError(t, err)
			return quantity.MustNumber(duration).Less(q.Low)
		})
		assert.Equal(t, want, reach, duration)
	}
}
