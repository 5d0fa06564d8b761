package intake

import (
	"context"
	"fmt"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/policy"
)

// Service takes in documents for one store.
type Service struct {
	Store     adapter.Store
	Reference policy.Reference
	Judges    []schema.Judge
	NewID     func() string
	Fresh     func() func() string // makes NewID anew for each attempt; nil keeps NewID
	Base      string               // the public address of the FHIR base, without a slash at the end
}

// Call is who sent what, and when.
type Call struct {
	Now     time.Time
	Agent   string // who acts
	Request string // id of the request
	Media   string
	Bytes   []byte // as received
	Behind  bool   // what is older than what is stored is passed over, not refused
	Alone   bool   // what uses a resource that belongs to nobody is judged elsewhere
	// Before is asked right before the effect is written, and may add to it.
	Before func(e *adapter.Effect, done []Done)
	// Commit writes the effect; nil is the store's own.
	Commit func(context.Context, adapter.Effect) error
}

// Way is how a resource is to be taken in.
type Way string

// The ways of https://hl7.org/fhir/R4/http.html.
const (
	Create Way = "create"
	// Update replaces a version that the sender names.
	Update Way = "update"
	// Feed is the placer's update of what it sent before: its own version
	// time decides.
	Feed Way = "feed"
)

// Item is one resource to be taken in.
type Item struct {
	Way      Way
	Resource element.Node
	FullURL  string            // of its entry
	Once     *adapter.Identity // of a create: not when something has this identifier
	Where    *adapter.Identity // of a feed: what it replaces; nil: what it says of itself tells
	ID       string            // of an update
	Version  int64             // of an update: what the sender replaces; 0: not said
	At       string            // expression of the resource in the document: Bundle.entry[2].resource
}

func (i Item) kind() string { return i.Resource.Get("resourceType").Text() }

// Outcome is what became of an item.
type Outcome string

// The outcomes.
const (
	Created    Outcome = "created"
	Updated    Outcome = "updated"
	Same       Outcome = "same"       // stored already with this content
	Unapplied  Outcome = "unapplied"  // stored already with other content, which stays
	Progressed Outcome = "progressed" // a task of ours: how far it is
	Behind     Outcome = "behind"     // of a run of the night: older than what is stored, which stays
)

// Done is an item that was taken in.
type Done struct {
	Outcome  Outcome
	Resource adapter.Resource // as stored now
	Task     string           // id of the task to review what was not applied
	Again    bool             // an order that was sent again as it is
}

// Reason is why nothing was taken in.
type Reason string

// The reasons.
const (
	Several        Reason = "several"        // the identifier is that of more than one resource
	Unknown        Reason = "unknown"        // no resource has the id
	Unversioned    Reason = "unversioned"    // the version to be replaced is not named
	Stale          Reason = "stale"          // the version is not the current one
	Older          Reason = "older"          // the feed is behind what is stored
	Unkeyed        Reason = "unkeyed"        // an order without identifier or web address
	Rekeyed        Reason = "rekeyed"        // an order under another key than before
	NoPatient      Reason = "no-patient"     // an order whose patient is not there
	OtherPatient   Reason = "other-patient"  // the resource belongs to another patient
	OtherPerson    Reason = "other-person"   // a known identifier with another name or birth date
	Unidentified   Reason = "unidentified"   // the resource lacks the identifier it is asked for by
	Twice          Reason = "twice"          // the document holds one thing twice
	Unresolved     Reason = "unresolved"     // a conditional reference leads to none or to several
	Busy           Reason = "busy"           // others changed the same patient all the time
	TooManyPatient Reason = "too-many"       // a shared resource changed that too many patients' orders use
	Ours           Reason = "ours"           // the resource was made here, and follows from its order
	NotBegun       Reason = "not-begun"      // the task is a draft: its order is on hold
	Closed         Reason = "closed"         // the task is done or cancelled
	LongKey        Reason = "long-key"       // an order whose key is longer than mostKey
	NotTaken       Reason = "type-not-taken" // a type that is not read
)

// Refused says why, and which element of the document it is about. Nothing
// was stored.
type Refused struct {
	Reason Reason
	At     string
}

func (r *Refused) Error() string { return fmt.Sprintf("not taken in: %s at %s", r.Reason, r.At) }
