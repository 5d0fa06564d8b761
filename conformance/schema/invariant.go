package schema

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/quantity"
)

// invariant is one constraint of the 4.0.1 definitions, error level. broken
// answers the node at fault and what is wrong, or the zero Node.
type invariant struct {
	key, expected string
	broken        func(n element.Node, w *walker) element.Node
}

// invariantsOf lists the constraints by the type (or element of a type) they
// belong to. Those of HL7 that a narrative or a terminology server would be
// needed for are not here.
var invariantsOf = map[string][]invariant{
	"Timing.repeat": {
		{"tim-1", "durationUnit beside duration", needs("durationUnit", "duration")},
		{"tim-2", "periodUnit beside period", needs("periodUnit", "period")},
		{"tim-4", "a duration that is not negative", negative("duration")},
		{"tim-5", "a period that is not negative", negative("period")},
		{"tim-6", "period beside periodMax", needs("period", "periodMax")},
		{"tim-7", "duration beside durationMax", needs("duration", "durationMax")},
		{"tim-8", "count beside countMax", needs("count", "countMax")},
		{"tim-9", "when beside offset, and not C, CM, CD or CV", offsetWithoutWhen},
		{"tim-10", "either timeOfDay or when", together("timeOfDay", "when")},
	},
	"Quantity":       quantityRules,
	"SimpleQuantity": quantityRules,
	"Age":            quantityRules,
	"Duration":       append([]invariant{{"drt-1", "a unit of time from UCUM", notTime}}, quantityRules...),
	"Ratio":          {{"rat-1", "both numerator and denominator, or neither and an extension", halfRatio}},
	"Range":          {{"rng-2", "low below high", reversedRange}},
	"Period":         {{"per-1", "start before end", reversedPeriod}},
	"Extension":      {{"ext-1", "either a value or extensions, exactly one of the two", extensionBoth}},
	"ContactPoint":   {{"cpt-2", "system beside value", needs("system", "value")}},
	"Attachment":     {{"att-1", "contentType beside data", needs("contentType", "data")}},
	"Observation": {
		{"obs-6", "no dataAbsentReason beside a value", valueAndReason},
		{"obs-7", "no value when a component has the same code", valueAndComponent},
	},
	"Observation.component":      {{"obs-6", "no dataAbsentReason beside a value", valueAndReason}},
	"Observation.referenceRange": {{"obs-3", "low, high or text", lacksAll("low", "high", "text")}},
	"Patient.contact":            {{"pat-1", "a name, telecom, address or organization", lacksAll("name", "telecom", "address", "organization")}},
	"MedicationDispense":         {{"mdd-1", "whenHandedOver not before whenPrepared", earlier("whenHandedOver", "whenPrepared")}},
	"Task":                       {{"inv-1", "lastModified not before authoredOn", earlier("lastModified", "authoredOn")}},
	"ServiceRequest":             {{"prr-1", "orderDetail only with code", needs("code", "orderDetail")}},
	"CarePlan.activity":          {{"cpl-3", "either detail or reference", together("detail", "reference")}},
	"AuditEvent.entity":          {{"sev-1", "either name or query", together("name", "query")}},
	"Bundle":                     bundleRules,
}

var quantityRules = []invariant{{"qty-3", "system beside code", needs("system", "code")}}

func (w *walker) invariants(n element.Node, name string) {
	for _, i := range invariantsOf[name] {
		if at := i.broken(n, w); at.Exists() {
			w.fault("document-invariant", at, "breaks "+i.key, i.expected, "invariant "+i.key+" of FHIR R4 is broken: "+i.expected)
		}
	}
	if k := r4()[name]; k != nil && k.kind == "resource" {
		w.domain(n)
	}
	if len(n.Members()) == 1 && n.Get("id").Exists() && name != "Extension" {
		w.fault("document-invariant", n, "breaks ele-1", "a value or children beside the id", "invariant ele-1 of FHIR R4 is broken: an element has only an id")
	}
}

// needs: an element requires another.
func needs(required, by string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		if at := n.Get(by); at.Exists() && !n.Get(required).Exists() && !n.Get("_"+required).Exists() {
			return at
		}
		return element.Node{}
	}
}

func together(a, b string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		if n.Get(a).Exists() && n.Get(b).Exists() {
			return n.Get(b)
		}
		return element.Node{}
	}
}

func negative(name string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		if strings.HasPrefix(n.Get(name).Literal(), "-") {
			return n.Get(name)
		}
		return element.Node{}
	}
}

