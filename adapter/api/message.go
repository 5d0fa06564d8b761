package api

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"slices"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/intake"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// message is $process-message: the resources of a message are taken in as
// the placer's feed, and the answer is a message of its own
// (https://hl7.org/fhir/R4/messageheader-operation-process-message.html). The
// same message again gets the same answer. Nothing is sent anywhere.
func (d *door) message(w http.ResponseWriter, r *http.Request) {
	query := r.URL.Query()
	if async := query.Get("async"); async != "" && async != "false" {
		d.refuse(w, r, later("async"))
		return
	}
	if query.Has("response-url") {
		d.refuse(w, r, elsewhere("response-url"))
		return
	}
	if x := acceptable(r, "async"); x != nil {
		d.refuse(w, r, *x)
		return
	}
	data, release := d.whole(w, r)
	if release == nil {
		return
	}
	defer release()
	inner, x := content(data)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	doc := d.parsed(w, r, inner)
	if doc == nil {
		return
	}
	header := doc.Root().Get("entry").At(0).Get("resource")
	id := header.Get("id").Text()
	switch {
	case doc.Root().Get("resourceType").Text() != "Bundle", doc.Root().Get("type").Text() != "message", header.Get("resourceType").Text() != "MessageHeader":
		d.refuse(w, r, refusal{status: http.StatusBadRequest, issue: "not-supported", code: "bundle-type", what: "it is no Bundle of type message that begins with a MessageHeader", todo: "Client: send a message.", at: "Bundle.type"})
		return
	case id == "":
		d.refuse(w, r, refusal{status: http.StatusUnprocessableEntity, issue: "required", code: "message-malformed", what: "the message has no id, so that it could not be known again", todo: "Sender: send MessageHeader.id.", at: "Bundle.entry[0].resource.id"})
		return
	}
	// The same message written in another way is the same message.
	key, sum := header.Get("source").Get("endpoint").Text()+"|"+id, sha256.Sum256(element.Canonical(doc.Root()))
	known, err := d.Store.Reply(r.Context(), key)
	var none *adapter.NotFound
	switch {
	case err == nil && (known.SHA256 == sum || known.SHA256 == sha256.Sum256(data)): // the latter of a store of before
		d.send(w, r, known.Status, known.Body)
		return
	case err == nil:
		d.refuse(w, r, refusal{status: http.StatusConflict, issue: "conflict", code: "message-known", what: "a message with this id and other content was taken before", todo: "Sender: give each message an id of its own.", at: "Bundle.entry[0].resource.id"})
		return
	case !errors.As(err, &none):
		d.refuse(w, r, d.why(err))
		return
	}
	d.carry(w, r, doc.Root(), header, data, adapter.Reply{Key: key, SHA256: sum, Status: http.StatusOK, Made: d.Now()})
}

// later refuses an answer at another time, elsewhere one to another place.
func later(at string) refusal {
	return refusal{status: http.StatusBadRequest, issue: "not-supported", code: "endpoint-not-configured", what: "no address for later answers is configured", todo: "Client: send it without async.", at: at}
}

func elsewhere(at string) refusal {
	return refusal{status: http.StatusBadRequest, issue: "not-supported", code: "endpoint-not-configured", what: "answers go only to addresses of the server's own configuration, never to one of a request", todo: "Client: leave it out; the answer comes back at once.", at: at}
}

// content takes the message out of Parameters; anything else is what was
// sent.
func content(data []byte) ([]byte, *refusal) {
	if !bytes.Contains(data, []byte(`"Parameters"`)) {
		return data, nil
	}
	doc, faults := element.Read(data, element.Limit{})
	if len(faults) > 0 || doc.Root().Get("resourceType").Text() != "Parameters" {
		return data, nil // judged with all else
	}
	wrong := func(i int, what string) *refusal {
		return &refusal{status: http.StatusBadRequest, issue: "invalid", code: "parameter-malformed", what: what, todo: "Client: send one parameter content with the message as its resource.", at: fmt.Sprintf("Parameters.parameter[%d]", i)}
	}
	var message []byte
	for i, p := range doc.Root().Get("parameter").Each() {
		at := fmt.Sprintf("Parameters.parameter[%d].", i)
		switch p.Get("name").Text() {
		case "content":
			if message != nil || !p.Get("resource").Exists() {
				return nil, wrong(i, "content is there twice, or is no resource")
			}
			message = p.Get("resource").Raw()
		case "async":
			if string(p.Get("valueBoolean").Raw()) != "false" {
				x := later(at + "valueBoolean")
				return nil, &x
			}
		case "response-url":
			x := elsewhere(at + "valueUrl")
			return nil, &x
		default:
			return nil, wrong(i, "a parameter is not known")
		}
	}
	if message == nil {
		return nil, wrong(0, "there is no content")
	}
	return message, nil
}

