package conformance

import (
	"fmt"
	"slices"

	"weir.example/weir/mapping/lumen"
	"weir.example/weir/mapping/worksheet"
)

// lumenLines write the day of the line; nil for an order that shares it with
// no other.
func (s *state) lumenLines() *worksheet.Lumens {
	if s.line == nil || len(s.line.Others) == 0 {
		return nil
	}
	l := s.line
	w := &worksheet.Lumens{Outcome: string(l.Result.Outcome), Names: []string{}, Placements: []worksheet.LumenPlacement{}, Stretches: []worksheet.LumenStretch{}, Says: slices.Clone(l.Says)}
	for _, x := range l.Problem.Lumens {
		w.Names = append(w.Names, x.Name)
	}
	for _, f := range l.Missing {
		w.Says = append(w.Says, "not laid out: "+string(f)+" missing")
	}
	if l.Result.Outcome != lumen.Placed {
		return w
	}
	for i, p := range l.Result.Placements {
		x := worksheet.LumenPlacement{Name: p.Name, Lumen: w.Names[p.Lumen], Starts: clocks(p.Starts)}
		if i < len(l.Problem.Infusions) {
			if ordered := clocks(l.Problem.Infusions[i].Times); !slices.Equal(ordered, x.Starts) {
				x.Ordered = ordered
			}
		}
		w.Placements = append(w.Placements, x)
	}
	for _, b := range l.Result.Blocks {
		w.Stretches = append(w.Stretches, worksheet.LumenStretch{Lumen: w.Names[b.Lumen], From: clock(b.From), Until: clock(b.To), What: b.What, Name: b.Name, Fluid: b.Fluid})
	}
	for _, i := range l.Result.Idle {
		w.Says = append(w.Says, "nothing is planned in "+w.Names[i]+": it needs a flush and a lock of its own")
	}
	return w
}

func clocks(minutes []int) []string {
	out := []string{}
	for _, m := range minutes {
		out = append(out, clock(m))
	}
	return out
}

// clock writes minutes after midnight on a 24-hour clock.
func clock(minute int) string {
	minute = (minute%1440 + 1440) % 1440
	return fmt.Sprintf("%02d:%02d", minute/60, minute%60)
}
