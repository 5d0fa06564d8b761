package conformance_test

import (
	"bytes"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/conformance/verification"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/r4/googlefhir"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
	"weir.example/weir/testdata/orders"
)

// signed is the invented pharmacy's policy, with or without the standing
// lock protocol.
func signed(t testing.TB, standingLock bool) *policy.Policy {
	file, err := os.ReadFile("../testdata/orders/policy-lanternlight.yaml")
	require.NoError(t, err)
	if !standingLock {
		file = bytes.Replace(file, []byte("standingProtocol: true"), []byte("standingProtocol: false"), 1)
	}
	p, err := policy.Load(file)
	require.NoError(t, err)
	return p
}

// reference is what the invented pharmacy judges by, every table signed.
func reference(t testing.TB, standingLock bool) policy.Reference {
	ref := policy.Reference{Tables: compendium.Embedded(), Policy: signed(t, standingLock), Zones: schedule.LoadZones()}
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 000000", "2026-09-01", ref.Hashes())
	require.NoError(t, err)
	ref.Signatures = policy.Signatures{s}
	return ref
}

func judge(t testing.TB, f orders.Fixture, stage string) conformance.Judgement {
	return conformance.Judge(conformance.Input{Document: f.Document, Now: f.Now, Stage: finding.Stage(stage), Judges: []schema.Judge{googlefhir.Judge},
		Reference: reference(t, f.StandingLock)})
}

// later names what a scenario expects and no rule of this version asks yet,
// with the part that brings it. A line that starts to hold must be removed.
var later = map[string]string{}

func TestScenarios(t *testing.T) {
	all := orders.All()
	require.GreaterOrEqual(t, len(all), 60)
	met, open := 0, 0
	for _, f := range all {
		for _, stage := range f.Stages() {
			t.Run(f.Name+" at "+stage, func(t *testing.T) {
				j := judge(t, f, stage)
				for _, e := range f.At(stage) {
					key := f.Name + " " + says(e)
					problem := check(j, e)
					reason, known := waiting(f.Name, e)
					switch {
					case known && problem != "":
						open++
					case known:
						t.Errorf("%s holds now: take it off the list (%s)", key, reason)
					default:
						met++
						assert.Empty(t, problem, "%s (line %d)\nwhy: %s", says(e), e.Line, f.Why)
					}
				}
			})
		}
	}
	t.Logf("%d expectations of %d cases met, %d wait for a later part", met, len(all), open)
}

func says(e orders.Expectation) string {
	return strings.Join(strings.Fields(strings.Join([]string{e.Kind, e.Code, e.Gate, e.Name, e.Value, e.Unit, e.Count}, " ")), " ")
}

// waiting: expectations about codes without a rule, and those on the list.
func waiting(name string, e orders.Expectation) (string, bool) {
	if e.Kind == "finding" || e.Kind == "not-checked" || e.Kind == "culprit" || e.Kind == "task" {
		if _, isCode := finding.Lookup(finding.Code(e.Code)); isCode && !slices.ContainsFunc(verification.Rules(), func(r verification.Rule) bool { return r.Code == finding.Code(e.Code) }) {
			return "no rule yet", true
		}
	}
	if e.Kind == "nightly" {
		return "the night", true
	}
	base, _, _ := strings.Cut(name, "-")
	for _, key := range []string{name + " " + says(e), base + "* " + says(e)} {
		if r, ok := later[key]; ok {
			return r, true
		}
	}
	return "", false
}

func meant(j conformance.Judgement, e orders.Expectation) (worksheet.Worksheet, bool) {
	for _, w := range j.Worksheets {
		if e.Order == "" || strings.HasSuffix(w.Order.Identifier, "|"+e.Order) {
			return w, true
		}
	}
	return worksheet.Worksheet{}, false
}

