package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const (
	s1    = "../../testdata/orders/s1-cefazolin-elastomeric/s1-cefazolin-elastomeric.json"
	s1Now = "2026-11-10T14:20:00-05:00"
	s3    = "../../testdata/orders/s3-fluorouracil-46h/s3-fluorouracil-46h.json"
)

type result struct {
	code     int
	out, err string
}

// weir runs one command line as a person would type it, with standard input.
func weir(t *testing.T, in string, args ...string) result {
	t.Helper()
	var out, errs bytes.Buffer
	clock := func() time.Time { return time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC) }
	code := run(context.Background(), args, streams{in: strings.NewReader(in), out: &out, err: &errs, now: clock})
	return result{code, out.String(), errs.String()}
}

func TestExitCodesOfTheContract(t *testing.T) {
	dir := t.TempDir()
	file := func(name, content string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
		return path
	}
	bad := file("bad.json", `{"resourceType": "Bundle"`)
	for _, x := range []struct {
		name string
		args []string
		code int
	}{
		{"findings at the default gate", []string{"verify", "--now", s1Now, s1}, 1},
		{"never fails on request", []string{"verify", "--now", s1Now, "--fail-on", "never", s1}, 0},
		{"a block is above hold", []string{"verify", "--now", s1Now, "--fail-on", "block", s1}, 1},
		{"no file", []string{"verify"}, 2},
		{"a file that is not there", []string{"verify", filepath.Join(dir, "none.json")}, 2},
		{"a folder without orders by type", []string{"verify", dir}, 3},
		{"an unknown flag", []string{"verify", "--nope", s1}, 2},
		{"an unknown stage", []string{"verify", "--stage", "later", s1}, 2},
		{"an unknown output", []string{"verify", "--output", "xml", s1}, 2},
		{"a clock without zone", []string{"verify", "--now", "2026-11-10T14:20:00", s1}, 2},
		{"a policy with an unknown key", []string{"verify", "--policy", file("p.yaml", "delivery:\n  longestDay: 3\n"), s1}, 2},
		{"an unknown command", []string{"verity"}, 2},
		{"not JSON", []string{"verify", bad}, 3},
		{"findings weigh more than a bad document beside them", []string{"verify", "--now", s1Now, s1, bad}, 1},
		{"one good, one bad", []string{"verify", "--now", s1Now, "--fail-on", "never", s1, bad}, 4},
		{"an unknown code", []string{"explain", "dose-arithmetics"}, 2},
		{"version", []string{"version"}, 0},
		{"help", []string{"--help"}, 0},
	} {
		t.Run(x.name, func(t *testing.T) {
			r := weir(t, "", x.args...)
			assert.Equal(t, x.code, r.code, r.err)
			if x.code == 2 {
				assert.Empty(t, r.out, "wrong use writes no data")
				assert.NotEmpty(t, r.err)
			}
		})
	}
}

// The refusals of the hostile list: exit 3, an outcome with place and
// remedy, and no panic.
func TestWhatIsNotFHIRIsRefusedWithPlaceAndRemedy(t *testing.T) {
	order := `{"resourceType":"MedicationRequest","status":"active","intent":"order","medicationCodeableConcept":{"text":"x"},"subject":{"display":"y"}`
	for name, text := range map[string]string{
		"empty":                     "",
		"XML":                       `<?xml version="1.0"?><Bundle xmlns="http://hl7.org/fhir"/>`,
		"not FHIR":                  `{"hello": "world"}`,
		"a list":                    `[1, 2]`,
		"duplicate value":           order + `,"dosageInstruction":[{"doseAndRate":[{"doseQuantity":{"value":12500,"value":1250}}]}]}`,
		"empty status":              strings.Replace(order, `"active"`, `""`, 1) + "}",
		"unknown element":           order + `,"dose":"2 g"}`,
		"a code outside the set":    strings.Replace(order, `"active"`, `"running"`, 1) + "}",
		"missing status":            strings.Replace(order, `"status":"active",`, "", 1) + "}",
		"100,000 deep":              strings.Repeat(`{"a":`, 100_000),
		"a resource without orders": `{"resourceType":"Patient","birthDate":"1979-08-22"}`,
	} {
		t.Run(name, func(t *testing.T) {
			r := weir(t, text, "verify", "-")
			require.Equal(t, 3, r.code, r.out)
			var outcome struct {
				ResourceType string
				Issue        []struct {
					Diagnostics string
					Expression  []string
					Details     struct{ Coding []struct{ Code string } }
				}
			}
			require.NoError(t, json.Unmarshal([]byte(r.out), &outcome))
			assert.Equal(t, "OperationOutcome", outcome.ResourceType)
			require.NotEmpty(t, outcome.Issue)
			for _, i := range outcome.Issue {
				assert.NotEmpty(t, i.Diagnostics)
				require.NotEmpty(t, i.Details.Coding)
				assert.True(t, strings.HasPrefix(i.Details.Coding[0].Code, "document-"), i.Details.Coding[0].Code)
			}
			assert.NotContains(t, r.err, "12500", "no value of the document on standard error")
		})
	}
	r := weir(t, order+`,"dosageInstruction":[{"doseAndRate":[{"doseQuantity":{"value":12500,"value":1250}}]}]}`, "verify", "-")
	assert.Contains(t, r.out, "MedicationRequest.dosageInstruction[0].doseAndRate[0].doseQuantity.value")
	assert.Contains(t, r.out, "operationoutcome-issue-line")
}

