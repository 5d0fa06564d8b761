package api

import (
	"net/http"
	"time"

	"weir.example/weir/adapter/intake"
)

// versionMissing asks for If-Match.
var versionMissing = refusal{status: http.StatusPreconditionRequired, issue: "required", code: "version-missing", what: "the version to be replaced is not named",
	todo: "Client: read the resource and send its ETag as If-Match."}

// refusals say each reason of the intake in HTTP and in words.
var refusals = map[intake.Reason]refusal{
	intake.Several: {status: http.StatusPreconditionFailed, issue: "multiple-matches", code: "identifier-several", what: "more than one resource has the identifier",
		todo: "Client: ask by an identifier that is one resource's alone."},
	intake.Unknown: {status: http.StatusMethodNotAllowed, issue: "not-supported", code: "resource-unknown", what: "no resource has this id, and ids are given by the server",
		todo: "Client: create it, or update it by its identifier."},
	intake.Unversioned: versionMissing,
	intake.Stale: {status: http.StatusPreconditionFailed, issue: "conflict", code: "version-stale", what: "somebody else changed the resource meanwhile",
		todo: "Client: read it again and decide."},
	intake.Older: {status: http.StatusConflict, issue: "conflict", code: "nightly-older-message", of: "finding", what: "the message is older than what is stored; it is kept and not applied",
		todo: "Sender: check the order of messages."},
	intake.Unkeyed: {status: http.StatusUnprocessableEntity, issue: "required", code: "order-without-key", what: "the order has neither an identifier nor a web address, so that it could not be known again",
		todo: "Sender: send the placer's identifier of the order."},
	intake.Rekeyed: {status: http.StatusUnprocessableEntity, issue: "business-rule", code: "order-key-changed", what: "the order has another identifier than before",
		todo: "Sender: send it as an order of its own, and stop the old one."},
	intake.NoPatient: {status: http.StatusUnprocessableEntity, issue: "not-found", code: "patient-unknown", what: "the patient of the resource is neither in what was sent nor stored",
		todo: "Sender: send the Patient with it, or refer to the stored one."},
	intake.OtherPatient: {status: http.StatusConflict, issue: "conflict", code: "patient-differs", what: "the resource is stored as another patient's, or points at one patient and names the number of another",
		todo: "Person: compare two identifiers of the patient with the hospital before anything else is done."},
	intake.OtherPerson: {status: http.StatusConflict, issue: "conflict", code: "person-differs", what: "the identifier is known under another name or birth date",
		todo: "Person: compare two identifiers of the patient with the hospital; a changed name is sent as an update."},
	intake.Unidentified: {status: http.StatusBadRequest, issue: "invalid", code: "identifier-missing", what: "the resource does not carry the identifier it is asked for by",
		todo: "Client: send the identifier in the resource too."},
	intake.Twice: {status: http.StatusBadRequest, issue: "duplicate", code: "entry-twice", what: "the Bundle holds one resource or one address twice",
		todo: "Client: send each once."},
	intake.Unresolved: {status: http.StatusPreconditionFailed, issue: "multiple-matches", code: "reference-unresolved", what: "a conditional reference does not lead to exactly one resource",
		todo: "Client: refer to it by its id, or by an identifier that is one resource's alone."},
	intake.Busy: {status: http.StatusServiceUnavailable, issue: "lock-error", code: "server-busy", what: "others changed the same patient all the time",
		todo: "Client: send it again after the time in Retry-After.", again: 2 * time.Second},
	intake.TooManyPatient: {status: http.StatusRequestEntityTooLarge, issue: "too-costly", code: "too-many-orders", what: "more orders depend on the resource than can be judged again at once",
		todo: "Client: send it as a resource of its own, with the orders that are to use it."},
	intake.Ours: {status: http.StatusConflict, issue: "business-rule", code: "resource-ours", what: "the resource was made by this server and follows from its order",
		todo: "Client: change the order; what follows from it changes with it. Of a Task only its progress is changed: status, who does it, output, notes."},
	intake.NotBegun: {status: http.StatusConflict, issue: "business-rule", code: "task-not-begun", what: "the task is a draft, because its order is on hold",
		todo: "Person: settle what the order is held for; the task is asked for then."},
	intake.Closed: {status: http.StatusConflict, issue: "business-rule", code: "task-closed", what: "the task is done or cancelled, and stays so",
		todo: "Client: read it again. What is still to be done comes as a task of its own."},
	intake.LongKey: {status: http.StatusUnprocessableEntity, issue: "too-long", code: "order-without-key", what: "the identifier of the order is longer than 1000 bytes",
		todo: "Sender: send the placer's identifier of the order."},
	intake.NotTaken: {status: http.StatusUnprocessableEntity, issue: "not-supported", code: "type-not-taken", what: "resources of this type are not taken",
		todo: "Client: leave it out."},
}
