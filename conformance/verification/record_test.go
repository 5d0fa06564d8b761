package verification

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// fault puts a finding of the reader into the order.
func fault(code finding.Code) func(*world) {
	return func(w *world) {
		w.order.Faults = []finding.Finding{{Code: code, Place: place("dose"), Observed: "as sent", Expected: "as it should be"}}
	}
}

// conflicting takes the order's own statements through the arithmetic.
func conflicting(list ...order.Stated) func(*world) {
	return func(w *world) {
		w.order.Stated = append(w.order.Stated, list...)
		w.agreement = arithmetic.Reconcile(w.order.Stated, arithmetic.Usual{})
		w.agreement.Describe()
	}
}

// alone leaves nothing but these statements, so that no product reaches them.
func alone(list ...order.Stated) func(*world) {
	return func(w *world) {
		w.order.Stated = nil
		conflicting(list...)(w)
	}
}

func rateAt(value string, w order.Witness) order.Stated {
	return stated("drugRate", value, "mg/h", w)
}

var recordFixtures = []fixture{
	// Row a1: block for drug, dose, unit, route, timing, status, prescriber.
	{rule: "record-element-missing", name: "a complete order passes", want: Pass},
	{rule: "record-element-missing", name: "no drug", want: Found, change: func(w *world) { w.order.Drug.Name, w.order.Drug.Concept = "", order.Concept{} }},
	{rule: "record-element-missing", name: "no dose and no volume", want: Found, change: func(w *world) { w.order.Stated = w.order.Stated[2:] }},
	{rule: "record-element-missing", name: "the volume of a container is no dose", want: Found, change: func(w *world) { w.order.Stated = w.order.Stated[1:] }},
	{rule: "record-element-missing", name: "a fluid by volume needs no dose", want: Pass, change: func(w *world) {
		w.order.Stated, w.order.Drug.Name, w.order.Drug.Concept = w.order.Stated[1:], "", concept("sodium chloride 0.9 % injection")
	}},
	{rule: "record-element-missing", name: "a rate without an end has no frequency", want: Pass, change: func(w *world) {
		w.order.Timing.Frequency, w.order.Timing.Period = 0, quantity.Quantity{}
		w.order.Stated = append(w.order.Stated[:2:2], stated("rate", "20", "mL/h", order.Coded))
	}},
	{rule: "record-element-missing", name: "no route", want: Found, change: func(w *world) { w.order.Route = order.Concept{} }},
	{rule: "record-element-missing", name: "neither rate nor infusion time", want: Found, change: func(w *world) { w.order.Stated = w.order.Stated[:2] }},
	{rule: "record-element-missing", name: "no timing", want: Found, change: func(w *world) { w.order.Timing.Frequency, w.order.Timing.Period = 0, quantity.Quantity{} }},
	{rule: "record-element-missing", name: "a drip with a rate alone runs on and needs no timing", want: Pass, change: both(untimed, func(w *world) {
		w.order.Stated = []order.Stated{stated("dose", "2", "g", order.Coded), stated("rate", "5", "mL/h", order.Coded)}
	})},
	{rule: "record-element-missing", name: "a rate with an infusion time still needs a timing", want: Found, change: both(untimed, func(w *world) {
		w.order.Stated = append(w.order.Stated, stated("rate", "200", "mL/h", order.Coded))
	})},
	{rule: "record-element-missing", name: "single events are a timing", want: Pass, change: both(untimed, func(w *world) { w.order.Timing.Events = make([]time.Time, 1) })},
	{rule: "record-element-missing", name: "days of the week are a timing", want: Pass, change: both(untimed, func(w *world) { w.order.Timing.DaysOfWeek = []string{"mon"} })},
	{rule: "record-element-missing", name: "times of day are a timing", want: Pass, change: both(untimed, func(w *world) { w.order.Timing.TimesOfDay = []string{"09:00:00"} })},
	{rule: "record-element-missing", name: "a code is a timing", want: Pass, change: both(untimed, func(w *world) { w.order.Timing.Code = "Q8H" })},
	{rule: "record-element-missing", name: "a count is a timing", want: Pass, change: both(untimed, func(w *world) { w.order.Timing.Count = 1 })},
	{rule: "record-element-missing", name: "no prescriber", want: Found, change: func(w *world) { w.order.Requester = order.Person{} }},
	{rule: "record-element-missing", name: "no birth date", want: Found, change: func(w *world) { w.kase.Patient.BirthDate = order.Instant{} }},
	{rule: "record-element-missing", name: "no identifier", want: Found, change: func(w *world) { w.kase.Patient.Identifiers = nil }},
	// Row a2.
	{rule: "record-end-missing", name: "a coded end passes", want: Pass},
	{rule: "record-end-missing", name: "a count of doses passes", want: Pass, change: func(w *world) { w.order.Course = order.Course{Count: 42} }},
	{rule: "record-end-missing", name: "no end, count or period", want: Found, change: func(w *world) { w.order.Course = order.Course{Start: w.order.Course.Start} }},
	{rule: "record-indication-missing", name: "a reason passes", want: Pass},
	{rule: "record-indication-missing", name: "no reason", want: Found, change: func(w *world) { w.order.Indications = nil }},
	// Row m1: status not active, intent not order, do-not-perform.
	{rule: "record-not-active", name: "an active order passes", want: Pass},
	{rule: "record-not-active", name: "stopped", want: Found, says: "stopped", change: func(w *world) { w.order.Status = "stopped" }},
	{rule: "record-not-active", name: "entered in error", want: Found, change: func(w *world) { w.order.Status = "entered-in-error" }},
	{rule: "record-not-active", name: "a proposal is no order", want: Found, says: "proposal", change: func(w *world) { w.order.Intent = "proposal" }},
	{rule: "record-not-active", name: "do not perform", want: Found, change: func(w *world) { w.order.DoNotPerform = true }},
	{rule: "record-not-active", name: "completed is held by the other rule", want: Pass, change: func(w *world) { w.order.Status = "completed" }},
	{rule: "record-not-active-completed", name: "active passes", want: Pass},
	{rule: "record-not-active-completed", name: "completed", want: Found, change: func(w *world) { w.order.Status = "completed" }},
	// Row a3.
	{rule: "record-patient-data-missing", name: "a fixed dose needs no weight", want: NotApplicable},
	{rule: "record-patient-data-missing", name: "a dose per kilogram with a weight passes", want: Pass, change: perKilogram},
	{rule: "record-patient-data-missing", name: "a dose per kilogram without a weight", want: Found, says: "no weight", change: func(w *world) { perKilogram(w); w.kase.Measurements = nil }},
	{rule: "record-patient-data-missing", name: "a dose per square metre without a height", want: Found, says: "no height", change: func(w *world) {
		w.order.Stated = append(w.order.Stated, stated("dosePerArea", "500", "mg/m2", order.Coded))
		w.kase.Measurements = w.kase.Measurements[:1]
	}},
	{rule: "record-patient-data-missing", name: "a dose per square metre with the surface stated needs no height", want: Pass, change: func(w *world) {
		w.order.Stated = append(w.order.Stated, stated("dosePerArea", "500", "mg/m2", order.Coded), stated("bodySurfaceArea", "1.8", "m2", order.Coded))
		w.kase.Measurements = w.kase.Measurements[:1]
	}},
	{rule: "record-patient-data-missing", name: "a dose per kilogram needs no height", want: Pass, change: func(w *world) { perKilogram(w); w.kase.Measurements = w.kase.Measurements[:1] }},
	{rule: "record-patient-data-missing-allergy", name: "none known is a record", want: Pass},
	{rule: "record-patient-data-missing-allergy", name: "no statement at all", want: Found, change: func(w *world) { w.kase.Allergies = nil }},
	{rule: "record-patient-data-missing-allergy", name: "only one that is no longer active", want: Found, says: "no longer active", change: func(w *world) { w.kase.Allergies = []order.Allergy{{Substance: concept("penicillin")}} }},
	{rule: "record-patient-data-missing-allergy", name: "one that is active", want: Pass, change: func(w *world) { w.kase.Allergies = []order.Allergy{{Substance: concept("penicillin"), Active: true}} }},
	// Rows a4 to a8.
	{rule: "record-access-missing", name: "a line in use passes", want: Pass},
	{rule: "record-access-missing", name: "no line described", want: Found, change: func(w *world) { w.kase.Access = nil }},
	{rule: "record-access-missing", name: "the only line was removed", want: Found, change: func(w *world) { w.kase.Access[0].Removed = ago(oneDay) }},
	{rule: "record-follower-missing", name: "a named follower passes", want: Pass},
	{rule: "record-follower-missing", name: "a role in words passes", want: Pass, change: func(w *world) { w.kase.People[0].Roles = []string{"Follows the patient at home"} }},
	{rule: "record-follower-missing", name: "nobody follows", want: Found, change: func(w *world) { w.kase.People = nil }},
	{rule: "record-home-contact-missing", name: "telephone and address pass", want: Pass},
	{rule: "record-home-contact-missing", name: "no telephone", want: Found, says: "telephone", change: func(w *world) { w.kase.Patient.Phones = nil }},
	{rule: "record-home-contact-missing", name: "no address", want: Found, says: "address", change: func(w *world) { w.kase.Patient.Addresses = nil }},
	{rule: "record-review-missing", name: "a note passes", want: Pass},
	{rule: "record-review-missing", name: "an antimicrobial without a note", want: Found, change: func(w *world) { w.kase.Reviews = nil }},
	{rule: "record-review-missing", name: "no antimicrobial", want: NotApplicable, change: func(w *world) { w.drug.Kinds = nil }},
	{rule: "record-review-missing", name: "a drug without a row may be one", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},
	{rule: "record-age-outside-evidence", name: "28 days old passes", want: Pass, change: func(w *world) { w.kase.Patient.BirthDate = ago(28 * oneDay) }},
	{rule: "record-age-outside-evidence", name: "27 days old", want: Found, change: func(w *world) { w.kase.Patient.BirthDate = ago(27 * oneDay) }},
	{rule: "record-age-outside-evidence", name: "no birth date", want: Indeterminate, missing: Age, change: func(w *world) { w.kase.Patient.BirthDate = order.Instant{} }},
	// Row a9. The device: 200 mL per hour needed, 15 % tolerance: 230 may, 231 may not.
	{rule: "record-text-contradicts", name: "no words, nothing to contradict", want: Pass},
	{rule: "record-text-contradicts", name: "words that say the same pass", want: Pass, change: conflicting(stated("dose", "2000", "mg", order.Text))},
	{rule: "record-text-contradicts", name: "another dose in words", want: Found, says: "3 g", change: conflicting(stated("dose", "3", "g", order.Text))},
	{rule: "record-text-contradicts", name: "two texts that differ, nothing coded", want: Found, change: func(w *world) {
		other := rateAt("80", order.Text)
		other.Place = place("text[1]")
		alone(rateAt("50", order.Text), other)(w)
	}},
	{rule: "record-text-contradicts", name: "a device in words at the edge of its tolerance passes", want: Pass, change: wordedDevice("230")},
	{rule: "record-text-contradicts", name: "a device in words beyond its tolerance", want: Found, says: "231", change: wordedDevice("231")},
	{rule: "record-text-contradicts", name: "the last day in words differs", want: Found, says: "2026-12-16", change: reading("end", "2026-12-16")},
	{rule: "record-text-contradicts", name: "the last day in words is the coded one", want: Pass, change: reading("end", "2026-12-15")},
	{rule: "record-text-contradicts", name: "the coded day, without its year", want: Pass, change: reading("end", "--12-15")},
	{rule: "record-text-contradicts", name: "another day, without its year", want: Found, says: "12-16", change: reading("end", "--12-16")},
	{rule: "record-text-contradicts", name: "midnight ends the day before", want: Pass, change: both(reading("end", "2026-12-14"), endsAt("2026-12-15T00:00-05:00"))},
	{rule: "record-text-contradicts", name: "one minute later it does not", want: Found, change: both(reading("end", "2026-12-14"), endsAt("2026-12-15T00:01-05:00"))},
	{rule: "record-text-contradicts", name: "another route in words", want: Found, says: "subcutaneous", change: reading("route", "subcutaneous")},
	{rule: "record-text-contradicts", name: "the coded route in words", want: Pass, change: reading("route", "intravenous")},
	// Row a10: only a dose of the same drug counts.
	{rule: "record-last-dose-unknown", name: "a dose on record passes", want: Pass},
	{rule: "record-last-dose-unknown", name: "the drug's name with its strength passes", want: Pass, change: func(w *world) { w.kase.Administrations[0].Drug = concept("Cefazolin 2 g in saline") }},
	{rule: "record-last-dose-unknown", name: "no dose on record", want: Found, change: func(w *world) { w.kase.Administrations = nil }},
	{rule: "record-last-dose-unknown", name: "a dose of another drug is none of this one", want: Found, change: func(w *world) { w.kase.Administrations[0].Drug = rxnorm("6922", "metronidazole") }},
	{rule: "record-last-dose-unknown", name: "a saline flush is no dose of the drug", want: Found, change: func(w *world) { w.kase.Administrations[0].Drug = concept("sodium chloride 0.9 %") }},
	{rule: "record-last-dose-unknown", name: "a dose that was not done is none", want: Found, change: func(w *world) { w.kase.Administrations[0].Status = "not-done" }},
	{rule: "record-last-dose-unknown", name: "a course that begins later needs none", want: Pass, change: func(w *world) {
		w.kase.Administrations, w.order.Course.Start = nil, instant("2026-11-12T08:00-05:00")
	}},
	// Row a10, band 0.75 to 1.25 of 8 h: 6 h to 10 h.
	{rule: "record-first-dose-gap", name: "6 hours, three quarters, passes", want: Pass, change: gap(6 * time.Hour)},
	{rule: "record-first-dose-gap", name: "a minute under 6 hours", want: Found, change: gap(6*time.Hour - time.Minute)},
	{rule: "record-first-dose-gap", name: "10 hours, five quarters, passes", want: Pass, change: gap(10 * time.Hour)},
	{rule: "record-first-dose-gap", name: "a minute over 10 hours", want: Found, change: gap(10*time.Hour + time.Minute)},
	{rule: "record-first-dose-gap", name: "a dose still due before discharge is no gap", want: Pass, change: func(w *world) {
		w.plan.Gap, w.plan.Discharge = 16*time.Hour, day("2026-11-10T15:00-05:00") // 06:00 given, 14:00 due before 15:00
	}},
	{rule: "record-first-dose-gap", name: "no dose on record: the other rule speaks", want: NotApplicable, change: gap(0)},
	// Row d14, d15 and what the reader saw.
	{rule: "record-sources-disagree", name: "one source passes", want: Pass},
	{rule: "record-sources-disagree", name: "two coded drug rates", want: Found, change: alone(rateAt("50", order.Coded), rateAt("80", order.Record))},
	{rule: "record-sources-disagree", name: "two coded drug rates, and words that side with one", want: Found, change: alone(
		rateAt("50", order.Coded), rateAt("80", order.Record), rateAt("50", order.Text))},
	{rule: "record-sources-disagree", name: "words against code belong to the other rule", want: Pass, change: alone(rateAt("50", order.Coded), rateAt("80", order.Text))},
	{rule: "record-modifier-unknown", name: "no modifier passes", want: Pass},
	{rule: "record-modifier-unknown", name: "an unknown modifier", want: Found, change: func(w *world) { w.order.UnknownModifier = []finding.Place{place("modifierExtension[0]")} }},
	{rule: "record-reference-unresolved", name: "every reference found", want: Pass},
	{rule: "record-reference-unresolved", name: "a reference to nothing", want: Found, change: func(w *world) { w.order.Unresolved = []finding.Place{place("requester")} }},
}

