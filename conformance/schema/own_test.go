package schema_test

import (
	"encoding/json"
	"errors"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/worksheet"
)

var ownEmbedded = map[string]func() []byte{"drug": cefazolinFile, "hazards": compendium.HazardsFile, "solutes": compendium.SolutesFile, "codes": finding.CodesFile,
	"kit": fulfillment.KitFile, "tasks": fulfillment.TasksFile, "policy": policy.DefaultFile}

// cefazolinFile is one drug, as every file of the folder is.
func cefazolinFile() []byte { return compendium.Shipped()["drugs/cefazolin.json"] }

func TestEveryDrugFitsTheSchema(t *testing.T) {
	files := compendium.Shipped()
	require.Len(t, files.Drugs(), 60)
	for _, name := range files.Drugs() {
		assert.NoError(t, schema.Own("drug", files[name]), name)
	}
}

// ownSheets are the worksheets of all scenarios, judged once.
func ownSheets(t testing.TB) []worksheet.Worksheet {
	ownOnce.Do(func() { ownList = worksheets(t) })
	require.NotEmpty(t, ownList)
	return ownList
}

var (
	ownOnce sync.Once
	ownList []worksheet.Worksheet
)

func TestEveryEmbeddedFileFitsItsSchema(t *testing.T) {
	assert.Equal(t, []string{"access", "allergies", "codes", "devices", "drug", "hazards", "interactions", "kit", "pairs", "policy", "solutes", "sterility", "tasks", "worksheet"}, schema.Names())
	for name, file := range ownEmbedded {
		assert.NoError(t, schema.Own(name, file()), name)
	}
}

func TestEverySchemaNamesTheDraftAndItself(t *testing.T) {
	for _, name := range schema.Names() {
		text, ok := schema.Published(name)
		require.True(t, ok)
		var s map[string]any
		require.NoError(t, json.Unmarshal(text, &s), name)
		assert.Equal(t, "https://json-schema.org/draft/2020-12/schema", s["$schema"], name)
		assert.Equal(t, "https://weir.example/schema/"+name+".json", s["$id"], name)
		assert.NotEmpty(t, s["title"], name)
	}
	_, ok := schema.Published("no-such")
	assert.False(t, ok)
}

func TestEveryWorksheetOfTheScenariosIsOurOwn(t *testing.T) {
	list := ownSheets(t)
	for _, w := range list {
		data, err := json.Marshal(w)
		require.NoError(t, err)
		assert.NoError(t, schema.Own("worksheet", data), w.Order.Identifier)
	}
	data, err := json.Marshal(list)
	require.NoError(t, err)
	assert.NoError(t, schema.Own("worksheet", data), "the array of all")
}

// fault is one change of a file that fits: at a JSON Pointer the value is
// replaced, or taken away, or a key is added.
type oneFault struct {
	says string
	at   string // where the change is made
	put  any    // nil: take it away
	want string // pointer of the fault; "": same as at
	need string // part of what was expected
}

