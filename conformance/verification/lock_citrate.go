package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

func citrateLocked(f Facts) bool { return slices.ContainsFunc(byHand(f), isCitrate) }

// lockCitrate: above 4 %, or an order that does not say all that makes a citrate
// lock safe: which solution, how strong, how much, and whether it is withdrawn
// or flushed through. What is blocked is not held as well.
func lockCitrate(f Facts) []finding.Finding {
	if len(lockForbidden(f)) > 0 {
		return nil
	}
	out := lockFound(f, func(r compendium.LockLimit) bool { return r.Gate == "hold" && r.Solution == "citrate" })
	for _, l := range locks(f) {
		lacks := citrateLacks(l)
		if !isCitrate(l) || len(lacks) == 0 || slices.Equal(lacks, []string{"strength"}) {
			continue // a strength alone is asked for as such
		}
		out = append(out, here(l.Place, "a citrate lock without "+words(lacks), "solution, strength, volume, and whether it is withdrawn before use or flushed")...)
	}
	return out
}

// citrateLacks are the parts that a citrate lock order does not state.
func citrateLacks(l order.Order) []string {
	var out []string
	if name := nameText(l); !strings.Contains(name, "sodium") && !strings.Contains(name, "dextrose") && !strings.Contains(drugText(l), "sodium citrate") {
		out = append(out, "solution (of which citrate)")
	}
	if _, ok := citrate(l); !ok {
		out = append(out, "strength")
	}
	if !lockVolume(l) {
		out = append(out, "volume")
	}
	if !saysAny(l, "withdraw", "withdrawn", "aspirate", "aspirated", "flush", "flushed") {
		out = append(out, "withdraw or flush")
	}
	return out
}

// lockVolume: an amount in mL to be put into the line.
func lockVolume(l order.Order) bool {
	return slices.ContainsFunc(l.Stated, func(s order.Stated) bool {
		if s.Name != "dose" && s.Name != "volume" {
			return false
		}
		_, err := s.Quantity.In(millilitre)
		return err == nil
	})
}

// saysAny: any words of the order hold one of the words as a whole word.
func saysAny(o order.Order, list ...string) bool {
	texts := []string{drugText(o)}
	for _, l := range o.Lines {
		texts = append(texts, l.Words)
	}
	for _, d := range o.Directions {
		texts = append(texts, d.Text)
	}
	return slices.ContainsFunc(texts, func(t string) bool {
		return slices.ContainsFunc(wordsOf(strings.ToLower(t)), func(w string) bool { return slices.Contains(list, w) })
	})
}