func untimed(w *world) { w.order.Timing = schedule.Timing{} }

func perKilogram(w *world) {
	w.order.Stated = append(w.order.Stated, stated("dosePerKg", "27", "mg/kg", order.Coded))
}

func wordedDevice(rate string) func(*world) {
	return func(w *world) {
		w.order.Device.Parameters = []order.Stated{stated("nominalRate", rate, "mL/h", order.Text)}
	}
}

func reading(field, value string) func(*world) {
	return func(w *world) {
		w.order.Readings = []order.Reading{{Field: field, Value: value, Place: place("text")}}
	}
}

// A product of zero is the classic number that passes every ratio.
var impossibleFixtures = []fixture{
	{rule: "record-number-impossible", name: "a dose of zero", want: Found, says: "dose 0 g", change: alone(stated("dose", "0", "g", order.Coded))},
	{rule: "record-number-impossible", name: "the smallest dose above zero", want: Pass, change: alone(stated("dose", "0.001", "g", order.Coded))},
	{rule: "record-number-impossible", name: "a rate below zero, from words", want: Found, change: alone(stated("rate", "-5", "mL/h", order.Text))},
}

func endsAt(at string) func(*world) { return func(w *world) { w.order.Course.End = instant(at) } }

func gap(d time.Duration) func(*world) { return func(w *world) { w.plan.Gap = d } }