func TestOneFaultInAFileIsRefusedAtItsPlace(t *testing.T) {
	sheet, err := json.Marshal(ownSheets(t)[0])
	require.NoError(t, err)
	files := map[string][]byte{"worksheet": sheet}
	for name, f := range ownEmbedded {
		if name != "policy" {
			files[name] = f()
		}
	}
	for name, list := range map[string][]oneFault{
		"kit": {
			{says: "no rows at all", at: "/rows", put: []any{}, need: "at least 1"},
			{says: "no edition", at: "/edition", want: "/", need: "edition"},
			{says: "an edition without a month", at: "/edition", put: "2026", need: "Year and month"},
			{says: "an unknown key", at: "/rows/4/spar", put: "rate", need: "spare"},
			{says: "an item with a blank", at: "/rows/4/item", put: "saline syringe", need: "lower-case words joined by hyphens"},
			{says: "a count of nothing", at: "/rows/4/count", put: 0, need: "at least 1"},
			{says: "a count that is no whole number", at: "/rows/4/count", put: 1.5, need: "integer"},
			{says: "a count as text", at: "/rows/4/count", put: "2", need: "integer"},
			{says: "an unknown per", at: "/rows/4/per", put: "hour", need: "dose"},
			{says: "an unknown spare", at: "/rows/4/spare", put: "three", need: "rate"},
			{says: "a misspelt condition", at: "/rows/0/when/0", put: "elastomerik", need: "elastomeric"},
			{says: "no source", at: "/rows/4/source", want: "/rows/4", need: "source"},
			{says: "an empty source", at: "/rows/4/source", put: "", need: "at least 1"},
		},
		"tasks": {
			{says: "an unknown anchor", at: "/rows/0/anchor", put: "first-does", need: "first-dose"},
			{says: "an unknown role", at: "/rows/0/role", put: "driver", need: "pharmacist"},
			{says: "hours as text", at: "/rows/0/offset", put: "-48", need: "integer"},
			{says: "half hours", at: "/rows/0/offset", put: -0.5, need: "integer"},
			{says: "more than 30 days before", at: "/rows/0/offset", put: -721, need: "at least -720"},
			{says: "a code in capitals", at: "/rows/0/code", put: "Accept", need: "lower-case"},
			{says: "no closing rule", at: "/rows/0/closes", want: "/rows/0", need: "closes"},
			{says: "an unknown key", at: "/rows/0/afters", put: []any{"teach"}, need: "after"},
			{says: "an after that is no list", at: "/rows/1/after", put: "accept-order", need: "array"},
			{says: "the same code twice in after", at: "/rows/6/after", put: []any{"prepare", "prepare"}, need: "no entry twice"},
			{says: "prepares as text", at: "/rows/4/prepares", put: "yes", need: "boolean"},
		},
		"codes": {
			{says: "an unknown gate", at: "/rows/0/gate", put: "stop", need: "refused"},
			{says: "an unknown stage", at: "/rows/0/stage", put: "later", need: "intake"},
			{says: "a code of one word", at: "/rows/0/code", put: "dose", need: "matches"},
			{says: "no citation", at: "/rows/0/citation", want: "/rows/0", need: "citation"},
			{says: "an unknown key", at: "/rows/0/gates", put: "block", need: "gate"},
		},
		"drug": {
			{says: "no facts", at: "/facts", want: "/", need: "facts"},
			{says: "an unknown standing", at: "/facts/0/standing", put: "sure", need: "sourced"},
			{says: "a fact without a source", at: "/facts/0/source", want: "/facts/0", need: "source"},
			{says: "a fact without a value", at: "/facts/0/value", put: map[string]any{}, need: "minProperties"},
			{says: "a topic nobody reads", at: "/facts/0/topic", put: "max_dosage", need: "max_daily_dose"},
			{says: "a fluid without a code", at: "/facts/15/value/list/0", put: "saline", need: "NS"},
			{says: "a name in capitals", at: "/name", put: "Cefazolin", need: "matches"},
			{says: "a hazard of another word", at: "/hazard/listed", put: "maybe", need: "no"},
			{says: "a kind nobody knows", at: "/kinds/0", put: "antibiotic", need: "anti-infective"},
		},
		"hazards": {
			{says: "the third table of an older list", at: "/rows/0/table", put: "3", need: "unknown"},
			{says: "a table as a number", at: "/rows/0/table", put: 1, need: "unknown"},
			{says: "no standing", at: "/rows/0/standing", want: "/rows/0", need: "standing"},
			{says: "an unknown key", at: "/rows/0/tables", put: "1", need: "table"},
			{says: "an empty source", at: "/rows/0/source", put: "", need: "at least 1"},
		},
		"solutes": {
			{says: "a molar mass of nothing", at: "/solutes/0/molarMass", put: "0", need: "matches"},
			{says: "particles as a number", at: "/solutes/0/particles", put: 2, need: "string"},
			{says: "no source", at: "/solutes/0/source", want: "/solutes/0", need: "source"},
		},
		"worksheet": {
			{says: "no verdict", at: "/verdict", want: "/", need: "verdict"},
			{says: "a verdict of another word", at: "/verdict", put: "fine", need: "indeterminate"},
			{says: "a stage of another word", at: "/stage", put: "packing", need: "dispatch"},
			{says: "an unknown closed transfer", at: "/hazard/closedTransfer", put: "yes", need: "by-policy"},
			{says: "an unknown listing", at: "/hazard/listed", put: "none", need: "unassessed"},
			{says: "no clock", at: "/sources/now", want: "/sources", need: "now"},
			{says: "a gate of another word", at: "/findings/0/gate", put: "stop", need: "block"},
			{says: "findings as an object", at: "/findings", put: map[string]any{}, need: "array"},
			{says: "a kit that counts below nothing", at: "/kit/0/quantity", put: -1, need: "at least 0"},
		},
	} {
		for _, c := range list {
			t.Run(name+": "+c.says, func(t *testing.T) {
				changed := alter(t, files[name], c.at, c.put)
				var e *schema.OwnError
				require.True(t, errors.As(schema.Own(name, changed), &e), "accepted")
				want := c.want
				if want == "" {
					want = c.at
				}
				f := e.Faults[0]
				assert.Equal(t, strings.TrimSuffix(want, "/"), f.Pointer, e.Error())
				assert.Equal(t, name, f.File)
				assert.Contains(t, f.Expected, c.need)
				assert.NotEmpty(t, f.Problem)
				assert.Positive(t, f.Line)
				for _, other := range e.Faults {
					assert.Equal(t, f.Pointer, other.Pointer, "one fault, one place")
				}
			})
		}
	}
}

