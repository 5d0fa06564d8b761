package reconciliation

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
)

// difference is one thing that is another than before, old and new in words.
type difference struct {
	name, old, now string
	// means: a concentration, a volume or a rate in mL, which may change
	// together and leave what the patient gets as it was.
	means bool
	place string
}

// changed: row m2, on recomputed quantities. What is compared is what the
// patient gets; how the message is written is not.
func changed(p *pair) (a answer) {
	if p.was == nil || p.now == nil || p.state != Changed || p.now.replaced {
		return a
	}
	list := differences(p.was, p.now)
	if len(list) == 0 {
		return a
	}
	code, place := "nightly-changed", p.place()
	if !slices.ContainsFunc(list, func(d difference) bool { return !d.means }) && sameDose(p.was, p.now) {
		code = "nightly-changed-minor"
	}
	var old, now []string
	for _, d := range list {
		old, now = append(old, d.name+" "+d.old), append(now, d.name+" "+d.now)
	}
	if list[0].place != "" {
		place.Expression, place.Line, place.Column, place.Span = list[0].place, 0, 0, [2]int{}
	}
	next := p.beforeNext()
	if code == "nightly-changed-minor" {
		a.found("nightly-changed-minor", place, "now "+strings.Join(now, ", "), "before "+strings.Join(old, ", ")+"; the dose is the same, pump sheet and units are not")
		a.ask("pump-sheet", next, "now "+strings.Join(now, ", ")+", before "+strings.Join(old, ", "))
		if p.stock.most > 0 || !p.stock.known {
			a.ask("call-patient", next, "units at home are of the old concentration: which of them may still be used, and at which rate?")
		}
		if p.stock.pharmacy+p.stock.way > 0 {
			a.ask("quarantine-pharmacist", p.clock(), counted(p.stock.pharmacy+p.stock.way, "unit", "units")+" of the old concentration")
		}
		return a
	}
	a.found("nightly-changed", place, "now "+strings.Join(now, ", "), "as held: "+strings.Join(old, ", "))
	if p.stops() { // m1 says so and asks
		return a
	}
	a.ask("dispatch-block", p.clock(), "the order changed: nothing leaves until it is judged again")
	a.ask("call-prescriber", next, "the order changed: "+strings.Join(now, ", "))
	if p.stock.most > 0 || !p.stock.known {
		a.ask("call-patient", next, "the order changed: start no unit of the old one until told")
	}
	return a
}

// stops: tonight's order is one that m1 speaks of.
func (p *pair) stops() bool {
	return p.now != nil && (stops[p.now.order.Status] != "" || p.now.order.Status == "completed" || p.now.order.DoNotPerform)
}

// means are the quantities that may change together and leave the dose as it
// was; the others are what the patient gets, how often and how long.
var means = []string{"concentration", "volume", "rate", "fill", "residual", "nominalRate"}

// gets are the quantities of what the patient gets, in the order of telling.
var gets = []string{"dose", "drugRate", "duration", "interval", "dosesPerDay", "dailyDose", "courseLength", "orderedQuantity"}

