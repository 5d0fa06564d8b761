package r4

import (
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/worksheet"
)

const taskCode = "http://hl7.org/fhir/CodeSystem/task-code"

// roles are our performer roles in words, workers the SNOMED CT occupations
// where one fits.
var (
	roles = map[string]string{"pharmacist": "Pharmacist", "nurse": "Nurse", "supply": "Supply team", "technician": "Pharmacy technician",
		"prescriber": "Prescriber", "on-call": "Person on call"}
	workers = map[string][2]string{"pharmacist": {"46255001", "Pharmacist"}, "nurse": {"106292003", "Professional nurse"}}
)

// writeTasks writes the request to fulfil the order and, as its parts, every
// task with its due time (https://hl7.org/fhir/R4/task.html). While the order
// is held, tasks that prepare, send or give anything are drafts: on-hold
// would mean in R4 that they had been started.
func (b *bundler) writeTasks() []entry {
	parent := b.make("Task", "fulfill")
	out := []entry{parent}
	for _, t := range b.w.Tasks {
		out = append(out, b.make("Task", t.Code))
	}
	due := b.w.Schedule.LastDose
	if b.w.Schedule.EndsAt != "" {
		due = b.w.Schedule.EndsAt
	}
	top := worksheet.Task{Code: "fulfill", Role: "pharmacist", Title: "Fulfil the home-infusion order", Due: due, Priority: "routine", Prepares: true}
	group := identifierValue(order.Identifier{System: "urn:ietf:rfc:3986", Value: parent.url()})
	out[0].fields = b.task(parent, top, group, nil, nil)
	for i, t := range b.w.Tasks {
		out[i+1].fields = b.task(out[i+1], t, group, []element.Value{own(parent)}, b.before(t, out[1:]))
	}
	return out
}

// before are the tasks that must be done first. Of several with one code it
// is the last one due not later than this one: a result is reviewed after
// its own blood draw.
func (b *bundler) before(t worksheet.Task, entries []entry) []element.Value {
	var out []element.Value
	due, known := dueTime(t.Due)
	for _, code := range t.After {
		at, found := time.Time{}, -1
		for i, other := range b.w.Tasks {
			if other.Code != code {
				continue
			}
			d, dated := dueTime(other.Due)
			if found < 0 || known && dated && !d.After(due) && (at.IsZero() || d.After(at)) {
				found, at = i, d
			}
		}
		if found >= 0 {
			out = append(out, extensionOf("after", "Reference", own(entries[found])))
		}
	}
	return out
}

func dueTime(s string) (time.Time, bool) {
	t, err := time.Parse(time.RFC3339, s)
	return t, err == nil
}

func (b *bundler) task(e entry, t worksheet.Task, group element.Value, partOf, after []element.Value) []element.Field {
	status := "requested"
	if b.held && t.Prepares {
		status = "draft"
	}
	codes := []element.Value{codingValue(ourCodes+"task", t.Code, t.Title)}
	if partOf == nil {
		codes = append(codes, codingValue(taskCode, "fulfill", "Fulfill the focal request"))
	}
	performer := []element.Value{codingValue(ourCodes+"role", t.Role, roles[t.Role])}
	if w, ok := workers[t.Role]; ok {
		performer = append(performer, codingValue(snomed, w[0], w[1]))
	}
	description := t.Title
	if t.Says != "" {
		description += " (" + t.Says + ")"
	}
	words := roles[t.Role]
	if words == "" {
		words = t.Role
	}
	reason, inputs := b.reasons(t, partOf == nil, status == "draft")
	return []element.Field{
		element.F("extension", element.List(after...)),
		element.F("identifier", ownIdentifier(e)),
		element.F("basedOn", element.List(own(b.plan))),
		element.F("groupIdentifier", group),
		element.F("partOf", element.List(partOf...)),
		element.F("status", element.Str(status)),
		element.F("intent", element.Str("order")),
		element.F("priority", element.Str(t.Priority)),
		element.F("code", element.Obj(element.F("coding", element.List(codes...)), element.F("text", element.Str(t.Title)))),
		element.F("description", element.Str(description)),
		element.F("focus", b.order()),
		element.F("for", b.patient()),
		element.F("encounter", b.encounter()),
		element.F("authoredOn", element.Str(b.now())),
		element.F("lastModified", element.Str(b.now())),
		element.F("performerType", element.List(element.Obj(element.F("coding", element.List(performer...)), element.F("text", element.Str(words))))),
		element.F("reasonReference", reason),
		element.F("restriction", element.Obj(element.F("period", element.Obj(element.F("end", element.Str(t.Due)))))),
		element.F("input", element.List(append(inputs, b.inputs(t)...)...)),
	}
}