func TestTwoHundredMegabytesAreRefused(t *testing.T) {
	big := `{"resourceType":"Bundle","type":"collection","id":"` + strings.Repeat("a", 200<<20) + `"}`
	r := weir(t, big, "verify", "--output", "table", "-")
	assert.Equal(t, 3, r.code)
	assert.Contains(t, r.out, "document-limit")
}

func TestTwoRunsGiveEqualBytes(t *testing.T) {
	for _, output := range []string{"fhir", "worksheet", "table", "ndjson"} {
		a := weir(t, "", "verify", "--now", s1Now, "--output", output, s1, s3)
		b := weir(t, "", "verify", "--now", s1Now, "--output", output, s1, s3)
		assert.Equal(t, a.out, b.out, output)
		assert.NotEmpty(t, a.out)
	}
}

func TestThePharmacistReadsTheCulprit(t *testing.T) {
	r := weir(t, "", "verify", "--now", "2026-10-30T14:10:00-04:00", "--output", "table", s3)
	text := strings.Join(strings.Fields(r.out), " ")
	for _, want := range []string{
		"47.7 is the concentration (mg per mL) typed as the rate; the rate that agrees with infusion time and volume is 2 mL per hour.",
		"by elapsed time it ends Mon 2 Nov 2026 08:00 EST",
		"closed-system transfer: required",
		"nothing may be released on this answer until a named pharmacist signs them",
	} {
		assert.Contains(t, text, want)
	}
	assert.NotContains(t, r.out, "\x1b[", "no colour into a pipe")
	assert.Contains(t, r.err, "unsigned")
	assert.Empty(t, weir(t, "", "verify", "--quiet", "--now", s1Now, s1).err)
}

func TestWorksheetOfOneOrderIsAnObjectOfSeveralAnArray(t *testing.T) {
	var one map[string]any
	require.NoError(t, json.Unmarshal([]byte(weir(t, "", "verify", "--now", s1Now, "--output", "worksheet", s1).out), &one))
	for _, key := range []string{"order", "verdict", "stage", "quantities", "readings", "findings", "notChecked", "schedule", "deliveries", "kit", "tasks", "hazard", "sources"} {
		assert.Contains(t, one, key)
	}
	var many []map[string]any
	require.NoError(t, json.Unmarshal([]byte(weir(t, "", "verify", "--now", s1Now, "--output", "worksheet", s1, s3).out), &many))
	assert.Len(t, many, 2)
	lines := strings.Split(strings.TrimSpace(weir(t, "", "verify", "--now", s1Now, "--output", "ndjson", s1, s3).out), "\n")
	assert.Len(t, lines, 2)
}

func TestExplainAndVersion(t *testing.T) {
	r := weir(t, "", "explain", "device-family")
	assert.Equal(t, 0, r.code)
	assert.Contains(t, r.out, "block")
	var v map[string]string
	require.NoError(t, json.Unmarshal([]byte(weir(t, "", "version", "--output", "json").out), &v))
	assert.Equal(t, "4.0.1", v["fhirVersion"])
}

// Words of the sender cannot steer the terminal.
func TestControlCharactersOfTheSenderAreShownHarmless(t *testing.T) {
	data, err := os.ReadFile(s1)
	require.NoError(t, err)
	text := strings.Replace(string(data), `"family": "Okonkwo-Reyes"`, `"family": "Okonkwo\u202e[31m-Reyes"`, 1)
	r := weir(t, text, "verify", "--now", s1Now, "--output", "table", "-")
	assert.Equal(t, 1, r.code)
	assert.NotContains(t, r.out, "\u202e")
}
