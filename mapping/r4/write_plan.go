package r4

import (
	"fmt"
	"html"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
)

// writePlan writes the CarePlan that holds the home part of the course
// together (https://hl7.org/fhir/R4/careplan.html). It is a draft: a person
// releases. Supply requests cannot be its activities in R4; the parent task
// leads to them.
func (b *bundler) writePlan(activities []entry) {
	var list, cautions []element.Value
	for _, e := range activities {
		list = append(list, element.Obj(element.F("reference", own(e))))
	}
	for _, c := range b.w.Cautions {
		cautions = append(cautions, element.Obj(element.F("text", element.Str(c))))
	}
	s := b.w.Schedule
	end := s.LastDose
	if s.EndsAt != "" {
		end = s.EndsAt
	}
	b.plan.fields = []element.Field{
		element.F("meta", profile(known(b.w.Refs.Patient), "careplan")),
		element.F("text", element.Obj(element.F("status", element.Str("generated")), element.F("div", element.Str(b.narrative())))),
		element.F("identifier", ownIdentifier(b.plan)),
		element.F("status", element.Str("draft")),
		element.F("intent", element.Str("plan")),
		element.F("category", element.List(codeable("http://hl7.org/fhir/us/core/CodeSystem/careplan-category", "assess-plan", "", "Assessment and plan of home infusion"))),
		element.F("title", element.Str("Home infusion: "+notation.DrugName(b.w.Order.Drug))),
		element.F("subject", b.patient()),
		element.F("encounter", b.encounter()),
		element.F("period", element.Obj(element.F("start", element.Str(s.FirstHomeDose)), element.F("end", element.Str(end)))),
		element.F("created", element.Str(b.now())),
		element.F("activity", element.List(list...)),
		element.F("note", element.List(cautions...)),
	}
}

// homeDoses is the count at home. It is not given while it is in dispute,
// nor called the whole while the end is open.
func (b *bundler) homeDoses() string {
	s := b.w.Schedule
	switch {
	case s.DoseCount == 0 || !b.counts():
		return "The doses at home are not settled"
	case !s.Complete:
		return fmt.Sprintf("The end is open; %d doses are listed", s.DoseCount)
	case s.DoseCount == 1:
		return "1 dose at home"
	}
	return fmt.Sprintf("%d doses at home", s.DoseCount)
}

// narrative is the plan in words. All text is escaped: nothing the sender
// wrote can become markup, and what XML cannot hold is replaced.
func (b *bundler) narrative() string {
	s := b.w.Schedule
	lines := []string{b.words(), b.homeDoses()}
	if s.FirstHomeDose != "" {
		lines = append(lines, "First home dose "+b.w.Moment(s.FirstHomeDose))
	}
	if s.LastDose != "" && b.counts() {
		lines = append(lines, "Last dose "+b.w.Moment(s.LastDose))
	}
	if s.EndsAt != "" {
		lines = append(lines, "Infusion ends "+b.w.Moment(s.EndsAt))
	}
	lines = append(lines, "Verdict at "+b.w.Stage+": "+b.w.Verdict)
	var out strings.Builder
	out.WriteString(`<div xmlns="http://www.w3.org/1999/xhtml">`)
	for _, l := range lines {
		if l != "" {
			out.WriteString("<p>" + html.EscapeString(strings.Map(xmlRune, l)) + "</p>")
		}
	}
	out.WriteString("</div>")
	return out.String()
}

// xmlRune keeps the characters of XML 1.0 (https://www.w3.org/TR/xml/#charsets).
func xmlRune(r rune) rune {
	if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
		return 0xFFFD
	}
	return r
}
