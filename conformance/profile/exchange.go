package profile

import (
	_ "embed"
	"encoding/json"
	"sync"

	"weir.example/weir/mapping/element"
)

//go:embed searches.json
var searchesFile []byte

type search struct{ ID, Code, Base, Type, Expression, Description string }

var searchRows = sync.OnceValue(func() []search {
	var file struct{ Searches []search }
	must(json.Unmarshal(searchesFile, &file))
	return file.Searches
})

func (m maker) searches() []Resource {
	var out []Resource
	for _, s := range searchRows() {
		out = append(out, m.head("SearchParameter", s.ID, "", s.Description, // R4 gives it no title
			element.F("code", element.Str(s.Code)),
			element.F("base", element.Strs(s.Base)),
			element.F("type", element.Str(s.Type)),
			element.F("expression", element.Str(s.Expression)),
			element.F("xpathUsage", element.Str("normal"))))
	}
	return out
}

// operation is $verify: judged, and nothing is stored.
func (m maker) operation() Resource {
	parameter := func(name, use, kind string, least int, says string) element.Value {
		return element.Obj(element.F("name", element.Str(name)), element.F("use", element.Str(use)), element.F("min", element.Int(least)), element.F("max", element.Str("1")),
			element.F("documentation", element.Str(says)), element.F("type", element.Str(kind)))
	}
	return m.head("OperationDefinition", "verify", "Verify a home-infusion order", "Judges every infusion order of the Bundle and answers with dispenses, tasks, supplies, findings and their origin. Nothing is stored.",
		element.F("kind", element.Str("operation")),
		element.F("affectsState", element.Boolean(false)),
		element.F("code", element.Str("verify")),
		element.F("resource", element.Strs("MedicationRequest")),
		element.F("system", element.Boolean(false)), element.F("type", element.Boolean(true)), element.F("instance", element.Boolean(false)),
		element.F("parameter", element.List(
			parameter("order", "in", "Bundle", 1, "The order with what it rests on"),
			parameter("now", "in", "instant", 0, "The clock to judge at; the server's own when absent"),
			parameter("policy", "in", "string", 0, "A site policy in place of the server's own"),
			parameter("return", "out", "Bundle", 1, "One Bundle of type collection for each order"))))
}

// messages are the two messages of $process-message.
func (m maker) messages() []Resource {
	one := func(id, title, description, event, focus, profile, response string, answers ...string) Resource {
		fields := []element.Field{
			element.F("eventCoding", element.Obj(element.F("system", element.Str(Canonical+"CodeSystem/message-event")), element.F("code", element.Str(event)))),
			element.F("category", element.Str("consequence")),
			element.F("focus", element.List(element.Obj(element.F("code", element.Str(focus)), element.F("profile", element.Str(profile)), element.F("min", element.Int(1)), element.F("max", element.Str("*"))))),
			element.F("responseRequired", element.Str(response))}
		var list []element.Value
		for _, a := range answers {
			list = append(list, element.Obj(element.F("message", element.Str(a))))
		}
		return m.head("MessageDefinition", id, title, description, append(fields, element.F("allowedResponse", element.List(list...)))...)
	}
	return []Resource{
		one("home-infusion-order", "Home-infusion order", "A hospital sends an order, a change or a stop.", "home-infusion-order", "MedicationRequest", address("home-infusion-order"), "always", Canonical+"MessageDefinition/home-infusion-response"),
		one("home-infusion-response", "Answer to a home-infusion order", "What was found and what is planned.", "home-infusion-response", "Task", address("home-infusion-task"), "never"),
	}
}
