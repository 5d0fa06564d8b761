package r4

import (
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/worksheet"
)

// Review is a change that was sent and not applied: something was created
// again under an identifier that is stored, with other content.
type Review struct {
	Key      string // order key, or Type/id of another resource
	Sum      string // hash of the content that was not applied
	Focus    string // Type/id of what is stored
	Patient  string // its id, "" for what belongs to nobody
	Document string // id of the document as received
	Now      time.Time
}

// ReviewCode is the code of the task.
const ReviewCode = "review-unapplied-change"

// WriteReview writes the task to look at it (https://hl7.org/fhir/R4/task.html).
// Its id is made of key and content, so that the same change sent again makes
// no second task.
func WriteReview(x Review) Made {
	id := ordinals{}.next("Task", x.Key, x.Sum, ReviewCode)
	e := entry{kind: "Task", id: id}
	now := element.Str(x.Now.Format(time.RFC3339))
	title := "Review a change that was not applied"
	subject := element.Value{}
	if x.Patient != "" {
		subject = element.Obj(element.F("reference", element.Str("Patient/"+x.Patient)), element.F("type", element.Str("Patient")))
	}
	e.fields = []element.Field{
		element.F("identifier", ownIdentifier(e)),
		element.F("groupIdentifier", identifierValue(order.Identifier{System: "urn:ietf:rfc:3986", Value: e.url()})),
		element.F("status", element.Str("requested")),
		element.F("intent", element.Str("order")),
		element.F("priority", element.Str("urgent")),
		element.F("code", codeable(ourCodes+"task", ReviewCode, title, title)),
		element.F("description", element.Str(title+": it was sent again under an identifier that is stored, with other content. What is stored stays as it is. "+
			"Compare both, ask the sender which one holds, and have the sender update the stored one.")),
		element.F("focus", element.Obj(element.F("reference", element.Str(x.Focus)))),
		element.F("for", subject),
		element.F("authoredOn", now),
		element.F("lastModified", now),
		element.F("performerType", element.List(codeable(ourCodes+"role", "pharmacist", roles["pharmacist"], roles["pharmacist"]))),
		element.F("restriction", element.Obj(element.F("period", element.Obj(element.F("end", now))))),
		element.F("input", element.List(element.Obj(element.F("type", codeable("", "", "", "Document as received")), element.F("valueString", element.Str(x.Document))))),
	}
	return Made{Type: "Task", ID: id, body: element.Compact(e.resource()), Task: worksheet.Task{Code: ReviewCode, Role: "pharmacist", Title: title, Due: x.Now.Format(time.RFC3339), Priority: "urgent"}}
}