func lacksAll(names ...string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		for _, x := range names {
			if n.Get(x).Exists() {
				return element.Node{}
			}
		}
		return n
	}
}

func offsetWithoutWhen(n element.Node, _ *walker) element.Node {
	offset := n.Get("offset")
	if !offset.Exists() {
		return element.Node{}
	}
	when := n.Get("when").Each()
	meal := slices.ContainsFunc(when, func(x element.Node) bool { return slices.Contains([]string{"C", "CM", "CD", "CV"}, x.Text()) })
	if len(when) == 0 || meal {
		return offset
	}
	return element.Node{}
}

var timeUnits = []string{"s", "min", "h", "d", "wk", "mo", "a", "ms"}

func notTime(n element.Node, _ *walker) element.Node {
	if !n.Get("value").Exists() {
		return element.Node{}
	}
	if code := n.Get("code"); code.Exists() && n.Get("system").Text() == "http://unitsofmeasure.org" && slices.Contains(timeUnits, code.Text()) {
		return element.Node{}
	}
	return n
}

func halfRatio(n element.Node, _ *walker) element.Node {
	a, b := n.Get("numerator").Exists(), n.Get("denominator").Exists()
	if a != b || !a && !n.Get("extension").Exists() {
		return n
	}
	return element.Node{}
}

func reversedRange(n element.Node, _ *walker) element.Node {
	low, errL := quantity.Parse(n.Get("low").Get("value").Literal(), n.Get("low").Get("code").Text(), dimensionOf(n.Get("low")))
	high, errH := quantity.Parse(n.Get("high").Get("value").Literal(), n.Get("high").Get("code").Text(), dimensionOf(n.Get("high")))
	if errL != nil || errH != nil {
		a, err1 := quantity.ParseNumber(n.Get("low").Get("value").Literal())
		b, err2 := quantity.ParseNumber(n.Get("high").Get("value").Literal())
		if err1 == nil && err2 == nil && n.Get("low").Get("code").Text() == n.Get("high").Get("code").Text() && b.Less(a) {
			return n
		}
		return element.Node{}
	}
	if in, err := high.In(low.Unit); err == nil && in.High.Less(low.Low) {
		return n
	}
	return element.Node{}
}

func dimensionOf(n element.Node) quantity.Dimension {
	u, err := quantity.ParseUnit(n.Get("code").Text())
	if err != nil {
		return quantity.None
	}
	return u.Dimension()
}

func reversedPeriod(n element.Node, _ *walker) element.Node {
	return earlier("end", "start")(n, nil)
}

// earlier: a moment lies before one it must not. Dates alone are compared as
// far as both are given.
func earlier(late, early string) func(element.Node, *walker) element.Node {
	return func(n element.Node, _ *walker) element.Node {
		a, b := n.Get(late), n.Get(early)
		if !a.Exists() || !b.Exists() {
			return element.Node{}
		}
		x, okX := momentOf(a.Text())
		y, okY := momentOf(b.Text())
		if !okX || !okY {
			same := min(len(a.Text()), len(b.Text()), 10)
			if a.Text()[:same] < b.Text()[:same] {
				return a
			}
			return element.Node{}
		}
		if x.Before(y) {
			return a
		}
		return element.Node{}
	}
}

func extensionBoth(n element.Node, _ *walker) element.Node {
	value, _ := n.Choice("value")
	_, side := n.Choice("_value")
	if (value.Exists() || side != "") == n.Get("extension").Exists() {
		return n
	}
	return element.Node{}
}

func valueAndReason(n element.Node, _ *walker) element.Node {
	if value, _ := n.Choice("value"); value.Exists() && n.Get("dataAbsentReason").Exists() {
		return n.Get("dataAbsentReason")
	}
	return element.Node{}
}

func valueAndComponent(n element.Node, _ *walker) element.Node {
	value, _ := n.Choice("value")
	if !value.Exists() {
		return element.Node{}
	}
	has := map[string]bool{}
	for _, c := range n.Get("code").Get("coding").Each() {
		has[c.Get("system").Text()+"|"+c.Get("code").Text()] = true
	}
	for _, part := range n.Get("component").Each() {
		for _, c := range part.Get("code").Get("coding").Each() {
			if has[c.Get("system").Text()+"|"+c.Get("code").Text()] {
				return part
			}
		}
	}
	return element.Node{}
}
