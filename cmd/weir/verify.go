package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4/googlefhir"
)

type verifyFlags struct {
	now, policy, stage, output, failOn string
	strict, lenient, quiet             bool
	noColor, noInput                   bool
}

func newVerify(s streams) *cobra.Command {
	var f verifyFlags
	c := &cobra.Command{
		Use:   "verify [flags] FILE…",
		Short: "Judge the orders in FHIR R4 JSON files, NDJSON files or a Bulk Data folder",
		Long: "FILE is one of\n" +
			"  a JSON file      a Bundle of any type, or a MedicationRequest with what it contains\n" +
			"  NAME.ndjson      one such document a line; empty lines count and are passed over\n" +
			"  a folder         NDJSON by resource type, Type[.PART].ndjson[.gz]: together one document\n" +
			"  -                standard input, one JSON document\n\n" +
			"Answers come in input order. A line that fails is answered in its place and the others are judged.",
		Example: "  weir verify order.json\n  weir verify --output table --stage pack order.json\n" +
			"  weir verify --output worksheet - < order.json\n  weir verify --output ndjson orders.ndjson\n  weir verify export/",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageError{fmt.Errorf("verify needs a file, or - for standard input")}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error { return verify(c.Context(), s, f, args) },
	}
	flags := c.Flags()
	flags.StringVar(&f.now, "now", "", "the clock, RFC 3339 with zone (default: the machine's)")
	flags.StringVar(&f.policy, "policy", "", "site policy `FILE`")
	flags.StringVar(&f.stage, "stage", "release", "intake, release, pack, dispatch, start or close")
	flags.StringVar(&f.output, "output", "", "fhir, worksheet, table or ndjson (default: table on a terminal, else fhir)")
	flags.StringVar(&f.failOn, "fail-on", "hold", "exit 1 from this gate up: block, hold, warn or never")
	flags.BoolVar(&f.strict, "strict", true, "refuse unit spellings that are not UCUM")
	flags.BoolVar(&f.lenient, "lenient", false, "read published unit aliases, with a note")
	flags.BoolVar(&f.quiet, "quiet", false, "no words on standard error")
	flags.BoolVar(&f.noColor, "no-color", false, "no colour on a terminal")
	flags.BoolVar(&f.noInput, "no-input", false, "never ask for anything")
	c.MarkFlagsMutuallyExclusive("strict", "lenient")
	return c
}

// gates are what --fail-on takes.
var gates = []string{"block", "hold", "warn", "never"}

var outputs = []string{"fhir", "worksheet", "table", "ndjson"}

func (f verifyFlags) request(s streams) (adapter.Request, error) {
	r := adapter.Request{Now: s.now(), Stage: finding.Stage(f.stage), Lenient: f.lenient, Judges: []schema.Judge{googlefhir.Judge}}
	if f.now != "" {
		t, err := time.Parse(time.RFC3339, f.now)
		if err != nil {
			return r, fmt.Errorf("--now %q: need RFC 3339 with a zone, for example 2026-11-10T14:20:00-05:00", f.now)
		}
		if t.Year() < 1900 || t.Year() > 2100 {
			return r, fmt.Errorf("--now %q: need a year from 1900 to 2100", f.now)
		}
		r.Now = t
	}
	if !r.Stage.Valid() {
		return r, fmt.Errorf("--stage %q: need intake, release, pack, dispatch, start or close", f.stage)
	}
	if !slices.Contains(gates, f.failOn) {
		return r, fmt.Errorf("--fail-on %q: need %s", f.failOn, strings.Join(gates, ", "))
	}
	ref, err := reference(f.policy)
	r.Reference = ref
	return r, err
}

// reference loads the tables with a site's policy file, "" for none.
func reference(file string) (policy.Reference, error) {
	var site []byte
	if file != "" {
		data, err := readPolicy(file)
		if err != nil {
			return policy.Reference{}, fmt.Errorf("--policy: %w", err)
		}
		site = data
	}
	p, err := policy.Read(file, site)
	if err != nil {
		return policy.Reference{}, err
	}
	if file != "" {
		if err := shape(file, site); err != nil {
			return policy.Reference{}, err
		}
	}
	var signed policy.Signatures
	if file != "" {
		if signed, err = readSignatures(file); err != nil {
			return policy.Reference{}, err
		}
	}
	return adapter.Reference(p, nil, signed)
}

// shape judges a policy that could be read by its published schema, so that
// no file is in force which a site's own editor would call wrong.
func shape(file string, data []byte) error {
	err := schema.Own("policy", data)
	var own *schema.OwnError
	if !errors.As(err, &own) {
		return err
	}
	var faults policy.Faults
	for _, f := range own.Faults {
		key := strings.ReplaceAll(strings.Trim(f.Pointer, "/"), "/", ".")
		faults = append(faults, policy.Fault{File: file, Line: max(1, f.Line), Column: max(1, f.Column), Key: key, Problem: f.Problem, Expected: f.Expected})
	}
	return faults
}

// mostPolicy bounds a policy file, in bytes.
const mostPolicy = 1 << 20

func readPolicy(name string) ([]byte, error) {
	file, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, mostPolicy+1))
	if err == nil && len(data) > mostPolicy {
		err = fmt.Errorf("%s is larger than 1 MiB", name)
	}
	return data, err
}
