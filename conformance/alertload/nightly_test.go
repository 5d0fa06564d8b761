package alertload_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/finding"
)

// The invented nights of adapter/night/nightgen are made of right and complete
// orders, which are drawn and judged here. WEIR_UPDATE=1 writes them there.
const (
	nightlyFile = "../../adapter/night/nightgen/regimens.ndjson"
	nights      = 4 // hours at which nothing is to be found
)

// nightlyClock is that of the first night; each one after it is an hour later.
var nightlyClock = time.Date(2027, time.January, 12, 11, 0, 0, 0, time.UTC)

// regimen is one line of the file: the resources of one order with marks
// {{…}} for what differs from patient to patient and night to night, and
// "{{=…}}" where more than a text may stand.
type regimen struct {
	Drug       string                       `json:"drug"`
	Code       string                       `json:"code"` // RxNorm ingredient
	Female     bool                         `json:"female"`
	Weight     string                       `json:"weight"`     // kg
	Creatinine string                       `json:"creatinine"` // mg/dL
	Born       string                       `json:"born"`
	Discharge  string                       `json:"discharge"`
	Authored   string                       `json:"authored"`
	Lines      []json.RawMessage            `json:"lines"`
	Changes    map[string][]json.RawMessage `json:"changes"` // by kind: the lines that stand instead
}

// nightly draws an order that stands at every nightly clock before its
// discharge.
func nightly(number, try int) complete {
	r := rand.New(rand.NewPCG(uint64(number), uint64(20270112+try)))
	o := complete{card: cards[number], now: nightlyClock}
	home := homes[r.IntN(len(homes))]
	o.zone, o.state = home[0], home[1]
	where, err := time.LoadLocation(o.zone)
	if err != nil {
		panic(err)
	}
	day := time.Date(2027, time.January, 11, 0, 0, 0, 0, where)
	o.body(r)
	o.amounts()
	o.times(r, day)
	o.now = nightlyClock.In(where)
	o.give()
	o.access = lines[r.IntN(3)]
	o.placed = day.AddDate(0, 0, -r.IntN(3)-1)
	return o
}

// give lays the last doses in hospital, two of them, before the clock.
func (o *complete) give() {
	o.given = nil
	step := time.Duration(o.card.hours) * time.Hour
	for at := o.first.Add(-step); len(o.given) < 2; at = at.Add(-step) {
		if at.Before(o.now) {
			o.given = append(o.given, at)
		}
	}
}

// quiet reports whether nothing is to be done about the order at any clock.
func quiet(t *testing.T, o complete, list []object) bool {
	ref := reference(t)
	for hour := range nights {
		if o.now = nightlyClock.Add(time.Duration(hour) * time.Hour); !o.now.Before(o.discharge) {
			return false
		}
		if len(actionable(judge(t, ref, o, list, finding.Release))) > 0 {
			return false
		}
	}
	return true
}

// brief leaves out the displays of codes, whose text says the same, so that a
// million orders take less room, and makes the order older.
func brief(list []object) []object {
	var strip func(v any)
	strip = func(v any) {
		switch v := v.(type) {
		case object:
			delete(v, "display")
			for _, x := range v {
				strip(x)
			}
		case []object:
			for _, x := range v {
				strip(x)
			}
		}
	}
	for _, one := range list {
		strip(one)
		if said, is := one["authoredOn"].(string); is { // well beyond the two hours in which an order may be unseen
			at, err := time.Parse(time.RFC3339, said)
			if err != nil {
				panic(err)
			}
			one["authoredOn"] = when(at.Add(-3 * time.Hour))
		}
	}
	return list
}

// changes are what a hospital may change about the order, by kind.
func (o complete) changes() map[string]complete {
	out := map[string]complete{}
	half := o
	half.dose = number(read(o.dose) / 2)
	out["dose"] = half
	longer := o
	longer.end = o.end.AddDate(0, 0, 7)
	longer.doses = o.doses + 7*24/o.card.hours
	if o.card.hours <= 24 && o.doses > 1 {
		out["end"] = longer
	}
	rarer := o
	rarer.card.hours *= 2
	if !o.continuous() && o.doses > 1 {
		rarer.doses = (o.doses + 1) / 2
		out["frequency"] = rarer
	}
	if o.card.device != "electronic-pump" || o.rate == "" || o.continuous() || o.card.minutes%20 != 0 || o.card.volume%2 != 0 {
		return out
	}
	slower, faster, stronger := o, o, o
	slower.card.minutes, slower.rate = o.card.minutes*2, number(read(o.rate)/2)
	faster.card.minutes, faster.rate = o.card.minutes/2, number(read(o.rate)*2)
	stronger.card.volume, stronger.rate = o.card.volume/2, number(read(o.rate)/2)
	out["duration"], out["rate"], out["concentration"] = slower, faster, stronger
	return out
}

