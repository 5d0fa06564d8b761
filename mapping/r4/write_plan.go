package r4

import (
	"fmt"
	"html"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

var rateUnit = quantity.MustUnit("mL/h")

// writePlan writes the CarePlan that holds the home part of the course
// together (https://hl7.org/fhir/R4/careplan.html). It is a draft: a person
// releases.
func (b *bundler) writePlan(services []entry) entry {
	e := b.make("CarePlan", "home")
	var activities []element.Value
	for _, x := range append(append([]entry{}, b.tasks[:1]...), services...) {
		activities = append(activities, element.Obj(element.F("reference", own(x))))
	}
	var concerns []element.Value
	for _, c := range b.w.Cautions {
		concerns = append(concerns, element.Obj(element.F("text", element.Str(c))))
	}
	s := b.w.Schedule
	end := s.LastDose
	if s.EndsAt != "" {
		end = s.EndsAt
	}
	e.fields = []element.Field{
		element.F("text", element.Obj(element.F("status", element.Str("generated")), element.F("div", element.Str(b.narrative())))),
		element.F("identifier", ownIdentifier(e)),
		element.F("status", element.Str("draft")),
		element.F("intent", element.Str("plan")),
		element.F("category", element.List(codeable("http://hl7.org/fhir/us/core/CodeSystem/careplan-category", "assess-plan", "", "Assessment and plan of home infusion"))),
		element.F("title", element.Str("Home infusion: "+notation.DrugName(b.w.Order.Drug))),
		element.F("subject", reference(b.w.Refs.Patient)),
		element.F("encounter", reference(b.w.Refs.Encounter)),
		element.F("period", element.Obj(element.F("start", element.Str(s.FirstHomeDose)), element.F("end", element.Str(end)))),
		element.F("created", element.Str(b.now())),
		element.F("activity", element.List(activities...)),
		element.F("note", element.List(concerns...)),
	}
	return e
}

func (b *bundler) homeDoses() string {
	if b.w.Schedule.DoseCount == 1 {
		return "1 dose at home"
	}
	return fmt.Sprintf("%d doses at home", b.w.Schedule.DoseCount)
}

// narrative is the plan in words. All text is escaped: nothing the sender
// wrote can become markup.
func (b *bundler) narrative() string {
	s := b.w.Schedule
	lines := []string{b.words(), b.homeDoses()}
	if s.FirstHomeDose != "" {
		lines = append(lines, "First home dose "+b.w.Moment(s.FirstHomeDose))
	}
	if s.LastDose != "" {
		lines = append(lines, "Last dose "+b.w.Moment(s.LastDose))
	}
	if s.EndsAt != "" {
		lines = append(lines, "Infusion ends "+b.w.Moment(s.EndsAt))
	}
	lines = append(lines, "Verdict at "+b.w.Stage+": "+b.w.Verdict)
	var out strings.Builder
	out.WriteString(`<div xmlns="http://www.w3.org/1999/xhtml">`)
	for _, l := range lines {
		out.WriteString("<p>" + html.EscapeString(l) + "</p>")
	}
	out.WriteString("</div>")
	return out.String()
}