// carry takes in what the message holds, and answers. The answer is stored
// with it.
func (d *door) carry(w http.ResponseWriter, r *http.Request, root, header element.Node, data []byte, reply adapter.Reply) {
	items := messageItems(root)
	var body []byte
	call := d.call(r, data)
	call.Before = func(e *adapter.Effect, done []intake.Done) {
		body = element.EncodeLine(d.messageAnswer(header, reply, "ok", element.Value{}, results(e, done)))
		d.remember(e, call, reply, body, done)
	}
	_, err := d.intake.Receive(r.Context(), call, items)
	var refused *intake.Refused
	var away *adapter.Unavailable
	switch {
	case err == nil:
		d.send(w, r, http.StatusOK, body)
		return
	case errors.As(err, &away), errors.As(err, &refused) && refused.Reason == intake.Busy:
		x := d.why(err)
		d.send(w, r, http.StatusOK, element.EncodeLine(d.messageAnswer(header, reply, "transient-error", d.outcome(r, x), nil)))
		return
	case !errors.As(err, &refused):
		d.refuse(w, r, d.why(err))
		return
	}
	x := d.why(err)
	body = element.EncodeLine(d.messageAnswer(header, reply, "fatal-error", d.outcome(r, x), nil))
	e := adapter.Effect{At: call.Now}
	d.remember(&e, call, reply, body, nil)
	if err := d.Store.Commit(r.Context(), e); err != nil {
		d.refuse(w, r, d.why(err))
		return
	}
	d.send(w, r, http.StatusOK, body)
}

func (d *door) outcome(r *http.Request, x refusal) element.Value {
	return r4.WriteNotice(r4.Refusal{Issue: x.issue, Code: x.code, What: x.what, Todo: x.todo, At: x.at, Of: x.of, Request: requestID(r)})
}

// remember keeps the answer, so that the same message again gets it.
func (d *door) remember(e *adapter.Effect, call intake.Call, reply adapter.Reply, body []byte, done []intake.Done) {
	reply.Body = body
	for _, x := range done {
		if reply.Patient == "" {
			reply.Patient = x.Resource.Patient
		}
	}
	e.At = reply.Made
	e.Replies = append(e.Replies, reply)
	e.Audit = append(e.Audit, adapter.AuditRow{ID: d.NewID(), At: call.Now, Action: "E", Outcome: "0", Agent: Operator, Patient: reply.Patient,
		Entity: "MessageHeader/message", Request: call.Request, Detail: "message answered"})
}

// messageItems are the resources of a message. Of several versions of one
// the last counts, as the newest stands last in a message.
func messageItems(root element.Node) []intake.Item {
	var out []intake.Item
	at := map[string]int{}
	for i, e := range root.Get("entry").Each() {
		n, url := e.Get("resource"), e.Get("fullUrl").Text()
		if i == 0 || !n.Exists() {
			continue
		}
		item := intake.Item{Way: intake.Feed, Resource: n, FullURL: url, At: fmt.Sprintf("Bundle.entry[%d].resource", i)}
		if before, twice := at[url]; twice && url != "" {
			if r4.Newer(out[before].Resource, n) <= 0 {
				out[before] = item
			}
			continue
		}
		at[url] = len(out)
		out = append(out, item)
	}
	return out
}

// results are the resources of ours that the message made, in the order of
// the contract.
func results(e *adapter.Effect, done []intake.Done) []adapter.Resource {
	var out []adapter.Resource
	for _, r := range e.Resources {
		if !slices.ContainsFunc(done, func(x intake.Done) bool { return x.Resource.Type == r.Type && x.Resource.ID == r.ID }) {
			out = append(out, r)
		}
	}
	return out
}

// messageAnswer is the message that answers: its header says what came of
// it, and what was made follows.
func (d *door) messageAnswer(header element.Node, reply adapter.Reply, code string, outcome element.Value, made []adapter.Resource) element.Value {
	id := d.NewID()
	response := element.Obj(element.F("identifier", element.RawNode(header.Get("id"))), element.F("code", element.Str(code)))
	if !outcome.Empty() {
		outcome = element.Edit(outcome, element.F("id", element.Str(id+"-outcome")))
		response = response.With(element.F("details", element.Obj(element.F("reference", element.Str("OperationOutcome/"+id+"-outcome")))))
	}
	var focus []element.Value
	for _, r := range made {
		if r.Type == "Task" {
			focus = append(focus, element.Obj(element.F("reference", element.Str("Task/"+r.ID))))
		}
	}
	head := element.Obj(
		element.F("resourceType", element.Str("MessageHeader")), element.F("id", element.Str(id)),
		element.F("eventCoding", element.Obj(element.F("system", element.Str("https://weir.example/fhir/CodeSystem/message-event")), element.F("code", element.Str("home-infusion-response")))),
		element.F("destination", element.List(element.Obj(element.F("endpoint", element.RawNode(header.Get("source").Get("endpoint")))))),
		element.F("source", element.Obj(element.F("name", element.Str("Weir")), element.F("software", element.Str("Weir")), element.F("version", element.Str(d.Version)), element.F("endpoint", element.Str(d.Public+"/fhir")))),
		element.F("response", response),
		element.F("focus", element.List(focus...)))
	base := d.Public + "/fhir/"
	put := func(place string, v element.Value) element.Value {
		return element.Obj(element.F("fullUrl", element.Str(base+place)), element.F("resource", v))
	}
	entries := []element.Value{put("MessageHeader/"+id, head)}
	if !outcome.Empty() {
		entries = append(entries, put("OperationOutcome/"+id+"-outcome", outcome))
	}
	for _, r := range made {
		entries = append(entries, put(r.Type+"/"+r.ID, stamp(r)))
	}
	return element.Obj(element.F("resourceType", element.Str("Bundle")), element.F("id", element.Str(d.NewID())), element.F("type", element.Str("message")),
		element.F("timestamp", element.Str(reply.Made.UTC().Format("2006-01-02T15:04:05.000Z07:00"))), element.F("entry", element.List(entries...)))
}
