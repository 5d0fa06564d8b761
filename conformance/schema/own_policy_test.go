package schema_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/policy"
)

func TestAPolicyThatFitsIsAccepted(t *testing.T) {
	for says, file := range map[string]string{
		"nothing at all":           "",
		"comments only":            "# all defaults\n",
		"one key":                  "delivery:\n  longestDays: 14\n",
		"a date without quotes":    "delivery:\n  holidays: [2026-11-26]\n",
		"every weekday but one":    "delivery:\n  noDelivery: [monday, tuesday, wednesday, thursday, friday, saturday]\n",
		"hours and minutes":        "delivery:\n  warmUp: 1h30m\n",
		"the last minute of a day": "delivery:\n  openUntil: \"23:59\"\n",
		"JSON, which is YAML too":  `{"device": {"tolerance": 0.1}}`,
		"a zone of three parts":    "home:\n  zone: America/Indiana/Knox\n",
		"the smallest tolerance":   "device:\n  tolerance: 0.0001\n",
		"the largest tolerance":    "device:\n  tolerance: 0.5\n",
		"the longest supply, 31 d": "delivery:\n  longestDays: 31\n",
	} {
		t.Run(says, func(t *testing.T) {
			assert.NoError(t, schema.Own("policy", []byte(file)))
			_, err := policy.Load([]byte(file))
			assert.NoError(t, err, "what the schema accepts, the program reads")
		})
	}
}

func TestAPolicyWithOneFaultIsRefusedAtItsLine(t *testing.T) {
	for says, c := range map[string]struct {
		file, at string
		line     int
		need     string
	}{
		"an unknown key":                 {"device:\n  tolerence: 0.1\n", "/device/tolerence", 2, "tolerance"},
		"an unknown section":             {"devices: {}\n", "/devices", 1, "device"},
		"a section without content":      {"device:\n", "/device", 1, "object"},
		"a tolerance of 0":               {"device:\n  tolerance: 0\n", "/device/tolerance", 2, "more than 0"},
		"a tolerance of 1":               {"device:\n  tolerance: 1\n", "/device/tolerance", 2, "at most 0.5"},
		"a number as text":               {"device:\n  tolerance: \"0.1\"\n", "/device/tolerance", 2, "number"},
		"a percentage":                   {"device:\n  tolerance: 10%\n", "/device/tolerance", 2, "number"},
		"a hexadecimal number":           {"delivery:\n  longestDays: 0x1F\n", "/delivery/longestDays", 2, "digits"},
		"an empty value":                 {"device:\n  tolerance:\n", "/device/tolerance", 2, "number"},
		"no days at all":                 {"delivery:\n  longestDays: 0\n", "/delivery/longestDays", 2, "at least 1"},
		"32 days":                        {"delivery:\n  longestDays: 32\n", "/delivery/longestDays", 2, "at most 31"},
		"half a day":                     {"delivery:\n  longestDays: 7.5\n", "/delivery/longestDays", 2, "integer"},
		"a weekday spelled wrong":        {"delivery:\n  noDelivery: [sunday, wensday]\n", "/delivery/noDelivery/1", 2, "wednesday"},
		"a weekday with a capital":       {"delivery:\n  noDelivery: [Sunday]\n", "/delivery/noDelivery/0", 2, "lower case"},
		"delivery on no day":             {"delivery:\n  noDelivery: [monday, tuesday, wednesday, thursday, friday, saturday, sunday]\n", "/delivery/noDelivery", 2, "at most 6"},
		"a holiday the other way":        {"delivery:\n  holidays:\n    - 26.11.2026\n", "/delivery/holidays/0", 3, "2026-11-26"},
		"a thirteenth month":             {"delivery:\n  holidays: [2026-13-01]\n", "/delivery/holidays/0", 2, "2026-11-26"},
		"a length without a unit":        {"delivery:\n  warmUp: \"3\"\n", "/delivery/warmUp", 2, "matches"},
		"a length below zero":            {"delivery:\n  warmUp: -3h\n", "/delivery/warmUp", 2, "matches"},
		"24 o'clock":                     {"delivery:\n  openUntil: \"24:00\"\n", "/delivery/openUntil", 2, "wall clock"},
		"an hour of one digit":           {"delivery:\n  openFrom: \"8:00\"\n", "/delivery/openFrom", 2, "wall clock"},
		"yes in place of true":           {"hazard:\n  closedTransferPolicy: \"yes\"\n", "/hazard/closedTransferPolicy", 2, "boolean"},
		"a zone that is an offset":       {"home:\n  zone: \"-05:00\"\n", "/home/zone", 2, "IANA"},
		"the same key twice":             {"device:\n  tolerance: 0.1\n  tolerance: 0.2\n", "/device/tolerance", 3, "once"},
		"two documents":                  {"home: {}\n---\nhome: {}\n", "", 2, "one document"},
		"a list in place of a section":   {"- 1\n", "", 1, "object"},
		"a name in place of a signature": {"pharmacy:\n  signedBy: J. Example\n", "/pharmacy/signedBy", 2, "name, phone"},
		"an alias":                       {"home: &h\n  zone: UTC\nlock: *h\n", "/lock", 3, "the value itself"},
	} {
		t.Run(says, func(t *testing.T) {
			var e *schema.OwnError
			require.True(t, errors.As(schema.Own("policy", []byte(c.file)), &e), "accepted")
			assert.Equal(t, c.at, e.Faults[0].Pointer, e.Error())
			assert.Equal(t, c.line, e.Faults[0].Line, e.Error())
			assert.Contains(t, e.Faults[0].Expected, c.need)
		})
	}
}