// readersCodes are the findings that the reader makes.
var readersCodes = []finding.Code{"record-unit-unknown", "record-number-impossible", "record-unit-ambiguous", "record-strength-ambiguous", "record-sources-disagree",
	"record-text-contradicts", "record-modifier-unknown", "record-reference-unresolved", "identity-conflict", "identity-duplicate-message", "identity-name-variant",
	"identity-name-variant-minor", "identity-other-patient"}

// No finding of the reader is lost for want of a rule that hands it on.
func TestEveryFindingOfTheReaderIsHandedOn(t *testing.T) {
	files, err := filepath.Glob("../../mapping/r4/*.go")
	require.NoError(t, err)
	code := regexp.MustCompile(`"(record|identity)-[a-z]+(-[a-z]+)*"`)
	known := map[string]bool{}
	for _, row := range finding.Codes() {
		known[string(row.Code)] = true
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") || strings.Contains(name, "write_") {
			continue
		}
		source, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range code.FindAllString(string(source), -1) {
			if m = strings.Trim(m, `"`); known[m] {
				assert.Contains(t, readersCodes, finding.Code(m), name)
			}
		}
	}
}

// carriedFixtures: what the reader found is handed on under its own code.
func carriedFixtures() []fixture {
	var out []fixture
	for _, code := range readersCodes {
		out = append(out,
			fixture{rule: code, name: "nothing found while reading", want: Pass},
			fixture{rule: code, name: "found while reading the order", want: Found, says: "as sent", change: fault(code)},
			fixture{rule: code, name: "found while reading the patient", want: Found, says: "as sent", change: func(w *world) {
				fault(code)(w)
				w.kase.Patient.Conflicts, w.order.Faults = w.order.Faults, nil
			}},
			fixture{rule: code, name: "another rule's finding is not this one's", want: Pass, change: fault("document-json")})
	}
	return out
}

func TestRecordRules(t *testing.T)  { judged(t, recordFixtures) }
func TestCarriedRules(t *testing.T) { judged(t, carriedFixtures()) }

func TestImpossibleNumbers(t *testing.T) { judged(t, impossibleFixtures) }
