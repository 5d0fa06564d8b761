package nightgen

import (
	_ "embed"
	"encoding/json"
	"regexp"
	"strings"
	"sync"
)

//go:embed regimens.ndjson
var regimenFile string

// field is what differs from patient to patient and from night to night.
type field int

const (
	none field = iota
	number
	team
	order
	orderKey
	record
	given
	family
	phone
	street
	born
	deceased
	discharge
	authored
	prior
	weight
	creatinine
	status
	version
	updated
	drugName
	drugCode
	clock
	fieldCount
)

var fieldNames = map[string]field{"number": number, "team": team, "order": order, "key": orderKey, "mrn": record, "given": given, "family": family,
	"phone": phone, "street": street, "born": born, "deceased": deceased, "discharge": discharge, "authored": authored, "prior": prior, "weight": weight,
	"creatinine": creatinine, "status": status, "version": version, "updated": updated, "drug": drugName, "code": drugCode, "clock": clock}

// values fill the fields of a line.
type values [fieldCount]string

// class says which lines change together.
type class int

const (
	other class = iota
	person
	stay
	weighing
	kidneys
	request
	bag
	lineUse
	allergies
	pump    // DeviceRequest and Provenance of the order
	persons // nobody's: a prescriber, one who checks
	classCount
)

var classes = map[string]class{"p": person, "e": stay, "weight": weighing, "creatinine": kidneys, "order": request, "bag": bag, "use": lineUse,
	"a": allergies, "device": pump, "checked": pump, "d": persons, "r": persons, "c1": persons, "c2": persons}

// line is one resource with its fields.
type line struct {
	kind     string
	class    class
	parts    []part
	reversed []part // the same with its members the other way round
}

type part struct {
	text  string
	field field
}

// regimen is an order as conformance/alertload drew it.
type regimen struct {
	Drug, Code         string
	Female             bool
	Weight, Creatinine string
	Born, Discharge    string
	Authored           string
	Lines              []json.RawMessage
	Changes            map[string][]json.RawMessage

	lines   []line
	changes map[Kind][]line
}

// regimens are read once.
var regimens = sync.OnceValue(func() []regimen {
	var out []regimen
	for text := range strings.Lines(regimenFile) {
		var r regimen
		if err := json.Unmarshal([]byte(text), &r); err != nil {
			panic(err) // our own file
		}
		for _, l := range r.Lines {
			r.lines = append(r.lines, compile(string(l)))
		}
		r.changes = map[Kind][]line{}
		for kind, list := range r.Changes {
			for _, l := range list {
				r.changes[Kind(kind)] = append(r.changes[Kind(kind)], compile(string(l)))
			}
		}
		out = append(out, r)
	}
	return out
})

var (
	marks = regexp.MustCompile(`"\{\{=(\w+)\}\}"(?::0,)?|\{\{(\w+)\}\}`)
	types = regexp.MustCompile(`"resourceType":"(\w+)"`)
	ids   = regexp.MustCompile(`"id":"([a-z0-9]+)-`)
)

func compile(text string) line {
	l := line{parts: parts(text), reversed: parts(reversed(text))}
	members := topLevel(text)
	for _, m := range members {
		if found := types.FindStringSubmatch(m); found != nil && strings.HasPrefix(m, `"resourceType"`) {
			l.kind = found[1]
		}
		if found := ids.FindStringSubmatch(m); found != nil && strings.HasPrefix(m, `"id"`) {
			l.class = classes[found[1]]
		}
	}
	return l
}

func parts(text string) []part {
	var out []part
	at := 0
	for _, m := range marks.FindAllStringSubmatchIndex(text, -1) {
		name := ""
		if m[2] >= 0 {
			name = text[m[2]:m[3]]
		} else {
			name = text[m[4]:m[5]]
		}
		f, known := fieldNames[name]
		if !known {
			panic("nightgen: no field " + name)
		}
		out = append(out, part{text[at:m[0]], f})
		at = m[1]
	}
	return append(out, part{text[at:], none})
}

// topLevel gives the members of an object as they stand.
func topLevel(text string) []string {
	var out []string
	depth, inside, at := 0, false, 1
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case inside && c == '\\':
			i++
		case c == '"':
			inside = !inside
		case inside:
		case c == '{' || c == '[':
			depth++
		case c == '}' || c == ']':
			depth--
		case c == ',' && depth == 1:
			out = append(out, text[at:i])
			at = i + 1
		}
	}
	return append(out, text[at:len(text)-1])
}

