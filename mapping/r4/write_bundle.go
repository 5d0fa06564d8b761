package r4

import (
	"strconv"
	"strings"

	"github.com/google/uuid"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/worksheet"
)

// namespace is the UUIDv5 of the URL https://weir.example/fhir in the URL
// namespace: every id we give is made from it, so an equal order sent again
// gives equal ids.
var namespace = uuid.MustParse("9f1ea0d7-dc47-5cc8-b021-f5437e5a5aa9")

// WriteBundle writes the answer for one order as an R4 Bundle of type
// collection (https://hl7.org/fhir/R4/bundle.html): dispenses, tasks, supply,
// device and service requests, the care plan, the issues and the provenance.
// Nothing of the input is repeated; references point at it.
func WriteBundle(w worksheet.Worksheet) []byte { return element.Encode(assemble(w)) }

// WriteBundles writes one Bundle for one order, else a collection of their
// Bundles in input order.
func WriteBundles(list []worksheet.Worksheet) []byte {
	if len(list) == 1 {
		return WriteBundle(list[0])
	}
	outer := element.Obj(element.F("resourceType", element.Str("Bundle")), element.F("type", element.Str("collection")))
	if len(list) > 0 {
		outer = outer.With(element.F("timestamp", element.Str(list[0].Sources.Now)))
	}
	var entries []element.Value
	for _, w := range list {
		id := newID("Bundle", w, "order", 1)
		inner := assemble(w)
		entries = append(entries, element.Obj(element.F("fullUrl", element.Str("urn:uuid:"+id)),
			element.F("resource", withID(inner, id))))
	}
	return element.Encode(outer.With(element.F("entry", element.List(entries...))))
}

func newID(kind string, w worksheet.Worksheet, purpose string, ordinal int) string {
	text := strings.Join([]string{kind, w.Order.Key, w.Order.Version, purpose, strconv.Itoa(ordinal)}, "|")
	return uuid.NewSHA1(namespace, []byte(text)).String()
}

// entry is one resource on its way out. Fields are all but resourceType and
// id.
type entry struct {
	kind, id string
	fields   []element.Field
}

func (e entry) url() string { return "urn:uuid:" + e.id }

// bundler holds what the resources of one Bundle say of each other.
type bundler struct {
	w       worksheet.Worksheet
	counts  map[string]int
	held    bool // nothing is prepared, sent or given yet
	blocked bool
	issues  []entry
	tasks   []entry
	proof   string // id of the Provenance
}

func (b *bundler) make(kind, purpose string) entry {
	b.counts[kind+"|"+purpose]++
	return entry{kind: kind, id: newID(kind, b.w, purpose, b.counts[kind+"|"+purpose])}
}

func assemble(w worksheet.Worksheet) element.Value {
	b := &bundler{w: w, counts: map[string]int{}}
	b.blocked, b.held = w.Verdict == "block", w.Verdict != "ready"
	proof := b.make("Provenance", strings.Join([]string{w.Sources.Document, w.Sources.Tables, w.Sources.Policy, w.Sources.Now}, "|"))
	b.proof = proof.id
	b.issues = b.writeIssues()
	b.tasks = b.writeTasks()
	supplies, devices, services := b.writeSupplies(), b.writeDevices(), b.writeServices()
	list := b.writeDispenses()
	list = append(list, b.tasks...)
	list = append(list, supplies...)
	list = append(list, devices...)
	list = append(list, services...)
	list = append(list, b.writePlan(services))
	list = append(list, b.issues...)
	list = append(list, b.writeProvenance(proof, list))
	var entries []element.Value
	for _, e := range list {
		fields := append([]element.Field{element.F("resourceType", element.Str(e.kind)), element.F("id", element.Str(e.id))}, e.fields...)
		entries = append(entries, element.Obj(element.F("fullUrl", element.Str(e.url())), element.F("resource", element.Obj(fields...))))
	}
	return element.Obj(element.F("resourceType", element.Str("Bundle")), element.F("type", element.Str("collection")),
		element.F("timestamp", element.Str(w.Sources.Now)), element.F("entry", element.List(entries...)))
}

// withID puts an id behind the resourceType of a Bundle.
func withID(v element.Value, id string) element.Value {
	return v.With(element.F("id", element.Str(id)))
}

// worst is the gravest issue, which comes first.
func (b *bundler) worst() (entry, bool) {
	if len(b.issues) == 0 {
		return entry{}, false
	}
	return b.issues[0], true
}

func (b *bundler) now() string { return b.w.Sources.Now }
