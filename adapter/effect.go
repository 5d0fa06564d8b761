package adapter

import "time"

// Effect is everything that one use case does to the store. It is written
// whole or not at all, and it always has at least one audit row: what cannot
// be traced does not happen. Ids and times are given by the caller; the store
// makes none. Times are kept in whole microseconds, UTC.
type Effect struct {
	At         time.Time     // the clock of the use case
	Received   []Received    // documents as they came in
	Resources  []Resource    // resources created or replaced
	Cases      []StoredCase  // patient cases created or replaced
	Orders     []OrderWrite  // order versions, and the line of each order in the worklist
	Worksheets []StoredSheet // whole answers, one for each judgement
	Outbox     []Message     // messages to be sent
	Sent       []string      // ids of messages that have been sent: each exactly once
	Queue      []Queued      // background work to be done
	Finished   []string      // ids of background work that is done: each exactly once
	Fence      *Fence        // the attempt at work that the effect is the outcome of, nil for none
	Replies    []Reply       // answers to be repeated when the same message comes again
	Feeds      []FeedLine    // lines of the nightly state created or replaced
	Seen       Seen          // lines of it that did not change
	Audit      []AuditRow    // one or more
}

// Seen says that a run of the night saw patients as they were.
type Seen struct {
	Night string
	Keys  []string
}

// Received is a document byte for byte as it came in.
type Received struct {
	ID       string
	SHA256   [32]byte // of Bytes; refused when it differs
	At       time.Time
	Media    string   // media type as sent
	Patients []string // ids of the patients it speaks of, for retention
	Bytes    []byte
}

// Identity is a business identifier: FHIR Identifier system and value,
// compared byte for byte.
type Identity struct {
	System, Value string
	// Once refuses the write when any other current resource of the type has
	// this identifier: the conditional create.
	Once bool
}

// Value is one search value of a resource: of the parameter Name, either a
// text (token, reference, string, uri) with its system, or a span of time.
type Value struct {
	Name         string
	System, Text string
	Low, High    time.Time // from Low up to, not including, High; zero for a text
}

// Resource is one version of a stored FHIR resource.
type Resource struct {
	Type, ID string
	// Version is the version that the write makes: 1 creates, n replaces
	// version n-1 and nothing else.
	Version int64
	Created time.Time // when version 1 was written; set by the store on reading
	Updated time.Time
	// Patient is the id of the patient it belongs to, "" for none. It stays
	// so: a write that would move it is a *Conflict. The same holds for orders.
	Patient string
	Source  string // id of the Received it came from, "" for none
	// Order is the key of the order that it was made for, "" for what was
	// received. It says what it is kept with when it is created, and is not
	// read back.
	Order string
	JSON  []byte
	// Identifiers and Values are what it is found by. They are written with
	// it and not read back: search answers with resources.
	Identifiers []Identity
	Values      []Value
}

// StoredCase is a patient's canonical case: what the next order of the
// patient is judged against.
type StoredCase struct {
	Patient string
	Version int64 // as in Resource
	Schema  int   // form of JSON, see CaseSchema
	Updated time.Time
	JSON    []byte
}

// OrderChange is what a write does to an order.
type OrderChange string

const (
	// OrderNew adds a content that the order never had: a second write of
	// one content is refused as a Duplicate.
	OrderNew OrderChange = "new"
	// OrderAgain goes back to a content that the order had before.
	OrderAgain OrderChange = "again"
	// OrderJudged leaves the content and changes the line in the worklist.
	OrderJudged OrderChange = "judged"
)

// OrderWrite is one version of an order and its line in the worklist.
type OrderWrite struct {
	Change OrderChange
	OrderLine
	Source string    // id of the Received it came from, "" for none
	Sent   time.Time // version time the sender gave (meta.lastUpdated), zero for none
}

// OrderLine is an order as the worklist shows it.
type OrderLine struct {
	Key string // order key of the outside contract
	// Number counts the versions of the order from 1. A write of OrderNew or
	// OrderAgain makes it from Number-1; OrderJudged needs it as it is.
	Number   int64
	Version  string // SHA-256 of the content, hexadecimal
	Patient  string
	Resource string // id of its MedicationRequest
	Drug     string
	State    string // active, stopped and so on
	Verdict  string
	Stage    string
	Weight   int64     // place in the worklist, the largest first
	Due      time.Time // zero for none
	Updated  time.Time
}

// StoredSheet is the worksheet of one judgement of one order version.
type StoredSheet struct {
	ID      string
	Key     string
	Number  int64
	Patient string
	Stage   string
	Verdict string
	Made    time.Time
	JSON    []byte
}

// Message is one outgoing message. Target is a name of the configuration,
// never an address out of an input.
type Message struct {
	ID      string
	Kind    string
	Target  string
	Patient string
	Made    time.Time
	Body    []byte
}

// Queued is one piece of background work, durable with what made it needed. It
// is given to a worker, again until its id is among the Finished.
type Queued struct {
	ID      string
	Kind    string
	Patient string
	Made    time.Time
	Body    []byte
}

// Fence is one attempt at background work. An effect that is the outcome of it
// is written only while it is the attempt that runs, and ends it; when the
// work was given to another worker meanwhile, the write is refused as Fenced.
type Fence struct {
	Job     int64 // number that the queue gave the work
	Attempt int   // from 1
}

// Reply is the stored answer to a message that has an id of its own.
type Reply struct {
	Key     string // the sender's id of the message, with the sender
	SHA256  [32]byte
	Status  int
	Patient string
	Made    time.Time
	Body    []byte
}

// AuditRow says who did what to what. Only Private may hold patient data; it
// is emptied when the patient is erased, the rest stays. Patient is our own
// id, which says nothing once the patient is erased.
type AuditRow struct {
	ID      string
	At      time.Time
	Action  string // FHIR audit-event-action: C R U D E
	Outcome string // FHIR audit-event-outcome: 0 4 8 12
	Agent   string
	Patient string
	Entity  string   // Type/id or another id that we made
	Also    []string // further ones of the same patient, to which the same was done at once
	Request string   // request id
	Detail  string   // may be logged
	Private []byte
}
