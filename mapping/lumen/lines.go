package lumen

import "fmt"

// Lines is the timetable of a placement in words, a line for each block, in
// the order of Result.Blocks. Times are on a 24-hour clock.
func (p Problem) Lines(blocks []Block) []string {
	var out []string
	for _, b := range blocks {
		lumen := fmt.Sprintf("added lumen %d", b.Lumen-len(p.Lumens)+1)
		if b.Lumen < len(p.Lumens) {
			lumen = p.Lumens[b.Lumen].Name
		}
		what := b.Name
		switch b.What {
		case "flush":
			what = fmt.Sprintf("flush of %s for %s", b.Fluid, b.Name)
			if b.Fluid == Withdraw {
				what = "withdraw what is in the lumen, for " + b.Name
			}
		case "pause":
			what = b.Name + " stands still"
		}
		when := "all day"
		if b.To-b.From < p.cycle() {
			when = p.clock(b.From) + " to " + p.clock(b.To)
			if p.Days <= 1 && b.To > 1440 {
				when += " next day"
			}
		}
		out = append(out, fmt.Sprintf("%s: %s, %s", lumen, when, what))
	}
	return out
}
