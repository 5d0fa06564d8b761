package r4

import (
	"cmp"
	_ "embed"
	"encoding/json"
	"slices"
	"strings"
	"sync"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

//go:embed measurements.json
var measurementFile []byte

// bound is what a measurement of any living person lies in.
type bound struct{ Name, Least, Most, Unit string }

func (b bound) holds(q quantity.Quantity) bool {
	unit, ok := quantity.MustUnit(b.Unit).As(q.Unit.Dimension())
	in, err := q.In(unit)
	return ok && err == nil && !in.Low.Less(quantity.MustNumber(b.Least)) && !quantity.MustNumber(b.Most).Less(in.High)
}

var bodyBounds = sync.OnceValue(func() map[string]bound {
	var file struct{ Bounds []bound }
	if err := json.Unmarshal(measurementFile, &file); err != nil {
		panic("mapping/r4: measurements.json: " + err.Error())
	}
	m := map[string]bound{}
	for _, b := range file.Bounds {
		m[b.Name] = b
	}
	return m
})

// measurementCode is one LOINC code that is read, and as what.
type measurementCode struct {
	Code, Name, Kind, Basis, Standing string
	Of                                string // the drug a level is of
	Alone                             bool   // used only when nothing better is there
}

var measurementCodes = sync.OnceValue(func() map[string]measurementCode {
	var file struct{ Codes []measurementCode }
	if err := json.Unmarshal(measurementFile, &file); err != nil {
		panic("mapping/r4: measurements.json: " + err.Error())
	}
	m := make(map[string]measurementCode, len(file.Codes))
	for _, c := range file.Codes {
		m[c.Code] = c
	}
	return m
})

// readMeasurements reads the numbers observed: newest clinically relevant
// time first, nothing later than the clock
// (https://hl7.org/fhir/R4/observation.html).
func (c *caseScope) readMeasurements() {
	var list []order.Measurement
	for _, s := range c.mine {
		if s.kind != "Observation" || !c.usable(s) || !c.final(s) {
			continue
		}
		at := c.observedAt(s)
		if c.after(at) {
			s.why = afterClock
			continue
		}
		list = append(list, c.measurementsOf(s, at)...)
	}
	slices.SortStableFunc(list, func(a, b order.Measurement) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), b.At.Time.Compare(a.At.Time))
	})
	c.kase.Measurements = c.onlyBest(list)
	slices.SortStableFunc(c.kase.Measurements, func(a, b order.Measurement) int { return b.At.Time.Compare(a.At.Time) })
	c.compareSimultaneous()
	c.compareHeights()
}

// final reports whether a result may be used at all.
func (c *caseScope) final(s *resource) bool {
	switch st := s.node.Get("status").Text(); st {
	case "final", "amended", "corrected", "preliminary":
		return true
	default:
		s.why = "its status is " + quoted(st)
		return false
	}
}

// observedAt is when the value was true: the specimen's collection, else
// effective[x], else issued; never when the record was stored.
func (c *caseScope) observedAt(s *resource) order.Instant {
	if ref := s.node.Get("specimen"); ref.Exists() {
		if t := c.touch(ref, s); t != nil && t.kind == "Specimen" {
			if i := firstInstant(t.node, "collection.collectedDateTime", "collection.collectedPeriod.end"); !i.Absent() {
				return i
			}
		}
	}
	return firstInstant(s.node, "effectiveDateTime", "effectiveInstant", "effectivePeriod.end", "effectivePeriod.start", "issued")
}

// measurementsOf reads the value of an Observation and of its components.
func (c *caseScope) measurementsOf(s *resource, at order.Instant) []order.Measurement {
	var list []order.Measurement
	for _, n := range append([]element.Node{s.node}, s.node.Get("component").Each()...) {
		m, known := c.measurement(n, s, at)
		if !known {
			continue
		}
		s.used = true
		list = append(list, m)
	}
	return list
}

