package r4

import (
	"maps"
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/worksheet"
)

const taskCode = "http://hl7.org/fhir/CodeSystem/task-code"

// workers are SNOMED CT occupations for our roles, where one fits.
var workers = map[string][2]string{"pharmacist": {"46255001", "Pharmacist"}, "nurse": {"106292003", "Professional nurse"}}

// writeTasks writes the request to fulfil the order and, as its parts, every
// task with its due time (https://hl7.org/fhir/R4/task.html). While the
// order is held, tasks that prepare, send or give anything are drafts.
func (b *bundler) writeTasks() []entry {
	parent := b.make("Task", "fulfill")
	last := b.w.Schedule.LastDose
	if b.w.Schedule.EndsAt != "" {
		last = b.w.Schedule.EndsAt
	}
	top := worksheet.Task{Code: "fulfill", Role: "pharmacist", Title: "Fulfil the home-infusion order", Due: last, Priority: "routine", Prepares: true}
	out := []entry{parent}
	first := map[string]entry{}
	for _, t := range b.w.Tasks {
		e := b.make("Task", t.Code)
		out = append(out, e)
		if _, seen := first[t.Code]; !seen {
			first[t.Code] = e
		}
	}
	group := element.Obj(element.F("system", element.Str("urn:ietf:rfc:3986")), element.F("value", element.Str(parent.url())))
	out[0].fields = b.task(out[0], top, group, nil, nil)
	for i, t := range b.w.Tasks {
		var after []entry
		for _, code := range t.After {
			if e, ok := first[code]; ok {
				after = append(after, e)
			}
		}
		out[i+1].fields = b.task(out[i+1], t, group, &parent, after)
	}
	return out
}

func (b *bundler) task(e entry, t worksheet.Task, group element.Value, parent *entry, after []entry) []element.Field {
	var extensions []element.Value
	for _, a := range after {
		extensions = append(extensions, extensionOf("after", "Reference", own(a)))
	}
	status := "requested"
	if b.held && t.Prepares {
		status = "draft"
	}
	codes := []element.Value{codingValue(ourCodes+"task", t.Code, t.Title)}
	if parent == nil {
		codes = append(codes, codingValue(taskCode, "fulfill", "Fulfill the focal request"))
	}
	performer := []element.Value{codingValue(ourCodes+"role", t.Role, "")}
	if w, ok := workers[t.Role]; ok {
		performer = append(performer, codingValue(snomed, w[0], w[1]))
	}
	description := t.Title
	if t.Says != "" {
		description += " (" + t.Says + ")"
	}
	due := element.Value{}
	if t.Due != "" {
		due = element.Obj(element.F("period", element.Obj(element.F("end", element.Str(t.Due)))))
	}
	partOf := element.Value{}
	if parent != nil {
		partOf = element.List(own(*parent))
	}
	reason, inputs := b.reasons(t, parent == nil)
	return []element.Field{
		element.F("extension", element.List(extensions...)),
		element.F("identifier", ownIdentifier(e)),
		element.F("basedOn", element.List(reference(b.w.Refs.Order))),
		element.F("groupIdentifier", group),
		element.F("partOf", partOf),
		element.F("status", element.Str(status)),
		element.F("intent", element.Str("order")),
		element.F("priority", element.Str(t.Priority)),
		element.F("code", element.Obj(element.F("coding", element.List(codes...)), element.F("text", element.Str(t.Title)))),
		element.F("description", element.Str(description)),
		element.F("focus", reference(b.w.Refs.Order)),
		element.F("for", reference(b.w.Refs.Patient)),
		element.F("encounter", reference(b.w.Refs.Encounter)),
		element.F("authoredOn", element.Str(b.now())),
		element.F("lastModified", element.Str(b.now())),
		element.F("performerType", element.List(element.Obj(element.F("coding", element.List(performer...)), element.F("text", element.Str(t.Role))))),
		element.F("reasonReference", reason),
		element.F("restriction", due),
		element.F("input", element.List(inputs...)),
	}
}

// reasons: the parent names the worst issue and lists the others; a task
// about one finding names that one; numbers a person needs are inputs.
func (b *bundler) reasons(t worksheet.Task, parent bool) (element.Value, []element.Value) {
	var reason element.Value
	var inputs []element.Value
	if parent {
		for i, x := range b.issues {
			if i == 0 {
				reason = own(x)
				continue
			}
			inputs = append(inputs, element.Obj(element.F("type", element.Obj(element.F("text", element.Str("finding")))), element.F("valueReference", own(x))))
		}
	}
	if t.Closes != "" {
		inputs = append(inputs, element.Obj(element.F("type", element.Obj(element.F("text", element.Str("closes only with")))), element.F("valueString", element.Str(t.Closes))))
	}
	for _, name := range slices.Sorted(maps.Keys(t.Inputs)) {
		inputs = append(inputs, element.Obj(element.F("type", element.Obj(element.F("text", element.Str(name)))), element.F("valueString", element.Str(t.Inputs[name]))))
	}
	return reason, inputs
}
