package terminal

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/worksheet"
)

func lumensText(l *worksheet.Lumens) string {
	p := &page{}
	lumens(p, worksheet.Worksheet{Lumens: l})
	return p.b.String()
}

func TestTheLineInOneDay(t *testing.T) {
	assert.Empty(t, lumensText(nil), "one infusion needs no day of its own")
	assert.Equal(t, `
THE LINE IN ONE DAY: placed (local clock)
  red lumen  all day milrinone; 08:00 to 08:15 milrinone stands still
  blue lumen 23:30 to 00:30 ertapenem
  moved      ertapenem: 23:30 instead of 22:00
  -          the time of a blood draw is kept free every day
`, lumensText(&worksheet.Lumens{Outcome: "placed", Names: []string{"red lumen", "blue lumen"},
		Placements: []worksheet.LumenPlacement{{Name: "milrinone", Lumen: "red lumen", Starts: []string{}},
			{Name: "ertapenem", Lumen: "blue lumen", Starts: []string{"23:30"}, Ordered: []string{"22:00"}}},
		Stretches: []worksheet.LumenStretch{{Lumen: "red lumen", From: "00:00", Until: "00:00", What: "infusion", Name: "milrinone"},
			{Lumen: "red lumen", From: "08:00", Until: "08:15", What: "pause", Name: "milrinone"},
			{Lumen: "blue lumen", From: "23:25", Until: "23:30", What: "flush", Name: "ertapenem", Fluid: "sodium chloride 0.9 %"},
			{Lumen: "blue lumen", From: "23:30", Until: "00:30", What: "infusion", Name: "ertapenem"}},
		Says: []string{"the time of a blood draw is kept free every day"}}))
}

// A day that was not laid out shows no times, and says what is missing.
func TestALineWithoutADaySaysWhy(t *testing.T) {
	text := lumensText(&worksheet.Lumens{Outcome: "not decided", Names: []string{"red lumen"}, Says: []string{"not laid out: doses at home missing"}})
	assert.Contains(t, text, "not decided")
	assert.Contains(t, text, "doses at home missing")
	assert.NotContains(t, text, "nothing")
	assert.NotContains(t, lumensText(&worksheet.Lumens{Outcome: "impossible", Names: []string{"red lumen"}}), "nothing")
}
