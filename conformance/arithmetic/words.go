package arithmetic

import (
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

var wordsFor = [nameCount]string{"dose", "dose per kg", "dose per m²", "dosing weight", "body surface area",
	"concentration", "volume", "rate", "drug rate", "drug rate per kg", "infusion time", "interval", "doses per day",
	"daily dose", "daily dose per kg", "doses in the course", "length of the course"}

// Words is a NAME as people read it: "infusion time" for duration.
func Words(name string) string {
	if at := indexOf(name); at >= 0 {
		return wordsFor[at]
	}
	return name
}

// show writes base units of a claim's quantity for people, in the unit it
// was stated in.
func show(n quantity.Number, unit quantity.Unit) string {
	return notation.Code(short(unit.FromBase(n)), unit.Code())
}

// short writes a number exactly when that needs at most 5 significant
// digits, else rounded to 4.
func short(n quantity.Number) string {
	if n.RoundDigits(5).Equal(n) {
		return n.Significant(5)
	}
	return n.Significant(4)
}

// words writes a relation: "rate = volume ÷ infusion time", and the same
// with the numbers filled in.
func (c check) words(list []claim) (formula, shown string) {
	if c.isPair() {
		a, b := list[c.claims[0]], list[c.claims[1]]
		unit := a.first().Quantity.Unit
		return "two statements of the " + wordsFor[a.at], fmt.Sprintf("%s and %s", show(a.value(), unit), show(b.value(), b.first().Quantity.Unit))
	}
	head := c.claims[0]
	var over, under, overShown, underShown []string
	for _, i := range c.claims {
		k := list[i]
		text := show(k.value(), k.first().Quantity.Unit)
		switch {
		case i == head:
		case c.power(list, i) != c.power(list, head):
			over, overShown = append(over, wordsFor[k.at]), append(overShown, text)
		default:
			under, underShown = append(under, wordsFor[k.at]), append(underShown, text)
		}
	}
	side := func(over, under []string) string {
		s := strings.Join(over, " × ")
		if s == "" {
			s = "1"
		}
		for _, u := range under {
			s += " ÷ " + u
		}
		return s
	}
	h := list[head]
	unit := h.first().Quantity.Unit
	formula = wordsFor[h.at] + " = " + side(over, under)
	shown = fmt.Sprintf("%s is %s, stated as %s", side(overShown, underShown), show(nominal(list, c, head), unit), show(h.value(), unit))
	return formula, shown
}

// others lists the quantities that stand against claim i in the relation.
func (c check) others(list []claim, i int) string {
	var names []string
	for _, j := range c.claims {
		if j != i {
			names = append(names, wordsFor[list[j].at])
		}
	}
	slices.Sort(names)
	names = slices.Compact(names)
	if len(names) == 1 {
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// culprit is who an explanation blames, without the words.
func (e explanation) culprit(list []claim, named bool) finding.Culprit {
	i := e.claims[0]
	c := list[i]
	unit := c.first().Quantity.Unit
	k := finding.Culprit{Name: Names[c.at], Unit: unit.Code(), Signature: e.slip.name, Named: named, Expression: c.first().Place.Expression}
	for _, j := range e.claims[1:] {
		k.With = append(k.With, Names[list[j].at])
	}
	return k
}

// describe adds what people read: the numbers and the sentence.
func (e explanation) describe(list []claim, k finding.Culprit) finding.Culprit {
	i := e.claims[0]
	c := list[i]
	unit := c.first().Quantity.Unit
	k.Stated, k.Consistent = unit.FromBase(c.value()).Decimal(), short(unit.FromBase(e.nominal))
	name, stated, consistent := wordsFor[c.at], show(c.value(), unit), show(e.nominal, unit)
	if c.first().Witness == order.Computed && c.first().Label != "" {
		name += " as the " + c.first().Label
	}
	agrees := fmt.Sprintf("the %s that agrees with %s is %s", name, e.by.others(list, i), consistent)
	switch e.slip.name {
	case Neighbour:
		k.Sentence = fmt.Sprintf("%s is the %s%s typed as the %s; %s.", k.Stated, wordsFor[e.slip.of], inUnit(e.slip.of), name, agrees)
	case Transposed:
		k.Sentence = fmt.Sprintf("%s has two digits exchanged; %s.", stated, agrees)
	case NoSignature:
		k.Sentence = fmt.Sprintf("If the %s %s is wrong, %s.", name, stated, agrees)
	default:
		k.Sentence = fmt.Sprintf("The %s %s %s; %s.", name, stated, signatureWords(e.slip.name, c.value(), e.nominal), agrees)
	}
	switch {
	case e.carried:
		k.Sentence += " What was worked out from it is wrong with it: " + strings.Join(slices.Compact(wordList(k.With)), ", ") + "."
	case len(k.With) > 0:
		k.Sentence += " At least one more number is wrong: " + strings.Join(wordList(k.With), ", ") + "."
	}
	return k
}

func inUnit(at int) string {
	if units := printed[at]; len(units) > 0 {
		return " (" + notation.UnitWords(units[0]) + ")"
	}
	return ""
}

func wordList(names []string) []string {
	var out []string
	for _, n := range names {
		out = append(out, Words(n))
	}
	return out
}

func signatureWords(name string, stated, needed quantity.Number) string {
	more := needed.Less(stated)
	pick := func(up, down string) string {
		if more {
			return up
		}
		return down
	}
	switch name {
	case Tenfold:
		return pick("is ten times what agrees", "is a tenth of what agrees")
	case Thousandfold:
		return pick("is a thousand times what agrees", "is a thousandth of what agrees")
	case DayAsHour:
		return pick("is 24 times what agrees: an amount per day typed as per hour", "is a 24th of what agrees: an amount per hour typed as per day")
	case MinutesAsHours:
		return pick("is 60 times what agrees: minutes and hours exchanged", "is a 60th of what agrees: minutes and hours exchanged")
	case Pounds:
		return pick("is 2.2 times what agrees: pounds typed as kilograms", "is what agrees divided by 2.2: kilograms typed as pounds")
	case DailyTotal:
		return "is the total of a day given as each dose, or a dose given as the total of a day"
	case CourseTotal:
		return "is the total of the course given as one day"
	case OtherStrength:
		return "belongs to another known concentration of the drug"
	}
	return "does not agree"
}