// differences between two versions of one order, the dose first.
func differences(was, now *version) []difference {
	var out []difference
	add := func(name, old, new, place string) {
		if old != new {
			out = append(out, difference{name: name, old: cmp.Or(old, "not stated"), now: cmp.Or(new, "not stated"), place: place})
		}
	}
	continuous := verification.IsContinuous(was.order, was.numbers()) && verification.IsContinuous(now.order, now.numbers())
	for _, name := range slices.Concat(gets, means) {
		a, okA := was.numbers()[name]
		b, okB := now.numbers()[name]
		if !okA && !okB || sameQuantity(a, b) && okA == okB {
			continue
		}
		d := difference{name: notation.Name(name), old: words(a, okA), now: words(b, okB), means: slices.Contains(means, name), place: b.Place.Expression}
		if name == "nominalRate" {
			d.name = "flow of the device"
		}
		// What a container of a running infusion lasts and holds follows from
		// its volume and is not ordered, where nobody states it.
		if continuous && (name == "dose" || name == "duration" || name == "interval") && !a.Stated && !b.Stated {
			d.means = true
		}
		// A device of another flow runs another time, unless the rate that is
		// needed changed with it.
		if name == "nominalRate" {
			d.means = slices.ContainsFunc(out, func(x difference) bool { return x.name == notation.Name("rate") })
		}
		// What is given in a day follows from dose and interval, told already.
		if (name == "dailyDose" || name == "dosesPerDay") && !a.Stated && !b.Stated && len(out) > 0 {
			continue
		}
		// Worked out on one side alone: the values of its relation differ and
		// are told themselves.
		if okA != okB && !a.Stated && !b.Stated {
			continue
		}
		out = append(out, d)
	}
	x, y := was.order, now.order
	add("drug", drugWords(x.Drug), drugWords(y.Drug), y.Drug.Place.Expression)
	if !slices.ContainsFunc(out, func(d difference) bool { return d.means || d.name == "drug" }) { // else its numbers are told already
		add("contents", madeOf(x.Drug), madeOf(y.Drug), y.Drug.Place.Expression)
	}
	add("fluid", fluids(x.Drug), fluids(y.Drug), y.Drug.Place.Expression)
	add("route", conceptWords(x.Route), conceptWords(y.Route), y.Route.Place.Expression)
	add("times", timingWords(x), timingWords(y), y.TimingPlace.Expression)
	add("start", instantWords(x.Course.Start), instantWords(y.Course.Start), y.Course.Start.Place.Expression)
	add("end", instantWords(x.Course.End), instantWords(y.Course.End), y.Course.End.Place.Expression)
	add("number of doses", countWords(x.Course.Count), countWords(y.Course.Count), y.Course.Place.Expression)
	add("device", deviceWords(x.Device), deviceWords(y.Device), y.Device.Place.Expression)
	add("steps", stepWords(x.Steps), stepWords(y.Steps), y.Place.Expression)
	add("patient-controlled doses", controlledWords(x.Controlled), controlledWords(y.Controlled), y.Place.Expression)
	add("largest dose", statedWords(x.Caps), statedWords(y.Caps), y.Place.Expression)
	add("as needed", asNeeded(x), asNeeded(y), y.Place.Expression)
	add("stated besides", besides(x.Stated), besides(y.Stated), y.Place.Expression)
	add("dose reckoned by", x.DoseBasis, y.DoseBasis, y.Place.Expression)
	add("line", was.line, now.line, y.Place.Expression)
	add("pharmacy", referenceWords(x.Dispenser), referenceWords(y.Dispenser), y.Place.Expression)
	if !over(y.Status) { // a stop is m1; an order that is given again after one is a change
		add("status", x.Status, y.Status, y.StatusPlace.Expression)
	}
	add("intent", x.Intent, y.Intent, y.IntentPlace.Expression)
	if len(out) == 0 {
		add("numbers in words", readingWords(x), readingWords(y), y.Place.Expression)
		add("directions", unreadWords(was), unreadWords(now), y.Place.Expression)
	}
	return out
}

// sameDose: what the patient gets is the same as before by the numbers of
// both sides, and none of them is disputed. Running infusions are the same by
// drug per time alone; doses by the dose, and by drug per time or by duration.
func sameDose(was, now *version) bool {
	equal := func(name string) bool {
		a, okA := was.numbers()[name]
		b, okB := now.numbers()[name]
		return okA && okB && !a.Disputed && !b.Disputed && sameQuantity(a, b)
	}
	if verification.IsContinuous(was.order, was.numbers()) && verification.IsContinuous(now.order, now.numbers()) {
		return equal("drugRate") || equal("dose") && equal("duration")
	}
	return equal("dose") && (equal("drugRate") || equal("duration"))
}

// sameQuantity compares the value exactly, in base units: how precisely it was
// printed is no change (2 g is 2,000 mg), and ranges that somebody wrote are
// compared as they were written. A disputed value equals only a disputed one.
func sameQuantity(a, b order.Quantity) bool {
	if a.Unit.IsZero() || b.Unit.IsZero() {
		return a.Unit.IsZero() == b.Unit.IsZero()
	}
	return a.Unit.Dimension() == b.Unit.Dimension() && a.Disputed == b.Disputed && a.Unit.ToBase(a.Value).Equal(b.Unit.ToBase(b.Value))
}

func words(q order.Quantity, known bool) string {
	if !known || q.Unit.IsZero() {
		return "not known"
	}
	text := notation.Code(q.Value.Significant(6), q.Unit.Code())
	if q.Disputed {
		text += " (disputed)"
	}
	return text
}

func countWords(n int) string {
	if n == 0 {
		return ""
	}
	return counted(n, "dose", "doses")
}

func asNeeded(o order.Order) string {
	for _, d := range o.Directions {
		if d.AsNeeded {
			return "yes"
		}
	}
	return "no"
}

func instantWords(i order.Instant) string {
	switch {
	case i.Absent():
		return ""
	case i.DateOnly:
		return notation.Date(i.Time)
	}
	return notation.Instant(i.Time.UTC().Truncate(time.Second), "")
}