// The files that the program refuses stand beside it, each with a neighbour
// that it accepts. What a schema of keys, kinds and words can see, the schema
// refuses too; it refuses nothing that the program accepts.
func TestTheSchemaRefusesWhatTheProgramRefusesAndNoMore(t *testing.T) {
	files, err := filepath.Glob("../../mapping/policy/testdata/refused/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, name := range files {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		var list []struct {
			Says, Bad, Good string
			Schema          *bool // false: no schema can see it
		}
		require.NoError(t, yaml.Unmarshal(data, &list), name)
		for _, c := range list {
			seen := c.Schema == nil || *c.Schema
			assert.Equal(t, seen, schema.Own("policy", []byte(c.Bad)) != nil, "%s: %s", filepath.Base(name), c.Says)
			assert.NoError(t, schema.Own("policy", []byte(c.Good)), "%s: %s", filepath.Base(name), c.Says)
		}
	}
}

func TestTheDefaultsAndTheInventedPharmacyFitTheSchema(t *testing.T) {
	assert.NoError(t, schema.Own("policy", policy.DefaultFile()))
	file, err := os.ReadFile("../../testdata/orders/policy-lanternlight.yaml")
	require.NoError(t, err)
	assert.NoError(t, schema.Own("policy", file))
}

// The entries of the lists have the same keys in both, too.
func TestEntriesOfAPolicyHaveTheKeysOfTheirSchema(t *testing.T) {
	settings := schemaTree(t, "policy")
	span := keysOf(reflect.TypeFor[policy.Span](), "yaml")
	override := slices.DeleteFunc(append(keysOf(reflect.TypeFor[policy.Override](), "yaml"), span...), func(k string) bool { return k == "span" })
	slices.Sort(override)
	for _, c := range []struct {
		keys []string
		path []string
	}{
		{keysOf(reflect.TypeFor[policy.Protocol](), "yaml"), []string{"properties", "lock", "properties", "protocols", "items"}},
		{keysOf(reflect.TypeFor[policy.CatalogueDevice](), "yaml"), []string{"properties", "catalogue", "items"}},
		{keysOf(reflect.TypeFor[policy.Assessment](), "yaml"), []string{"properties", "hazard", "properties", "assessments", "items"}},
		{override, []string{"properties", "overrides", "items"}},
		{keysOf(reflect.TypeFor[policy.Formula](), "yaml"), []string{"properties", "stability", "items"}},
		{span, []string{"properties", "stability", "items", "properties", "concentration"}},
	} {
		assert.Equal(t, c.keys, properties(t, settings, c.path...), "%v", c.path)
	}
}

// A number that would be written out in a hundred million digits is refused
// by its text, in YAML and in JSON, before anything reckons with it.
func TestANumberOfAHundredMillionDigitsIsNeverReckonedWith(t *testing.T) {
	for name, file := range map[string]string{
		"policy": "home: {}\ndevice:\n  tolerance: 1e-99999999\n",
		"drug":   "{\n\"name\": \"x\",\n\"facts\": [1e99999999]}",
		"kit":    "\n\n{\"rows\": -1E-99999999}",
	} {
		var e *schema.OwnError
		require.True(t, errors.As(schema.Own(name, []byte(file)), &e), name)
		require.Len(t, e.Faults, 1, name)
		assert.Equal(t, 3, e.Faults[0].Line, name)
		assert.Positive(t, e.Faults[0].Column, name)
	}
}

// A file of nothing but faults is not answered with a book of them.
func TestOfManyFaultsAHundredAreSaid(t *testing.T) {
	var file strings.Builder
	for i := range 102 {
		fmt.Fprintf(&file, "wrong%03d: 1\n", i)
	}
	err := schema.Own("policy", []byte(file.String()))
	require.Error(t, err)
	lines := strings.Split(err.Error(), "\n")
	require.Len(t, lines, 101)
	assert.Contains(t, lines[99], "wrong099")
	assert.Equal(t, "and 2 more", lines[100])
}

// Whatever the program accepts, its published schema accepts.
func FuzzThePolicySchemaAcceptsWhatTheProgramReads(f *testing.F) {
	f.Add(policy.DefaultFile())
	f.Add([]byte("telephone: {day: \"(555) 010-0150\"}\n"))
	f.Add([]byte("stability:\n  - {drug: cefazolin, kind: prepared, container: bag, diluent: NS, storage: frozen, source: s, by: b, on: 2026-09-01, limit: 9 d, concentration: 20 mg/mL, temperature: -20 Cel}\n"))
	f.Add([]byte("catalogue:\n  - {name: n, class: elastomeric, source: s, nominalVolume: 1 L, nominalRates: [1.50 mL/h], residual: 0 mL, tolerance: 0.1}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := policy.Read("site.yaml", data); err == nil {
			assert.NoError(t, schema.Own("policy", data))
		}
	})
}
