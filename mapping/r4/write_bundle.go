package r4

import (
	"maps"
	"slices"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// WriteBundle writes the answer for one order as an R4 Bundle of type
// collection (https://hl7.org/fhir/R4/bundle.html): dispenses, tasks, supply,
// device and service requests, the care plan, the issues and the provenance,
// in that order. Nothing of the input is repeated; references point at it.
// The bytes are indented by two spaces and end with a line feed.
func WriteBundle(w worksheet.Worksheet) []byte { return WriteBundles([]worksheet.Worksheet{w}) }

// WriteBundles writes one order as its Bundle, several as one collection
// whose entries are their Bundles in input order.
func WriteBundles(list []worksheet.Worksheet) []byte { return element.Encode(answer(list)) }

// WriteBundlesLine is WriteBundles in one line that ends with a line feed:
// the answer to one line of NDJSON.
func WriteBundlesLine(list []worksheet.Worksheet) []byte { return element.EncodeLine(answer(list)) }

func answer(list []worksheet.Worksheet) element.Value {
	ids := ordinals{}
	if len(list) == 1 {
		_, v := assemble(list[0], ids)
		return v
	}
	var entries []element.Value
	now := ""
	for _, w := range list {
		e, v := assemble(w, ids)
		now = w.Sources.Now
		entries = append(entries, inEntry(e, v))
	}
	return collection("", now, entries)
}

func collection(id, now string, entries []element.Value) element.Value {
	return element.Obj(
		element.F("resourceType", element.Str("Bundle")),
		element.F("id", element.Str(id)),
		element.F("type", element.Str("collection")),
		element.F("timestamp", element.Str(now)),
		element.F("entry", element.List(entries...)))
}

func inEntry(e entry, resource element.Value) element.Value {
	return element.Obj(element.F("fullUrl", element.Str(e.url())), element.F("resource", resource))
}

// entry is one resource on its way out. Fields are all but resourceType and
// id.
type entry struct {
	kind, id string
	fields   []element.Field
}

func (e entry) url() string { return "urn:uuid:" + e.id }

func (e entry) resource() element.Value {
	fields := make([]element.Field, 0, len(e.fields)+2)
	fields = append(fields, element.F("resourceType", element.Str(e.kind)), element.F("id", element.Str(e.id)))
	return element.Obj(append(fields, e.fields...)...)
}

// bundler holds what the resources of one Bundle say of each other. Ids are
// given before anything is written, since dispense and issue, task and plan
// point at each other.
type bundler struct {
	w        worksheet.Worksheet
	ids      ordinals
	held     bool // nothing is prepared, sent or given yet
	blocked  bool
	disputes map[string]bool
	issues   []issue // worst first
	plan     entry
	proof    entry
	refs     refs
	names    map[string]string // of numbers, by how people read them
}

func (b *bundler) make(kind, purpose string) entry {
	return entry{kind: kind, id: b.ids.next(kind, b.w.Order.Key, b.w.Order.Version, purpose)}
}

func (b *bundler) now() string { return b.w.Sources.Now }

func bundlerFor(w worksheet.Worksheet, ids ordinals) *bundler {
	b := &bundler{w: w, ids: ids, blocked: w.Verdict == "block", held: w.Verdict != "ready", disputes: disputes(w), refs: refsOf(w.Refs), names: map[string]string{}}
	for _, name := range slices.Sorted(maps.Keys(w.Refs.Numbers)) {
		b.names[notation.Name(name)] = name
	}
	return b
}

func assemble(w worksheet.Worksheet, ids ordinals) (entry, element.Value) {
	b := bundlerFor(w, ids)
	bundle := b.make("Bundle", "order")
	var entries []element.Value
	for _, e := range b.all() {
		entries = append(entries, inEntry(e, e.resource()))
	}
	return bundle, collection(bundle.id, b.now(), entries)
}

// all writes every resource of the answer, in the order of the contract.
func (b *bundler) all() []entry {
	b.proof = b.make("Provenance", runOf(b.w.Sources))
	b.plan = b.make("CarePlan", "home")
	b.issues = b.writeIssues()
	tasks, devices, services := b.writeTasks(), b.writeDevices(), b.writeServices()
	b.writePlan(slices.Concat(tasks[:1], devices, services))
	list := slices.Concat(b.writeDispenses(), tasks, b.writeSupplies(), devices, services, []entry{b.plan})
	for _, i := range b.issues {
		list = append(list, i.entry)
	}
	b.writeProvenance(list)
	return append(list, b.proof)
}
