package alertload_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

// removal takes one thing out of a complete order. The codes it must bring,
// and no other, are those of the table of checks.
type removal struct {
	what  string
	from  func(o complete) bool      // of which orders; nil: all
	clock func(o complete) time.Time // when it is judged; nil: as drawn
	take  func(list []object) []object
	at    finding.Stage
	codes []string
	notes bool // compare findings of gate note too
}

// gone leaves out the resources of these ids.
func gone(ids ...string) func([]object) []object {
	return func(list []object) []object {
		return slices.DeleteFunc(list, func(r object) bool {
			return slices.ContainsFunc(ids, func(id string) bool {
				return r["id"] == id || strings.HasSuffix(id, "*") && strings.HasPrefix(r["id"].(string), strings.TrimSuffix(id, "*"))
			})
		})
	}
}

// changed edits every resource of an id.
func changed(id string, f func(object)) func([]object) []object {
	return func(list []object) []object {
		for _, r := range list {
			if r["id"] == id || strings.HasSuffix(id, "*") && strings.HasPrefix(r["id"].(string), strings.TrimSuffix(id, "*")) {
				f(r)
			}
		}
		return list
	}
}

func lacking(name string) func(object) { return func(r object) { delete(r, name) } }

func instruction(f func(object)) func([]object) []object {
	return changed("order", func(r object) { f(r["dosageInstruction"].([]object)[0]) })
}

func repeat(f func(object)) func([]object) []object {
	return instruction(func(d object) { f(d["timing"].(object)["repeat"].(object)) })
}

func both(list ...func([]object) []object) func([]object) []object {
	return func(all []object) []object {
		for _, f := range list {
			all = f(all)
		}
		return all
	}
}

func named(names ...string) func(complete) bool {
	return func(o complete) bool { return slices.Contains(names, o.card.name) }
}

func elastomeric(o complete) bool { return o.card.device == "elastomeric" }

var removals = []removal{
	{what: "the allergy statement", take: gone("a"), codes: []string{"record-patient-data-missing-allergy"}},
	{what: "the line", take: gone("line", "use", "placing"), codes: []string{"record-access-missing"}},
	{what: "the word that the tip is confirmed", from: func(o complete) bool { return o.access.central && !o.card.central }, at: finding.Dispatch,
		take: changed("placing", lacking("outcome")), codes: []string{"access-tip-unconfirmed-other"}},
	{what: "the care team", take: gone("team"), codes: []string{"record-follower-missing"}},
	{what: "the telephone", at: finding.Dispatch, take: changed("p", lacking("telecom")), codes: []string{"record-home-contact-missing"}},
	{what: "the indication", take: changed("order", lacking("reasonCode")), codes: []string{"record-indication-missing"}},
	{what: "the prescriber", take: changed("order", lacking("requester")), codes: []string{"record-element-missing"}},
	{what: "the end", from: func(o complete) bool { return o.card.anti && o.doses > 1 && o.access.central }, take: repeat(func(r object) { delete(r["boundsPeriod"].(object), "end") }), codes: []string{"record-end-missing"}},
	{what: "infusion time and rate", from: func(o complete) bool { return !o.continuous() }, take: both(repeat(func(r object) { delete(r, "duration"); delete(r, "durationUnit") }),
		instruction(func(d object) { delete(d["doseAndRate"].([]object)[0], "rateQuantity") })), codes: []string{"record-element-missing"}},
	{what: "the route", take: instruction(func(d object) { delete(d, "route") }), codes: []string{"record-element-missing"}},
	{what: "the nominal rate", from: elastomeric, take: changed("device", func(r object) {
		r["parameter"] = slices.DeleteFunc(r["parameter"].([]object), func(p object) bool { return p["code"].(object)["text"] == "nominal-rate" })
	}), codes: []string{"device-missing"}},
	{what: "the laboratory orders", from: named("vancomycin", "gentamicin", "tobramycin", "amikacin"), take: gone("lab-*"), codes: []string{"therapy-monitoring"}},
	{what: "the drug level among the laboratory orders", from: named("vancomycin"), take: gone("lab-2"), codes: []string{"therapy-monitoring"}},
	{what: "who receives the results", from: func(o complete) bool { return len(o.card.tests) > 0 }, take: both(changed("lab-*", lacking("extension")), changed("team", func(r object) {
		p := r["participant"].([]object)[0]
		p["role"] = p["role"].([]object)[:1]
	})), codes: []string{"therapy-monitoring-recipient"}},
	{what: "the doses given in hospital", from: func(o complete) bool { return !o.card.backup }, at: finding.Start, take: gone("given-*"), codes: []string{"therapy-first-dose"}},
	{what: "the time zone", take: changed("p", func(r object) {
		a := r["address"].([]object)[0]
		delete(a, "extension")
		delete(a, "state")
	}), codes: []string{"schedule-zone-unknown"}},
	{what: "the second check", from: func(o complete) bool { return o.card.check }, take: gone("checked", "c1", "c2"), codes: []string{"second-check"}},
	{what: "the fluid that goes with it", from: named("acyclovir"), take: gone("with-*"), codes: []string{"therapy-companion-missing-minor"}},
	{what: "the second pump", from: func(o complete) bool { return o.card.backup }, at: finding.Dispatch, take: gone("device-2"), codes: []string{"device-backup-missing"}},
	{what: "the plan for the line, three days before the end", at: finding.Close, take: gone("plan"), clock: func(o complete) time.Time { return o.end.Add(-71 * time.Hour) }, from: func(o complete) bool { return o.doses*o.card.hours > 96 }, codes: []string{"access-removal-plan"}},
	{what: "the specialist's note", from: func(o complete) bool { return o.card.anti }, take: gone("consult"), codes: []string{"record-review-missing"}, notes: true},
	{what: "the quantity", take: changed("order", lacking("dispenseRequest")), codes: []string{"schedule-quantity-absent"}, notes: true},
}

// found is the set to compare: what a person must act on, with notes where
// the removal asks for them.
func (x removal) found(w worksheet.Worksheet) []string {
	out := actionable(w)
	if x.notes {
		for _, f := range w.Findings {
			if f.Gate == string(finding.Note) {
				out = append(out, f.Code)
			}
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func TestOneThingTakenOutIsExactlyWhatIsFound(t *testing.T) {
	ref := reference(t)
	for _, x := range removals {
		t.Run(x.what, func(t *testing.T) {
			at := x.at
			if at == "" {
				at = finding.Release
			}
			asked, wrong := 0, map[string]int{}
			for i := 0; asked < 60 && i < orders; i++ {
				o := draw(i)
				if x.from != nil && !x.from(o) {
					continue
				}
				asked++
				if x.clock != nil {
					o.now = x.clock(o)
				}
				spoiled := x.take(o.resources())
				before := x.found(judge(t, ref, o, o.resources(), at))
				after := x.found(judge(t, ref, o, spoiled, at))
				news := slices.DeleteFunc(slices.Clone(after), func(c string) bool { return slices.Contains(before, c) })
				if !slices.Equal(news, x.codes) {
					wrong[fmt.Sprintf("%v of %s", news, o.card.name)]++
				}
			}
			assert.Positive(t, asked)
			assert.Empty(t, wrong, "of %d orders; want %v", asked, x.codes)
		})
	}
}
