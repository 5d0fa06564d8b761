package terminal

import (
	"fmt"
	"strings"

	"weir.example/weir/mapping/worksheet"
)

// lumens tells the day of a line that several infusions share, lumen by
// lumen: what runs from when until when, and which starts differ from the
// order. Flushes and locks belong to the dose they stand beside and are in
// the worksheet.
func lumens(p *page, w worksheet.Worksheet) {
	l := w.Lumens
	if l == nil {
		return
	}
	p.head(fmt.Sprintf("THE LINE IN ONE DAY: %s (local clock)", l.Outcome))
	for _, name := range l.Names {
		var day []string
		for _, s := range l.Stretches {
			if s.Lumen != name || s.What == "flush" {
				continue
			}
			what := s.Name
			if s.What == "pause" {
				what += " stands still"
			}
			if s.From == s.Until {
				day = append(day, "all day "+what)
				continue
			}
			day = append(day, s.From+" to "+s.Until+" "+what)
		}
		if l.Outcome == "placed" && len(day) == 0 {
			day = []string{"nothing"}
		}
		p.field(2, name, strings.Join(day, "; "))
	}
	for _, x := range l.Placements {
		if len(x.Ordered) > 0 {
			p.field(2, "moved", x.Name+": "+strings.Join(x.Starts, ", ")+" instead of "+strings.Join(x.Ordered, ", "))
		}
	}
	for _, says := range l.Says {
		p.field(2, "-", says)
	}
}