func TestAWorksheetMayGainKeys(t *testing.T) {
	sheet, err := json.Marshal(ownSheets(t)[0])
	require.NoError(t, err)
	for _, at := range []string{"/added", "/order/added", "/hazard/added", "/findings/0/added", "/schedule/added", "/sources/added"} {
		assert.NoError(t, schema.Own("worksheet", alter(t, sheet, at, "later")), at)
	}
}

func TestEverySignatureOfTheContractIsAllowedAndNoOther(t *testing.T) {
	sheet, err := json.Marshal(ownSheets(t)[0])
	require.NoError(t, err)
	culprit := func(signature string) []byte {
		return alter(t, sheet, "/findings/0/culprits", []any{map[string]any{"name": "rate", "with": []any{}, "stated": "50", "consistent": "200",
			"unit": "mL/h", "signature": signature, "named": true}})
	}
	for signature := range strings.FieldsSeq("tenfold thousandfold per-day-as-per-hour minutes-as-hours pounds-as-kilograms daily-total-each-dose course-total-as-one-day other-concentration neighbouring-field transposed-digits none") {
		assert.NoError(t, schema.Own("worksheet", culprit(signature)), signature)
	}
	err = schema.Own("worksheet", culprit("hundredfold"))
	require.Error(t, err)
	assert.Contains(t, err.Error(), "/findings/0/culprits/0/signature")
}

func TestTheErrorSaysFilePlaceProblemAndWhatWasExpected(t *testing.T) {
	err := schema.Own("kit", []byte("{\n \"edition\": \"2026-11\",\n \"rows\": [\n  {\"item\": \"pad\", \"name\": \"pad\", \"unit\": \"pad\", \"per\": \"dosis\",\n   \"count\": 1, \"spare\": \"one\", \"when\": [], \"source\": \"common practice, no source\"}]}"))
	require.Error(t, err)
	for _, part := range []string{"kit: line 4", "at /rows/0/per", "value must be one of", `expected one of ["dose","day","week","draw","delivery","first"]`, "What one count belongs to"} {
		assert.Contains(t, err.Error(), part)
	}
	assert.Contains(t, schema.Own("no-such", nil).Error(), "nothing was checked")
	assert.Contains(t, schema.Own("kit", []byte("{")).Error(), "no JSON")
	assert.Contains(t, schema.Own("kit", []byte("{} {}")).Error(), "no JSON")
	twice := schema.Own("kit", []byte(`{"edition": "2026-11", "edition": "2026-12", "rows": []}`))
	require.Error(t, twice)
	assert.Contains(t, twice.Error(), "twice", "a name that stands twice is not settled by chance")
}

// alter replaces, adds or (put nil) removes the value at a JSON Pointer.
func alter(t testing.TB, data []byte, pointer string, put any) []byte {
	t.Helper()
	var root any
	require.NoError(t, json.Unmarshal(data, &root))
	parts := strings.Split(strings.TrimPrefix(pointer, "/"), "/")
	at := root
	for _, p := range parts[:len(parts)-1] {
		if list, ok := at.([]any); ok {
			i, err := strconv.Atoi(p)
			require.NoError(t, err)
			require.Less(t, i, len(list), pointer)
			at = list[i]
			continue
		}
		at = at.(map[string]any)[p]
		require.NotNil(t, at, pointer)
	}
	last := parts[len(parts)-1]
	switch at := at.(type) {
	case map[string]any:
		if put == nil {
			require.Contains(t, slices.Collect(maps.Keys(at)), last, "nothing to take away")
			delete(at, last)
		} else {
			at[last] = put
		}
	case []any:
		i, err := strconv.Atoi(last)
		require.NoError(t, err)
		at[i] = put
	}
	out, err := json.Marshal(root)
	require.NoError(t, err)
	return out
}
