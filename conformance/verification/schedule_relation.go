package verification

import (
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// besides are the orders that are given around the infusion: pre-medication
// for it, what is based on it, and what the drug's row names as its
// companion. A flush and a lock follow the line's own protocol, an additive
// goes into the bag, a rescue and what is taken as needed have no time.
func besides(f Facts) []order.Order {
	var out []order.Order
	for _, r := range f.kase().Related {
		mine := slices.Contains(f.order().Companions, r.Place.Expression)
		free := len(r.Basis) == 0 // it names no infusion, so it may be for this one
		switch {
		case r.Status != "" && r.Status != "active" && r.Status != "draft" && r.Status != "on-hold":
		case asNeededOnly(r):
		case r.Role == "premedication" && (mine || free), r.Role == "oral" && (mine || free && companion(f, r)):
			out = append(out, r)
		}
	}
	return out
}

func asNeededOnly(o order.Order) bool {
	return len(o.Directions) > 0 && !slices.ContainsFunc(o.Directions, func(d order.Direction) bool { return !d.AsNeeded })
}

// companion: the drug's row names it, by code or by an exact name.
func companion(f Facts, r order.Order) bool {
	return slices.ContainsFunc(f.drug().Companions, func(c compendium.Companion) bool {
		return c.RxNorm != "" && r.Drug.Concept.Code(compendium.RxNorm) == c.RxNorm ||
			slices.Contains(c.Names, compendium.Fold(r.Drug.Name)) || slices.Contains(c.Names, compendium.Fold(r.Drug.Concept.Name()))
	})
}

// A relation in words is an amount of time before or after, or a word that
// leaves no choice. "Over 30 minutes" and "for 30 minutes" say how long it
// takes and are none.
var (
	relation = regexp.MustCompile(`(?i)\b((?:over|for|in)\s+)?(?:[0-9]+(?:[.,][0-9]+)?|half an|an|a|one|two|three|thirty|sixty)(?:\s*(?:-|to)\s*[0-9]+)?[\s-]*(?:minutes?|mins?|hours?|hrs?|h)\b[^.;,0-9\n]*?\b(?:before|prior|after|following|ahead|earlier|later)\b`)
	atOnce   = regexp.MustCompile(`(?i)\b(?:immediately|directly|right|just)\s+(?:before|prior|after|following)\b|\bat the (?:start|beginning|end) of\b|\bduring (?:the|each|every)\b`)
)

func related(words string) bool {
	if atOnce.MatchString(words) {
		return true
	}
	return slices.ContainsFunc(relation.FindAllStringSubmatch(words, -1), func(m []string) bool { return m[1] == "" })
}

// timeRelated: in words, or by clock times of its own.
func timeRelated(o order.Order) bool {
	if len(o.Timing.TimesOfDay) > 0 || len(o.Timing.Events) > 0 {
		return true
	}
	return slices.ContainsFunc(o.Lines, func(l order.Line) bool { return related(l.Words) }) ||
		slices.ContainsFunc(o.Directions, func(d order.Direction) bool { return related(d.Text) })
}

// relationMissing: pre-medication or a companion without the time between it
// and the infusion, as an order of its own or in the words of this one.
func relationMissing(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, r := range besides(f) {
		if timeRelated(r) {
			continue
		}
		name := strings.ToLower(r.Drug.Concept.Name())
		if name == "" {
			name = r.Drug.Name
		}
		out = append(out, noTime(f, below(r.Place, "dosageInstruction.timing"), name))
	}
	for _, l := range f.order().Lines {
		named := slices.ContainsFunc(f.order().Readings, func(r order.Reading) bool {
			return r.Field == "premedication" && r.Place.Expression == l.Place.Expression
		})
		if named && !related(l.Words) {
			out = append(out, noTime(f, l.Place, "pre-medication"))
		}
	}
	return out
}

func noTime(f Facts, at finding.Place, name string) finding.Finding {
	x := here(at, name+" is ordered beside the infusion without the time between them", "how many minutes before or after the start of the infusion it is given")[0]
	x.Evidence = []string{f.order().Place.Expression}
	x.Remedy = "Pharmacist: ask the prescriber for the minutes before or after, and print them on the nurse's sheet."
	return x
}
