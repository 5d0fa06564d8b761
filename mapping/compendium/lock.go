package compendium

import "weir.example/weir/mapping/quantity"

// LocksReached are all limits that a lock solution reaches by a strength (units
// per mL of heparin, % of citrate), as in Lock, which gives the gravest alone.
// Known is false for a solution without limits or an amount of another kind.
func LocksReached(solution, line, population string, amount quantity.Quantity) (reached []LockLimit, known bool) {
	for _, l := range LockLimits() {
		if l.Solution != solution {
			continue
		}
		in, err := l.read(amount)
		if err != nil {
			continue
		}
		known = true
		if (l.Line == "any" || (l.Line == "dialysis") == (line == "dialysis")) && l.concerns(population) && l.at(in.High) {
			reached = append(reached, l)
		}
	}
	return reached, known
}