// marked writes the resource as one line with marks.
func (o complete) marked(t *testing.T, r object) []byte {
	r["meta"] = object{"versionId": "{{version}}", "lastUpdated": "{{updated}}"}
	r["id"] = r["id"].(string) + mark(r["resourceType"].(string))
	if r["resourceType"] == "MedicationRequest" {
		r["status"] = "{{status}}"
	}
	text, err := json.Marshal(r)
	require.NoError(t, err)
	s := string(text)
	for _, kind := range []string{"Patient/p", "Practitioner/d", "PractitionerRole/r", "Practitioner/c1", "Practitioner/c2", "Encounter/e", "Medication/bag", "MedicationRequest/order", "Device/line"} {
		name, _, _ := strings.Cut(kind, "/")
		s = strings.ReplaceAll(s, `"`+kind+`"`, `"`+kind+mark(name)+`"`)
	}
	pairs := []string{"H-000000", "H-{{mrn}}", "O-000000", "O-{{key}}", "W-000000", "W-{{number}}", `"given":["Patient"]`, `"given":["{{given}}"]`, `"family":"Example"`, `"family":"{{family}}"`,
		"+1-555-0117", "{{phone}}", "1 Example Road", "{{street}}"}
	switch r["resourceType"] {
	case "Patient":
		pairs = append(pairs, date(o.born), "{{born}}", `"active":true`, `"{{=deceased}}":0,"active":true`)
	case "Encounter":
		pairs = append(pairs, when(o.discharge), "{{discharge}}")
	case "MedicationRequest":
		pairs = append(pairs, r["authoredOn"].(string), "{{authored}}", `"authoredOn"`, `"{{=prior}}":0,"authoredOn"`)
	case "Observation":
		if strings.HasPrefix(r["id"].(string), "weight") {
			pairs = append(pairs, `"value":`+o.weight, `"value":"{{=weight}}"`)
		}
		if strings.HasPrefix(r["id"].(string), "creatinine") {
			pairs = append(pairs, `"value":`+o.scr, `"value":"{{=creatinine}}"`)
		}
	}
	return []byte(strings.NewReplacer(pairs...).Replace(s))
}

func mark(kind string) string {
	switch kind {
	case "Practitioner", "PractitionerRole":
		return "-{{team}}"
	case "MedicationRequest", "Medication", "DeviceRequest", "Provenance":
		return "-{{order}}"
	}
	return "-{{number}}"
}

// The regimens that nightgen has are right, complete and quiet at its clocks,
// and are those that are drawn here.
func TestNightlyRegimensAreQuiet(t *testing.T) {
	var file bytes.Buffer
	count := 0
	for i := range cards {
		if i%5 == 0 || i%5 == 3 { // enough of them
			continue
		}
		for try := range 6 {
			o := nightly(i, try)
			list := brief(o.resources())
			if !quiet(t, o, list) {
				continue
			}
			file.Write(o.regimen(t, list))
			count++
			break
		}
	}
	t.Logf("%d of %d regimens, %d bytes", count, len(cards), file.Len())
	require.GreaterOrEqual(t, count, 20)
	if os.Getenv("WEIR_UPDATE") != "" {
		require.NoError(t, os.WriteFile(nightlyFile, file.Bytes(), 0o644))
	}
	have, err := os.ReadFile(nightlyFile)
	require.NoError(t, err)
	assert.Equal(t, file.String(), string(have), "WEIR_UPDATE=1 writes it")
}

func (o complete) regimen(t *testing.T, list []object) []byte {
	r := regimen{Drug: o.card.name, Code: o.card.code, Female: o.female, Weight: o.weight, Creatinine: o.scr, Born: date(o.born), Discharge: when(o.discharge),
		Changes: map[string][]json.RawMessage{}}
	base := map[string]bool{}
	for _, one := range list {
		if said, is := one["authoredOn"].(string); is {
			r.Authored = said
		}
		line := o.marked(t, one)
		base[string(line)] = true
		r.Lines = append(r.Lines, line)
	}
	for kind, other := range o.changes() {
		var lines []json.RawMessage
		for _, one := range brief(other.resources()) {
			name := one["resourceType"].(string)
			if name != "MedicationRequest" && name != "Medication" || one["id"] == "with-0" {
				continue
			}
			if line := other.marked(t, one); !base[string(line)] {
				lines = append(lines, line)
			}
		}
		require.NotEmpty(t, lines, kind)
		r.Changes[kind] = lines
	}
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	require.NoError(t, encoder.Encode(r), fmt.Sprint(o.card.name))
	return out.Bytes()
}

// In a folder nothing has a fullUrl: what refers to an order as Type/id is
// still about it, as the second check of one that needs it.
func TestWithoutFullUrlsTheOrderIsTheSame(t *testing.T) {
	ref := reference(t)
	for i := range cards {
		if !cards[i].check {
			continue
		}
		o := nightly(i, 0)
		var entries []object
		for _, r := range o.resources() {
			entries = append(entries, object{"resource": r})
		}
		text, err := json.Marshal(object{"resourceType": "Bundle", "type": "collection", "entry": entries})
		require.NoError(t, err)
		j := conformance.Judge(conformance.Input{Document: text, Now: o.now, Stage: finding.Release, Reference: ref})
		require.Len(t, j.Worksheets, 1)
		assert.NotContains(t, actionable(j.Worksheets[0]), "second-check", o.name())
	}
}
