package r4

import (
	"slices"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// ReadCases turns a document (a Bundle of any type, or one resource with
// what it contains) into one case for each patient with an order. now is the
// clock: a value later than it is listed in Case.Unused and not used. The
// findings are those of the document as a whole; what is wrong with one
// order stands in its Faults, with one patient's facts
// in Patient.Conflicts.
//
// A document without any order for infusion gives the cases it has and
// document-unsupported, so that nobody takes silence for a pass.
func ReadCases(d *element.Document, now time.Time) ([]order.Case, []finding.Finding) {
	return read(d, now, false)
}

// ReadLenient is ReadCases, but reads units that are spelled in a published
// way instead of as UCUM (mL/hr, mcg, mEq); each is said.
func ReadLenient(d *element.Document, now time.Time) ([]order.Case, []finding.Finding) {
	return read(d, now, true)
}

func read(d *element.Document, now time.Time, lenient bool) ([]order.Case, []finding.Finding) {
	r := newReader(d, now)
	r.lenient = lenient
	cases := r.readCases()
	if slices.ContainsFunc(cases, hasOrders) || !d.Root().Exists() {
		return cases, nil
	}
	return cases, []finding.Finding{r.noOrder()}
}

// reader is one document being read. Nothing in it outlives ReadCases.
type reader struct {
	now          time.Time
	until        time.Time // the first instant after now that would answer after otherwise; zero: none
	lenient      bool
	root         element.Node
	all          []*resource // document order; contained ones are not in it
	sorted       []*resource // the same in an order that does not depend on the document's
	byURL        map[string][]*resource
	byTypeAndID  map[string][]*resource // entries without a fullUrl, as in NDJSON
	byIdentifier map[string][]*resource
	contained    map[*resource][]*resource
	people       map[*resource]*person
	owned        map[*person][]*resource // filled by resourcesOf
	elsewhere    map[string]*person      // patients that are not in the document
}

// readCase reads everything about one patient.
func (r *reader) readCase(p *person) order.Case {
	c := &caseScope{reader: r, person: p}
	c.notes.lenient = r.lenient
	c.mine = r.resourcesOf(p)
	c.readPatient()
	c.readMeasurements()
	c.readOrders()
	c.readAllergies()
	c.readAdministrations()
	c.readMedicines()
	c.readAccess()
	c.readPeople()
	c.readServices()
	c.readSupplies()
	c.readDischarges()
	c.readConditions()
	c.readReviews()
	c.readPregnancy()
	c.readGenotype()
	c.readReports()
	c.readBatches()
	c.readChecks()
	c.readFlags()
	c.readAnswers()
	c.compareSources()
	c.listUnused()
	c.kase.Unused = append(c.kase.Unused, c.notes.unused...)
	sortUnused(c.kase.Unused)
	return c.kase
}

// caseScope is one case being filled.
type caseScope struct {
	*reader
	notes
	person *person
	mine   []*resource // resources of the patient, in the sorted order
	kase   order.Case
}

// noOrder says that there is nothing to judge.
func (r *reader) noOrder() finding.Finding {
	return finding.Finding{
		Code:     "document-unsupported",
		Place:    r.root.Place(),
		Observed: "no MedicationRequest with a route into vein, skin or muscle, a rate or an infusion time",
		Expected: "a Bundle with at least one MedicationRequest for an infusion, or a bare MedicationRequest",
		Detail:   "the document holds no order for an infusion, so there is nothing to judge",
	}
}
