package schema_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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