// reversed turns the members round. A mark that stands for a member stays
// before the one it stands before.
func reversed(text string) string {
	var out []string
	list := topLevel(text)
	for i := len(list) - 1; i >= 0; i-- {
		m := list[i]
		for i > 0 && strings.HasPrefix(list[i-1], `"{{=`) {
			i--
			m = list[i] + "," + m
		}
		out = append(out, m)
	}
	return "{" + strings.Join(out, ",") + "}"
}

// fill appends the line with its values.
func (l *line) fill(to []byte, v *values, turned bool) []byte {
	list := l.parts
	if turned {
		list = l.reversed
	}
	for _, p := range list {
		to = append(to, p.text...)
		if p.field != none {
			to = append(to, v[p.field]...)
		}
	}
	return to
}

// Lines that a night may add.
var (
	newAllergy = compile(`{"clinicalStatus":{"coding":[{"code":"active","system":"http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical"}]},"code":{"coding":[{"code":"{{code}}","system":"http://www.nlm.nih.gov/research/umls/rxnorm"}],"text":"{{drug}}"},"criticality":"high","id":"a-{{number}}","meta":{"lastUpdated":"{{updated}}","versionId":"{{version}}"},"patient":{"reference":"Patient/p-{{number}}"},"recordedDate":"{{clock}}","resourceType":"AllergyIntolerance","verificationStatus":{"coding":[{"code":"confirmed","system":"http://terminology.hl7.org/CodeSystem/allergyintolerance-verification"}]}}`)
	pregnant   = compile(`{"code":{"coding":[{"code":"82810-3","system":"http://loinc.org"}],"text":"Pregnancy status"},"effectiveDateTime":"{{clock}}","id":"pregnancy-{{number}}","meta":{"lastUpdated":"{{updated}}","versionId":"{{version}}"},"resourceType":"Observation","status":"final","subject":{"reference":"Patient/p-{{number}}"},"valueCodeableConcept":{"coding":[{"code":"77386006","system":"http://snomed.info/sct"}],"text":"Pregnant"}}`)
	oldLine    = compile(`{"device":{"reference":"Device/line-{{number}}"},"id":"use-{{number}}","meta":{"lastUpdated":"{{updated}}","versionId":"{{version}}"},"resourceType":"DeviceUseStatement","status":"completed","subject":{"reference":"Patient/p-{{number}}"},"timingPeriod":{"end":"{{clock}}","start":"2027-01-08T12:00:00Z"}}`)
	newLine    = compile(`{"id":"midline-{{number}}","meta":{"lastUpdated":"{{updated}}","versionId":"{{version}}"},"patient":{"reference":"Patient/p-{{number}}"},"property":[{"type":{"coding":[{"code":"lumen-count","system":"https://weir.example/fhir/CodeSystem/access-property"}]},"valueQuantity":[{"code":"{lumen}","system":"http://unitsofmeasure.org","unit":"{lumen}","value":1}]}],"resourceType":"Device","status":"active","type":{"coding":[{"code":"1396531004","system":"http://snomed.info/sct"}],"text":"Single lumen midline catheter"}}`)
	newUse     = compile(`{"device":{"reference":"Device/midline-{{number}}"},"id":"midline-use-{{number}}","meta":{"lastUpdated":"{{updated}}","versionId":"{{version}}"},"resourceType":"DeviceUseStatement","status":"active","subject":{"reference":"Patient/p-{{number}}"},"timingPeriod":{"start":"{{clock}}"}}`)
	stayEnded  = compile(`{"class":{"code":"IMP","system":"http://terminology.hl7.org/CodeSystem/v3-ActCode"},"id":"e-{{number}}","meta":{"lastUpdated":"{{updated}}","versionId":"{{version}}"},"period":{"end":"2027-01-12T10:30:00Z","start":"2027-01-03T10:30:00Z"},"resourceType":"Encounter","status":"finished","subject":{"reference":"Patient/p-{{number}}"}}`)
	newStay    = compile(`{"class":{"code":"IMP","system":"http://terminology.hl7.org/CodeSystem/v3-ActCode"},"id":"again-{{number}}","meta":{"lastUpdated":"{{updated}}","versionId":"{{version}}"},"period":{"start":"{{clock}}"},"resourceType":"Encounter","status":"in-progress","subject":{"reference":"Patient/p-{{number}}"}}`)
)
