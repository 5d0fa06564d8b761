package schema

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
)

// invariant is one constraint of error level of the 4.0.1 definitions. broken
// gives the node that breaks it, the zero Node when none does.
type invariant struct {
	key      string
	expected string
	broken   func(element.Node) element.Node
}

// byType lists the constraints by the type, or the element of a type, whose
// page states them. Those on every element (ele-1), on resources with
// contained ones (dom-2 to dom-5) and on references (ref-1) are in code of
// their own; those that need a terminology server, a narrative in HTML or
// FHIRPath over definitions are not asked.
var byType = map[string][]invariant{
	"Timing.repeat": {
		{"tim-1", "a durationUnit beside the duration", needs("durationUnit", "duration")},
		{"tim-2", "a periodUnit beside the period", needs("periodUnit", "period")},
		{"tim-4", "a duration that is not negative", negative("duration")},
		{"tim-5", "a period that is not negative", negative("period")},
		{"tim-6", "a period beside periodMax", needs("period", "periodMax")},
		{"tim-7", "a duration beside durationMax", needs("duration", "durationMax")},
		{"tim-8", "a count beside countMax", needs("count", "countMax")},
		{"tim-9", "an offset only beside a when that is none of C, CM, CD, CV", offsetWithoutWhen},
		{"tim-10", "either timeOfDay or when", together("timeOfDay", "when")},
	},
	"Quantity":       quantities,
	"SimpleQuantity": append([]invariant{{"sqty-1", "no comparator: the value counts exactly", absent("comparator")}}, quantities...),
	"Age":            append([]invariant{{"age-1", "a unit of time from UCUM, and a value above 0", notAge}}, quantities...),
	"Count":          append([]invariant{{"cnt-3", "a whole number with the UCUM code 1", notCount}}, quantities...),
	"Distance":       append([]invariant{{"dis-1", "a unit of length from UCUM", withoutCode}}, quantities...),
	"Duration":       append([]invariant{{"drt-1", "a value with a unit of time from UCUM", notDuration}}, quantities...),
	"Ratio":          {{"rat-1", "both numerator and denominator, or an extension in place of both", halfRatio}},
	"Range":          {{"rng-2", "a low that is not above the high", reversedRange}},
	"Period":         {{"per-1", "an end that is not before the start", before("end", "start")}},
	"Extension":      {{"ext-1", "either a value or extensions, exactly one of the two", valueAndExtensions}},
	"ContactPoint":   {{"cpt-2", "a system beside the value", needs("system", "value")}},
	"Attachment":     {{"att-1", "a contentType beside the data", needs("contentType", "data")}},

	"AllergyIntolerance": {
		{"ait-1", "a clinicalStatus, unless entered in error", allergyWithoutStatus},
		{"ait-2", "no clinicalStatus on an allergy that was entered in error", statusOfError("http://terminology.hl7.org/CodeSystem/allergyintolerance-verification")},
	},
	"AuditEvent.entity": {{"sev-1", "either a name or a query", together("name", "query")}},
	"Bundle":            bundles,
	"Bundle.entry": {
		{"bdl-5", "a resource, a request or a response", lacksAll("resource", "request", "response")},
		{"bdl-8", "a fullUrl without a version", versionedURL},
	},
	"CarePlan.activity": {{"cpl-3", "either a reference or a detail", together("detail", "reference")}},
	"Condition": {
		{"con-4", "a clinicalStatus of inactive, resolved or remission once the condition has abated", abatedAndActive},
		{"con-5", "no clinicalStatus on a condition that was entered in error", statusOfError("http://terminology.hl7.org/CodeSystem/condition-ver-status")},
	},
	"Condition.stage":                 {{"con-1", "a summary or an assessment", lacksAll("summary", "assessment")}},
	"Condition.evidence":              {{"con-2", "a code or a detail", lacksAll("code", "detail")}},
	"List":                            {{"lst-1", "an emptyReason only on a list without entries", together("emptyReason", "entry")}},
	"MedicationAdministration.dosage": {{"mad-1", "a dose or a rate", lacksAll("dose", "rateRatio", "rateQuantity")}},
	"MedicationDispense":              {{"mdd-1", "a whenHandedOver that is not before whenPrepared", before("whenHandedOver", "whenPrepared")}},
	"Observation": {
		{"obs-6", "either a value or a dataAbsentReason", valueAndReason},
		{"obs-7", "the value in the component alone, when a component has the code of the observation", valueAndComponent},
	},
	"Observation.component":      {{"obs-6", "either a value or a dataAbsentReason", valueAndReason}},
	"Observation.referenceRange": {{"obs-3", "a low, a high or a text", lacksAll("low", "high", "text")}},
	"Organization":               {{"org-1", "a name or an identifier", lacksAll("name", "identifier")}},
	"Parameters.parameter":       {{"inv-1", "exactly one of a value, a resource and parts", parameterContent}},
	"Patient.contact":            {{"pat-1", "a name, telecom, address or organization", lacksAll("name", "telecom", "address", "organization")}},
	"ServiceRequest":             {{"prr-1", "a code beside orderDetail", needs("code", "orderDetail")}},
	"Task":                       {{"inv-1", "a lastModified that is not before authoredOn", before("lastModified", "authoredOn")}},
}

