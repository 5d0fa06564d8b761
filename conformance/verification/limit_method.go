package verification

import (
	"slices"
	"strings"
	"unicode"

	"weir.example/weir/mapping/order"
)

// method is how the order says the dose is given, "" when it does not say or
// says both. It is never guessed from a short time: what has a rate or runs
// by a device is an infusion, and a push is what calls itself one.
func method(o order.Order) string {
	push := pushed(o.Route.Name())
	for _, d := range o.Directions {
		push = push || pushed(d.Text)
	}
	infusion := o.Device.Kind != ""
	for _, s := range o.Stated {
		if s.Name != "rate" && s.Name != "drugRate" && s.Name != "drugRatePerKg" {
			continue
		}
		switch s.Witness {
		case order.Coded, order.Device, order.PumpSheet:
			return "infusion"
		case order.Text:
			infusion = true
		}
	}
	switch {
	case push && infusion:
		return ""
	case push:
		return "push"
	case infusion:
		return "infusion"
	}
	return ""
}

var (
	refusing = []string{"no", "not", "never", "without", "avoid", "don", "cannot", "neither", "nor", "non"}
	flushing = []string{"flush", "flushes", "flushed", "flushing", "lock", "saline"}
	turning  = []string{"but", "then", "followed", "after", "before"}
)

// pushed: the words order a push or a bolus. A flush by push and pause is
// none, nor is a push that is refused ("never as a push, bolus or …"): both
// hold to the end of the clause.
func pushed(text string) bool {
	for _, clause := range strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return strings.ContainsRune(".;\n", r) }) {
		words := wordsOf(clause)
		off := false
		for i, w := range words {
			switch {
			case w == "but":
				off = false
			case slices.Contains(refusing, w), slices.Contains(flushing, w):
				off = true
			case (w == "push" || w == "bolus") && !off && !flushesAfter(words[i+1:]):
				return true
			}
		}
	}
	return false
}

// flushesAfter: what follows makes a flush of the push.
func flushesAfter(words []string) bool {
	for i, w := range words {
		switch {
		case i == 0 && w == "pause", slices.Contains(flushing, w):
			return true
		case slices.Contains(turning, w):
			return false
		}
	}
	return false
}

func wordsOf(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool { return !unicode.IsLetter(r) })
}
