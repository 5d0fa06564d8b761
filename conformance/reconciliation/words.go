package reconciliation

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// The words by which two versions of an order are compared and shown. Two
// that mean the same give the same words: codes before display names, and
// lists that have no order sorted.

func sameDrug(a, b order.Drug) bool {
	return drugWords(a) == drugWords(b) && madeOf(a) == madeOf(b) && fluids(a) == fluids(b)
}

// drugWords is the active substance.
func drugWords(d order.Drug) string {
	var names []string
	for _, i := range d.Ingredients {
		if active(i) {
			names = append(names, conceptWords(i.Concept))
		}
	}
	if len(names) == 0 {
		return cmp.Or(notation.DrugName(d.Name), conceptWords(d.Concept))
	}
	slices.Sort(names)
	return strings.Join(slices.Compact(names), ", ")
}

// active: an ingredient is the drug unless it says otherwise or is a fluid.
func active(i order.Ingredient) bool {
	if i.Active != nil {
		return *i.Active
	}
	return !compendium.OnlyFluid(i.Concept.Name())
}

// fluids are what the drug is in.
func fluids(d order.Drug) string {
	var names []string
	for _, i := range d.Ingredients {
		if !active(i) {
			names = append(names, conceptWords(i.Concept))
		}
	}
	slices.Sort(names)
	return strings.Join(names, ", ")
}

// madeOf is every amount of the container, as sent.
func madeOf(d order.Drug) string {
	var parts []string
	for _, i := range d.Ingredients {
		text := conceptWords(i.Concept)
		if s := i.Strength; s != nil {
			text += " " + plain(s.Numerator) + " in " + plain(s.Denominator)
		}
		if s := i.Stock; s != nil {
			text += " from " + plain(s.Numerator) + " in " + plain(s.Denominator)
		}
		parts = append(parts, text)
	}
	slices.Sort(parts)
	for _, s := range []*order.Stated{d.Amount, d.Content} {
		if s != nil {
			parts = append(parts, plain(s.Quantity))
		}
	}
	return strings.Join(parts, ", ")
}

func plain(q quantity.Quantity) string {
	if q.Absent() {
		return "not stated"
	}
	text := notation.Quantity(q.Low, q.Unit)
	if !q.IsPoint() {
		text += " to " + notation.Quantity(q.High, q.Unit)
	}
	return text
}

// conceptWords is the display of a concept, and its code only where it has no
// words: a sender that adds a second coding has changed nothing.
func conceptWords(c order.Concept) string {
	if name := compendium.Fold(c.Name()); name != "" {
		return name
	}
	for _, k := range c.Codings {
		if k.Code != "" {
			return "`" + k.Code + "`"
		}
	}
	return ""
}

func referenceWords(r order.Reference) string {
	return cmp.Or(r.Display, r.Identifier.Value, r.URL)
}

func deviceWords(d order.InfusionDevice) string {
	parts := []string{cmp.Or(d.Kind, conceptWords(d.Concept))}
	for _, s := range d.Parameters {
		if s.Name != "nominalRate" { // told among the quantities
			parts = append(parts, notation.Name(s.Name)+" "+plain(s.Quantity))
		}
	}
	slices.Sort(parts[1:])
	if d.Requests > 1 {
		parts = append(parts, "and a back-up")
	}
	return strings.TrimPrefix(strings.Join(parts, ", "), ", ")
}

func statedWords(list []order.Stated) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, notation.Name(s.Name)+" "+plain(s.Quantity))
	}
	slices.Sort(parts)
	return strings.Join(parts, ", ")
}

// besides are the numbers of an order that no settled quantity stands for: by
// weight or surface, and every range that was written.
func besides(list []order.Stated) string {
	return statedWords(slices.DeleteFunc(slices.Clone(list), func(s order.Stated) bool {
		return s.Quantity.IsPoint() && (slices.Contains(gets, s.Name) || slices.Contains(means, s.Name))
	}))
}

func part(name string, s *order.Stated) string {
	if s == nil {
		return ""
	}
	return " " + name + " " + plain(s.Quantity)
}

func stepWords(list []order.Step) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, strings.TrimSpace(fmt.Sprintf("%d:", s.Number)+part("rate", s.Rate)+part("for", s.Duration)+part("volume", s.Volume)))
	}
	return strings.Join(parts, ", ")
}

func controlledWords(c *order.PatientControlled) string {
	if c == nil {
		return ""
	}
	return strings.TrimSpace(part("basal", c.Basal) + part("each", c.Demand) + part("lockout", c.Lockout) + part("at most", c.Limit) + part("in", c.Window))
}

// timingWords are the clock times, days and events of the doses. How often is
// told among the quantities.
func timingWords(o order.Order) string {
	t := o.Timing
	parts := slices.Clone(t.TimesOfDay)
	slices.Sort(parts)
	days := slices.Clone(t.DaysOfWeek)
	slices.Sort(days)
	parts = append(parts, days...)
	for _, w := range t.When {
		parts = append(parts, notation.When(w))
	}
	for _, e := range t.Events {
		parts = append(parts, notation.Instant(e.UTC(), ""))
	}
	if t.Frequency > 0 {
		parts = append(parts, fmt.Sprintf("%d to %d in", t.Frequency, max(t.Frequency, t.FrequencyMax)), plain(t.Period))
	}
	return strings.Join(parts, ", ")
}

// readingWords are the numbers read from words, wherever they stand.
func readingWords(o order.Order) string {
	var parts []string
	for _, r := range o.Readings {
		if r.Field == "condition" {
			continue
		}
		parts = append(parts, strings.Join(strings.Fields(notation.Name(r.Field)+" "+r.Value+" "+r.Low+" "+r.High+" "+notation.UnitWords(r.Unit)+" "+r.Role), " "))
	}
	slices.Sort(parts)
	return strings.Join(slices.Compact(parts), ", ")
}

// unreadWords are words of the directions that nobody but a person can read.
func unreadWords(v *version) string {
	if v.sheet == nil {
		return ""
	}
	var parts []string
	for _, u := range v.sheet.Unused {
		if words, ok := strings.CutPrefix(u.Reason, "words not understood: "); ok {
			parts = append(parts, words)
		}
	}
	slices.Sort(parts)
	return strings.Join(parts, " | ")
}