func (c *caseScope) measurement(n element.Node, s *resource, at order.Instant) (order.Measurement, bool) {
	code := concept(n.Get("code"))
	spec, ok := measurementCodes()[code.Code(loinc)]
	if !ok && code.Code(ourCodes+"patient-fact") == "dosing-weight" {
		spec, ok = measurementCode{Name: "dosingWeight", Kind: "mass"}, true
	}
	if !ok {
		return order.Measurement{}, false
	}
	m := order.Measurement{Name: spec.Name, Basis: spec.Basis, Of: spec.Of, Site: c.drawnFrom(s), At: at, Status: s.node.Get("status").Text(), Place: n.Place(), Ref: s.name()}
	if m.Status == "preliminary" {
		m.Basis = "preliminary"
	}
	for _, k := range code.Codings {
		if k.System == loinc {
			m.Code = k
		}
	}
	value := n.Get("valueQuantity")
	before := len(c.faults)
	q, ok := c.quantity(value)
	if !calculatedWith[spec.Name] {
		for _, f := range c.faults[before:] {
			c.unused = append(c.unused, order.Unused{Place: f.Place, Reason: "not used: " + f.Detail + " (" + f.Observed + ")"})
		}
		c.faults = c.faults[:before]
	}
	if !ok {
		m.Text = firstText(n.Get("valueString").Text(), concept(n.Get("valueCodeableConcept")).Name())
		if m.Text != "" {
			c.notUsed(n, "the result is words, not a number with a unit")
		}
		s.used = true
		return order.Measurement{}, false
	}
	m.Literal, m.Place = q.literal, value.Place()
	dims := measurementDimensions[spec.Kind]
	if dims == nil {
		dims = []quantity.Dimension{q.dimension()}
	}
	for _, d := range dims {
		v, ok := q.as(d)
		if !ok {
			continue
		}
		if b, ok := bodyBounds()[spec.Name]; ok && !b.holds(v) {
			s.used = true
			c.impossible(value, spec.Name+" "+notation.Code(q.literal, q.unit.Code()), "from "+b.Least+" to "+notation.Code(b.Most, b.Unit))
			return order.Measurement{}, false
		}
		m.Quantity = v
		return m, true
	}
	s.used = true
	if !calculatedWith[spec.Name] {
		c.notUsed(value, "its unit does not fit what it measures")
		return order.Measurement{}, false
	}
	c.fault("record-unit-unknown", value, quoted(q.unit.Code()), "a unit of "+dims[0].String(), "a measurement is in a unit that does not fit what it measures")
	return order.Measurement{}, false
}

// calculatedWith are the measurements whose unit decides a dose; a faulty
// unit of another result only leaves that result out.
var calculatedWith = map[string]bool{"weight": true, "height": true, "creatinine": true, "bodySurfaceArea": true, "dosingWeight": true}

var measurementDimensions = map[string][]quantity.Dimension{
	"mass": {quantity.BodyMass}, "length": {quantity.Length}, "area": {quantity.Area},
	"concentration": {quantity.Mass.Per(quantity.Volume), quantity.Amount.Per(quantity.Volume), quantity.Equivalent.Per(quantity.Volume)},
}

func firstText(list ...string) string {
	for _, s := range list {
		if strings.TrimSpace(s) != "" {
			return s
		}
	}
	return ""
}

// onlyBest leaves out preliminary, stated and estimated values where a final,
// measured one of the same kind is there, and says so.
func (c *caseScope) onlyBest(list []order.Measurement) []order.Measurement {
	weak := func(m order.Measurement) bool {
		return m.Basis == "preliminary" || measurementCodes()[m.Code.Code].Alone
	}
	strong := map[string]bool{}
	for _, m := range list {
		if !weak(m) {
			strong[m.Name] = true
		}
	}
	var out []order.Measurement
	for _, m := range list {
		switch {
		case !weak(m):
		case strong[m.Name]:
			c.unused = append(c.unused, order.Unused{Place: m.Place, Reason: "not used: it is " + m.Basis + ", and a final, measured value is there"})
			continue
		default:
			c.unused = append(c.unused, order.Unused{Place: m.Place, Reason: "used although it is " + m.Basis + ": there is no other"})
		}
		out = append(out, m)
	}
	return out
}

// compareSimultaneous: two values of one thing at one time must be equal.
func (c *caseScope) compareSimultaneous() {
	list := c.kase.Measurements
	for i, a := range list {
		for _, b := range list[i+1:] {
			if a.Name != b.Name || a.Of != b.Of || a.At.Absent() || !a.At.Time.Equal(b.At.Time) || a.At.DateOnly != b.At.DateOnly || a.Place == b.Place {
				continue
			}
			if a.Quantity.Unit.Dimension() != b.Quantity.Unit.Dimension() || a.Name == "weight" && a.Basis != b.Basis {
				continue
			}
			x, _ := a.Quantity.Base()
			y, _ := b.Quantity.Base()
			if !x.Equal(y) {
				// One finding for each value: with many at one time, every
				// pair would be a flood that says the same.
				c.faults = append(c.faults, fault("record-sources-disagree", a.Place, a.Literal+" "+a.Quantity.Unit.Code(),
					b.Literal+" "+b.Quantity.Unit.Code()+" at the same time", "two results of one measurement at one time differ"))
				break
			}
		}
	}
}
