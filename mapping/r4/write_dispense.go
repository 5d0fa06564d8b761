package r4

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/worksheet"
)

const supplyType = "http://terminology.hl7.org/CodeSystem/v3-ActCode"

// writeDispenses writes one MedicationDispense for each delivery due
// (https://hl7.org/fhir/R4/medicationdispense.html). With a block there is
// one, for the first delivery; an order that is held has one even when no
// delivery could be planned, so that the hold is seen.
func (b *bundler) writeDispenses() []entry {
	deliveries := b.w.Deliveries
	if len(deliveries) == 0 && b.held {
		deliveries = []worksheet.Delivery{{}}
	}
	if b.blocked {
		deliveries = deliveries[:1]
	}
	var out []entry
	for i, d := range deliveries {
		e := b.make("MedicationDispense", "delivery")
		e.fields = b.dispense(e, d, i)
		out = append(out, e)
	}
	return out
}

// dispense has no whenPrepared and no performer: nothing has been made and
// nobody has signed.
func (b *bundler) dispense(e entry, d worksheet.Delivery, i int) []element.Field {
	status, why, words := "preparation", element.Value{}, element.Value{}
	if b.held {
		status = "on-hold"
		if len(b.issues) > 0 {
			why = own(b.issues[0].entry)
		} else {
			words = codeable("", "", "", "Not released: the verdict is "+b.w.Verdict)
		}
	}
	var issues []element.Value
	for _, x := range b.issues {
		issues = append(issues, own(x.entry))
	}
	units, days := element.Value{}, element.Value{}
	if b.counts() && d.Units > 0 {
		units = counted(d.Units, "dose")
		if d.DaysSupply > 0 {
			days = decimal(strconv.Itoa(d.DaysSupply), "d")
		}
	}
	home := b.home()
	return []element.Field{
		element.F("meta", profile(known(b.w.Refs.Patient) && b.drug().Code(rxnorm) != "", "medicationdispense")),
		element.F("contained", element.List(b.medication(), home)),
		element.F("identifier", ownIdentifier(e)),
		element.F("status", element.Str(status)),
		element.F("statusReasonCodeableConcept", words),
		element.F("statusReasonReference", why),
		element.F("category", codeable("http://terminology.hl7.org/fhir/CodeSystem/medicationdispense-category", "community", "Community", "")),
		element.F("medicationReference", element.Obj(element.F("reference", element.Str("#medication")))),
		element.F("subject", b.patient()),
		element.F("context", b.encounter()),
		element.F("authorizingPrescription", element.List(b.order())),
		element.F("type", b.fill(d, i)),
		element.F("quantity", units),
		element.F("daysSupply", days),
		element.F("destination", element.When(!home.Empty(), element.Obj(element.F("reference", element.Str("#home"))))),
		element.F("note", deliveryNotes(b.w, d)),
		element.F("dosageInstruction", element.List(b.dosages(d)...)),
		element.F("detectedIssue", element.List(issues...)),
		element.F("eventHistory", element.List(own(b.proof))),
	}
}

// counts reports whether the number of doses of a delivery may be given: it
// follows from how often a dose is due.
func (b *bundler) counts() bool {
	return !b.disputed("interval", "dosesPerDay", "doseCount", "courseLength", "homeQuantity")
}

// fill is the v3-ActPharmacySupplyType code. "Complete" and "part fill" are
// defined against one full repetition of the ordered amount, so they are
// said only when that amount was stated and both counts are certain; else
// the plain first fill or refill.
func (b *bundler) fill(d worksheet.Delivery, i int) element.Value {
	o := b.w.Refs.Source.Ordered
	whole := 0
	switch {
	case o.First > 0 && i == 0:
		whole = o.First
	case o.First > 0 && o.Repeats > 0:
		whole = (o.Doses - o.First) / o.Repeats
	case o.First == 0:
		whole = o.Doses / (max(o.Repeats, 0) + 1)
	}
	code, display := "FF", "First Fill"
	if i > 0 {
		code, display = "RF", "Refill"
	}
	switch {
	case whole <= 0 || d.Units <= 0 || !b.counts() || b.disputed("orderedQuantity"):
	case d.Units < whole:
		code, display = code+"P", display+" - Part Fill"
	default:
		code, display = code+"C", display+" - Complete"
	}
	return codeable(supplyType, code, display, "")
}

func deliveryNotes(w worksheet.Worksheet, d worksheet.Delivery) element.Value {
	var says []string
	if d.Arrival != "" {
		says = append(says, "Arrives by "+w.Moment(d.Arrival))
	}
	if d.StartBefore != "" {
		says = append(says, "Start before "+w.Moment(d.StartBefore))
	}
	if d.FinishBy != "" {
		says = append(says, "Finish by "+w.Moment(d.FinishBy))
	}
	if d.Says != "" {
		says = append(says, upperFirst(d.Says))
	}
	if len(says) == 0 {
		return element.Value{}
	}
	return element.List(element.Obj(element.F("text", element.Str(sentences(says...)))))
}

// sentences joins texts, each with one full stop.
func sentences(texts ...string) string {
	var out []string
	for _, t := range texts {
		if t = strings.TrimRight(strings.TrimSpace(t), "."); t != "" {
			if !strings.HasSuffix(t, "?") && !strings.HasSuffix(t, "!") {
				t += "."
			}
			out = append(out, t)
		}
	}
	return strings.Join(out, " ")
}

func upperFirst(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}