// check answers "" when the expectation holds, else what was there instead.
func check(j conformance.Judgement, e orders.Expectation) string {
	if e.Kind == "refused" {
		for _, f := range j.Faults {
			if string(f.Code) == e.Code {
				return ""
			}
		}
		return fmt.Sprint("not refused so: ", j.Faults)
	}
	w, ok := meant(j, e)
	if !ok {
		return fmt.Sprint("no worksheet; faults ", j.Faults)
	}
	switch e.Kind {
	case "verdict":
		return differs(w.Verdict, e.Value)
	case "finding":
		return found(w, e)
	case "no-finding":
		for _, f := range w.Findings {
			if f.Code == e.Code {
				return "found: " + f.Observed + " | " + f.Expected
			}
		}
	case "culprit":
		return blamed(w, e)
	case "not-checked":
		if !slices.ContainsFunc(w.NotChecked, func(n worksheet.NotChecked) bool { return n.Code == e.Code }) {
			return fmt.Sprint("not checked: ", w.NotChecked)
		}
	case "task", "no-task":
		has := slices.ContainsFunc(w.Tasks, func(x worksheet.Task) bool { return x.Code == e.Code })
		if has != (e.Kind == "task") {
			return fmt.Sprint("task there: ", has)
		}
	case "quantity":
		return near(w, e)
	case "doses":
		return differs(fmt.Sprint(w.Schedule.DoseCount), e.Count)
	case "first-dose":
		return sameInstant(w.Schedule.FirstHomeDose, e.Value)
	case "last-dose":
		return sameInstant(w.Schedule.LastDose, e.Value)
	case "delivery":
		for _, d := range w.Deliveries {
			if strings.HasPrefix(d.Arrival, e.Value) {
				return differs(fmt.Sprint(d.Units), e.Count)
			}
		}
		return fmt.Sprint("deliveries: ", w.Deliveries)
	case "kit":
		for _, k := range w.Kit {
			if k.Item == e.Name && k.Delivery == 1 {
				return differs(fmt.Sprint(k.Quantity), e.Count)
			}
		}
		return "not in the kit"
	case "hazard":
		return differs(map[string]string{"listed": w.Hazard.Listed, "table": w.Hazard.Table, "antineoplastic": w.Hazard.Antineoplastic, "closedTransfer": w.Hazard.ClosedTransfer}[e.Name], e.Value)
	default:
		return "no check for this kind"
	}
	return ""
}

func differs(have, want string) string {
	if have == want {
		return ""
	}
	return have + ", not " + want
}

func sameInstant(have, want string) string {
	a, errA := time.Parse(time.RFC3339, have)
	b, errB := time.Parse(time.RFC3339, want)
	if errA == nil && errB == nil && a.Sub(b).Abs() < time.Minute { // hand calculations are written to the minute
		return ""
	}
	return have + ", not " + want
}

func found(w worksheet.Worksheet, e orders.Expectation) string {
	var codes []string
	for _, f := range w.Findings {
		if f.Code == e.Code && (e.Gate == "" || f.Gate == e.Gate) {
			return ""
		}
		codes = append(codes, f.Gate+" "+f.Code)
	}
	return "found instead: " + strings.Join(codes, ", ")
}

func blamed(w worksheet.Worksheet, e orders.Expectation) string {
	for _, f := range w.Findings {
		if f.Code != e.Code {
			continue
		}
		for _, c := range f.Culprits {
			if c.Name == e.Name && (e.Value == "" || c.Signature == e.Value) {
				return ""
			}
		}
		return fmt.Sprintf("blamed: %+v", f.Culprits)
	}
	return "no such finding"
}

// near compares to the digits of the expectation: a hand calculation is
// written rounded.
func near(w worksheet.Worksheet, e orders.Expectation) string {
	q, ok := w.Quantities[e.Name]
	if !ok {
		return "no such quantity"
	}
	if e.Unit == "" {
		return sameInstant(q.Value, e.Value)
	}
	problem := sameNumber(q.Value, q.Unit, e)
	for _, d := range q.Derivation { // a stated number stands beside what it is recomputed as
		if problem != "" && d.Value != "" && sameNumber(d.Value, d.Unit, e) == "" {
			return ""
		}
	}
	return problem
}

func sameNumber(value, unit string, e orders.Expectation) string {
	have, err := quantity.ParseNumber(value)
	if err != nil {
		return err.Error()
	}
	from, to := quantity.MustUnit(unit), quantity.MustUnit(e.Unit)
	if re, same := from.As(to.Dimension()); same {
		have = to.FromBase(re.ToBase(have))
	} else if re, same := to.As(from.Dimension()); same {
		have = re.FromBase(from.ToBase(have))
	} else {
		return value + " " + unit
	}
	_, fraction, _ := strings.Cut(e.Value, ".")
	return differs(have.Places(len(fraction)), quantity.MustNumber(e.Value).Places(len(fraction)))
}
