package r4

import (
	"cmp"
	"slices"
	"strconv"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/schedule"
)

// instruction is one dosageInstruction as read, before it is known how the
// several of an order belong together.
type instruction struct {
	node     element.Node
	sequence int
	asNeeded bool
	timing   schedule.Timing
	timed    bool // it says when or how often
	doses    []order.Stated
	rates    []order.Stated
	duration *order.Stated  // infusion time of one administration
	pace     []order.Stated // interval, doses per day, count
	steps    []order.Step
	caps     []order.Stated
	course   order.Course
}

// readInstructions reads every dosageInstruction and then decides how they
// belong together: rates that follow each other, doses on the patient's
// demand beside a rate, or one set of statements. Doses are never added up
// and none is picked (https://hl7.org/fhir/R4/dosage.html).
func (o *orderScope) readInstructions() {
	for _, n := range o.res.node.Get("dosageInstruction").Each() {
		if n.Kind() == element.Object {
			o.instructions = append(o.instructions, o.readInstruction(n))
		}
	}
	if basis := extensionValue(o.res.node, mcodeBasis); o.out.DoseBasis == "" && concept(basis).Code(snomed) == "301898006" {
		o.out.DoseBasis = "body-surface-area"
	}
	list := slices.Clone(o.instructions)
	slices.SortStableFunc(list, func(a, b instruction) int { return cmp.Compare(a.sequence, b.sequence) })
	switch {
	case o.patientControlled(list):
	case o.rateSteps(list):
	default:
		for _, i := range list {
			o.stateAll(i)
		}
		o.oneTimetable(list)
	}
	o.readCourse(list)
}

// stateAll adds everything an instruction states.
func (o *orderScope) stateAll(i instruction) {
	s := &o.out.Stated
	*s = append(*s, i.doses...)
	*s = append(*s, i.rates...)
	if i.duration != nil {
		*s = append(*s, *i.duration)
	}
	*s = append(*s, i.pace...)
	o.out.Steps = append(o.out.Steps, i.steps...)
}

func (o *orderScope) readInstruction(n element.Node) instruction {
	i := instruction{node: n}
	if v, err := strconv.Atoi(n.Get("sequence").Literal()); err == nil {
		i.sequence = v
	}
	i.asNeeded = n.Get("asNeededBoolean").Literal() == "true" || n.Get("asNeededCodeableConcept").Exists()
	o.out.Directions = append(o.out.Directions, order.Direction{Sequence: i.sequence, Text: n.Get("text").Text(), AsNeeded: i.asNeeded, Place: n.Place()})
	o.line(n.Get("text"), "dosage-text")
	o.line(n.Get("patientInstruction"), "patient-instruction")
	for _, a := range n.Get("additionalInstruction").Each() {
		o.conceptLines(a, "additional-instruction")
	}
	o.conceptLines(n.Get("asNeededCodeableConcept"), "additional-instruction")
	o.conceptLines(n.Get("site"), "site-text")
	o.conceptLines(n.Get("method"), "method-text")
	if route := concept(n.Get("route")); !route.Absent() {
		if !o.out.Route.Absent() && !shareCode(route, o.out.Route) && route.Name() != o.out.Route.Name() {
			o.fault("record-sources-disagree", n.Get("route"), route.Name(), o.out.Route.Name(), "two instructions of one order name different routes",
				o.out.Route.Place.Expression)
		}
		if o.out.Route.Absent() {
			o.out.Route = route
		}
	}
	o.readTiming(n.Get("timing"), &i)
	for _, dr := range n.Get("doseAndRate").Each() {
		if dr.Kind() == element.Object {
			o.readDoseAndRate(dr, &i)
		}
	}
	o.readRateSteps(n, &i)
	o.readCaps(n, &i)
	if v := extension(n, ours+"access-lumen"); v.Exists() {
		o.out.Lumen = extensionValue(v, "lumen").Text()
		if ref := extensionValue(v, "device"); ref.Exists() {
			o.out.AccessDevice = o.nameOf(ref, o.res)
			o.mustBelong(o.follow(ref), ref)
		}
	}
	return i
}

// oneTimetable takes the timing of the instructions that are not as needed.
// Two that differ are two timetables, and nothing says which one holds.
func (o *orderScope) oneTimetable(list []instruction) {
	var first *instruction
	for k := range list {
		i := &list[k]
		if !i.timed {
			continue
		}
		switch {
		case first == nil || first.asNeeded && !i.asNeeded:
			first = i
		case !i.asNeeded && !sameTiming(first.timing, i.timing):
			o.fault("record-sources-disagree", i.node.Get("timing"), "a second timetable in one order", "one timetable, or an order for each",
				"two instructions of one order have different timetables", first.node.Get("timing").Expression())
		}
	}
	if first != nil {
		o.out.Timing, o.out.TimingPlace = first.timing, first.node.Get("timing").Place()
	}
}

// line keeps words as a witness of their kind.
func (o *orderScope) line(n element.Node, kind string) {
	if n.Text() != "" {
		o.out.Lines = append(o.out.Lines, order.Line{Words: n.Text(), Kind: kind, Place: n.Place()})
	}
}

// conceptLines keeps the text of a concept, or its displays when it has none.
func (o *orderScope) conceptLines(n element.Node, kind string) {
	if n.Get("text").Text() != "" {
		o.line(n.Get("text"), kind)
		return
	}
	for _, k := range n.Get("coding").Each() {
		o.line(k.Get("display"), kind)
	}
}

// readOrderTexts keeps the words of the order outside its instructions.
func (o *orderScope) readOrderTexts() {
	n := o.res.node
	for _, note := range n.Get("note").Each() {
		o.line(note.Get("text"), "note")
	}
	if o.medication != nil {
		o.line(o.medication.node.Get("code").Get("text"), "medication-text")
		for _, i := range o.medication.node.Get("ingredient").Each() {
			o.line(i.Get("itemCodeableConcept").Get("text"), "ingredient-text")
		}
	} else {
		o.conceptLines(n.Get("medicationCodeableConcept"), "medication-text")
	}
}
