package policy_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"weir.example/weir/mapping/policy"
)

// refusal is one way to be refused, and the nearest file that is not.
type refusal struct {
	Says, At, Key, Problem, Need string
	Bad, Good                    string
	Schema                       *bool
}

func refusals(t testing.TB) []refusal {
	files, err := filepath.Glob("testdata/refused/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	var all []refusal
	for _, name := range files {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		var list []refusal
		require.NoError(t, yaml.Unmarshal(data, &list), name)
		all = append(all, list...)
	}
	return all
}

// Every refusal names file, line, column, key and reason, and nothing else
// is refused with it; on the other side of the same boundary the file is
// accepted.
func TestEveryRefusalStandsAtItsPlaceWithItsReasonAlone(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range refusals(t) {
		assert.False(t, seen[c.Says], c.Says)
		seen[c.Says] = true
		t.Run(c.Says, func(t *testing.T) {
			key := c.Key
			if key != "" {
				key += ": "
			}
			p, err := policy.Read("site.yaml", []byte(c.Bad))
			require.Error(t, err)
			assert.Nil(t, p, "no half policy")
			assert.Equal(t, "site.yaml:"+c.At+": "+key+c.Problem+"; need "+c.Need, err.Error())
			var faults policy.Faults
			require.ErrorAs(t, err, &faults)
			assert.Len(t, faults, 1)
			_, again := policy.Read("site.yaml", []byte(c.Bad))
			assert.Equal(t, err.Error(), again.Error(), "the same file, the same words")
			_, err = policy.Read("site.yaml", []byte(c.Good))
			assert.NoError(t, err, "the other side of the boundary")
		})
	}
	assert.Greater(t, len(seen), 200)
}

func placed(t *testing.T, file string) (out []string) {
	t.Helper()
	_, err := policy.Read("site.yaml", []byte(file))
	var faults policy.Faults
	require.ErrorAs(t, err, &faults)
	for _, line := range strings.Split(err.Error(), "\n") {
		at, _, _ := strings.Cut(strings.TrimPrefix(line, "site.yaml:"), ": ")
		_, rest, _ := strings.Cut(line, ": ")
		key, _, _ := strings.Cut(rest, ": ")
		out = append(out, at+" "+key)
	}
	return out
}

// What cannot be read does not hide what makes no sense, and one fault is
// said once.
func TestAllFaultsOfAFileAreListedInItsOrder(t *testing.T) {
	assert.Equal(t, []string{"2:3 gates.rate-diluent", "4:3 home.zone", "6:26 delivery.holidays[1]", "7:3 delivery.longestDays", "9:3 dose.arithmeticWarn"},
		placed(t, "gates:\n  rate-diluent: note\nhome:\n  zone: Nowhere/Nothing\ndelivery:\n  holidays: [2026-11-26, 2026-02-30]\n  longestDays: 90\ndose:\n  arithmeticWarn: 0.07\n"))
	assert.Equal(t, []string{"1:1 device", "2:3 device.tolerence", "3:3 device.rateError", "4:18 device.nominalRates[0]", "4:23 device.nominalRates[1]",
		"5:12 delivery.longestDays", "5:34 delivery.openFrom", "6:1 lock", "7:1 device", "8:1 a second document begins here and would not be read; need one document"},
		placed(t, strings.Join([]string{"device: &d", "  tolerence: 0.9", "  rateError: wide", "  nominalRates: [0x2, -1]", "delivery: {longestDays: 7.5,     openFrom: \"8:00\"}", "lock: *d", "device: {tolerance: 7}", "---", "home: {}"}, "\n")))
	assert.Equal(t, []string{"2:5 overrides[0]", "3:8 overrides[1].fact", "4:5 overrides[2]", "5:5 overrides[3].by"}, placed(t, strings.Join([]string{"overrides:",
		"  - vancomycin-010", "  - {  fact: vancomycin, gates: true" + by + "}", "  - []", "  - {fact: vancomycin-011, gates: true, source: s, reason: r, on: 2026-09-01}"}, "\n")),
		"an entry that cannot be read keeps its place")
}

// Where a site's value and a default clash, the site's own line is shown.
func TestAClashWithADefaultStandsAtTheSitesKey(t *testing.T) {
	for file, want := range map[string]string{
		"dose:\n  arithmeticWarn: 0.06\n":     "2:3 dose.arithmeticWarn",
		"dose:\n  arithmeticBlock: 0.005\n":   "2:3 dose.arithmeticBlock",
		"device:\n  deliveredLeast: 0.85\n":   "2:3 device.deliveredLeast",
		"device:\n  intermittentHold: 1.5\n":  "2:3 device.intermittentHold",
		"delivery:\n  openUntil: \"07:00\"\n": "2:3 delivery.openUntil",
		"delivery:\n  openFrom: \"21:00\"\n":  "2:3 delivery.openFrom",
		"access:\n  planDueDays: 1\n":         "2:3 access.planDueDays",
		"access:\n  planGateDays: 9\n":        "2:3 access.planGateDays",
		"# a word\n\nhome: {}\ndelivery:\n\n  noDelivery: [monday, tuesday, wednesday, thursday, friday, saturday, sunday]\n": "6:3 delivery.noDelivery",
	} {
		assert.Equal(t, []string{want}, placed(t, file))
	}
}

// A byte that is no text, and a file of a thousand lines and more, still have
// a line.
func TestAFileThatIsNoTextHasALine(t *testing.T) {
	for file, want := range map[string]string{
		"home: {}\n# \xff\n":                               "2:1",
		"home: {}\nlock: {}\nx: \x00\n":                    "3:1",
		strings.Repeat("# a word\n", 1200) + "device: {\n": "1201:1",
		"\xff":                     "1:1",
		"home: {}\n---\nhome: {\n": "3:1",
	} {
		_, err := policy.Read("site.yaml", []byte(file))
		require.Error(t, err, "%.20q", file)
		assert.True(t, strings.HasPrefix(err.Error(), "site.yaml:"+want+": "), "%.20q: %s", file, err)
	}
}

// A file of nothing but faults is answered in a hundred lines, and soon: what
// is compared with each other is not compared pair by pair.
func TestOfManyFaultsAHundredAreSaid(t *testing.T) {
	for says, line := range map[string]string{"keys": "wrong%06d: 1\n", "gates": "  wrong-%06d: hold\n"} {
		var file strings.Builder
		if says == "gates" {
			file.WriteString("gates:\n")
		}
		for i := range 102 {
			fmt.Fprintf(&file, line, i)
		}
		_, err := policy.Read("site.yaml", []byte(file.String()))
		require.Error(t, err, says)
		lines := strings.Split(err.Error(), "\n")
		require.Len(t, lines, 101, says)
		assert.Contains(t, lines[99], "000099", says)
		assert.Equal(t, "and 2 more", lines[100], says)
	}
}