var quantities = []invariant{{"qty-3", "a system beside the code of the unit", needs("system", "code")}}

// breaks judges one object by the constraints of its type.
func (w *walker) breaks(n element.Node, name string) {
	for _, i := range byType[name] {
		if at := i.broken(n); at.Exists() {
			w.broken(at, i.key, i.expected)
		}
	}
	if n.Len() == 1 && n.Get("id").Exists() && !w.table.isResource(name) {
		w.broken(n, "ele-1", "a value or parts beside the id")
	}
}

func (w *walker) broken(at element.Node, key, expected string) {
	w.add("document-invariant", at.Place(), "what breaks "+key, expected, "Sender: correct the elements so that there is "+expected+".",
		"invariant "+key+" of FHIR R4 is broken: it asks for "+expected)
}

// stands says whether an element is there, be it as an extension that says
// why there is no value.
func stands(n element.Node, name string) bool {
	return n.Get(name).Exists() || n.Get("_"+name).Exists()
}

func needs(required, by string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if at := n.Get(by); at.Exists() && !stands(n, required) {
			return at
		}
		return element.Node{}
	}
}

func absent(name string) func(element.Node) element.Node {
	return func(n element.Node) element.Node { return n.Get(name) }
}

func together(a, b string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if n.Get(a).Exists() && n.Get(b).Exists() {
			return n.Get(b)
		}
		return element.Node{}
	}
}

func lacksAll(names ...string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if slices.ContainsFunc(names, func(name string) bool { return stands(n, name) }) {
			return element.Node{}
		}
		return n
	}
}

func negative(name string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if at := n.Get(name); strings.HasPrefix(at.Literal(), "-") {
			return at
		}
		return element.Node{}
	}
}

func offsetWithoutWhen(n element.Node) element.Node {
	meals := []string{"C", "CM", "CD", "CV"}
	when := n.Get("when").Each()
	if len(when) > 0 && !slices.ContainsFunc(when, func(x element.Node) bool { return slices.Contains(meals, x.Text()) }) {
		return element.Node{}
	}
	return n.Get("offset")
}

func valueAndExtensions(n element.Node) element.Node {
	value, _ := n.Choice("value")
	side, _ := n.Choice("_value")
	if (value.Exists() || side.Exists()) == n.Get("extension").Exists() {
		return n
	}
	return element.Node{}
}

func valueAndReason(n element.Node) element.Node {
	if value, _ := n.Choice("value"); value.Exists() {
		return n.Get("dataAbsentReason")
	}
	return element.Node{}
}

func valueAndComponent(n element.Node) element.Node {
	if value, _ := n.Choice("value"); !value.Exists() {
		return element.Node{}
	}
	codes := codings(n.Get("code"))
	for _, part := range n.Get("component").Each() {
		for coding := range codings(part.Get("code")) {
			if codes[coding] {
				return part
			}
		}
	}
	return element.Node{}
}

func codings(concept element.Node) map[string]bool {
	list := map[string]bool{}
	for _, c := range concept.Get("coding").Each() {
		list[c.Get("system").Text()+"|"+c.Get("code").Text()] = true
	}
	return list
}

func hasCode(concept element.Node, system string, codes ...string) bool {
	list := codings(concept)
	return slices.ContainsFunc(codes, func(code string) bool { return list[system+"|"+code] })
}

const allergyVerification = "http://terminology.hl7.org/CodeSystem/allergyintolerance-verification"

func allergyWithoutStatus(n element.Node) element.Node {
	if stands(n, "clinicalStatus") || hasCode(n.Get("verificationStatus"), allergyVerification, "entered-in-error") {
		return element.Node{}
	}
	return n
}

func statusOfError(system string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if hasCode(n.Get("verificationStatus"), system, "entered-in-error") {
			return n.Get("clinicalStatus")
		}
		return element.Node{}
	}
}

func abatedAndActive(n element.Node) element.Node {
	abated, _ := n.Choice("abatement")
	if abated.Exists() && !hasCode(n.Get("clinicalStatus"), "http://terminology.hl7.org/CodeSystem/condition-clinical", "inactive", "resolved", "remission") {
		return abated
	}
	return element.Node{}
}

func parameterContent(n element.Node) element.Node {
	value, _ := n.Choice("value")
	side, _ := n.Choice("_value")
	content := 0
	for _, there := range []bool{value.Exists() || side.Exists(), n.Get("resource").Exists(), n.Get("part").Exists()} {
		if there {
			content++
		}
	}
	if content != 1 {
		return n
	}
	return element.Node{}
}
