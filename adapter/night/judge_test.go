package night_test

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/adapter/night/nightgen"
	"weir.example/weir/mapping/worksheet"
)

// quietly is what an order says but for its clock and its overdue tasks.
func quietly(t testing.TB, x intake.State, sheet []byte) string {
	var w worksheet.Worksheet
	require.NoError(t, json.Unmarshal(sheet, &w))
	w.Sources.Now, w.Sources.Document, w.Sources.Held = "", "", ""
	var findings []worksheet.Finding
	for _, f := range w.Findings {
		if f.Code != "nightly-task-overdue" {
			findings = append(findings, f)
		}
	}
	var tasks []worksheet.Task
	for _, k := range w.Tasks {
		if !strings.HasPrefix(k.Code, "escalate-") {
			tasks = append(tasks, k)
		}
	}
	w.Findings, w.Tasks = findings, tasks
	text, err := json.MarshalIndent([]any{w, x.NotChecked, x.Verdict}, "", " ")
	require.NoError(t, err)
	return string(text)
}

// Until the instant from which an order has to be judged again nothing of it
// changes but which of its open tasks are overdue, however often it is looked
// at.
func TestOnlyTasksChangeBeforeTheJudgement(t *testing.T) {
	steps, many, orders := 4, 5, 4
	if os.Getenv("WEIR_NIGHT_LONG") != "" {
		steps, many, orders = 10, 40, 30
	}
	looks, waits, none := 0, 0, 0
	var waited time.Duration
	for _, c := range courses(t, orders) {
		t.Run(c.name, func(t *testing.T) {
			s := newSite(t)
			for _, g := range groups(t, c.path) {
				now := c.now
				for range steps {
					states := s.kept(t, now, g)
					if len(states) == 0 {
						break
					}
					until := states[0].Judge
					want := map[string]string{}
					for _, x := range states {
						if x.Judge.Before(until) {
							until = x.Judge
						}
						want[x.Order.Key] = quietly(t, x, []byte(sheetOf(t, s, x.Order.Key)))
					}
					waits++
					waited += until.Sub(now)
					for i := range many {
						u := now.Add(until.Sub(now) * time.Duration(i+1) / time.Duration(many)).Add(-time.Microsecond)
						if !u.Before(until) || !u.After(now) {
							continue
						}
						looks++
						e, later, err := s.worker.CompareAt(t.Context(), u, g)
						require.NoError(t, err)
						require.Len(t, later, len(states))
						for _, x := range later {
							text := []byte(sheetOf(t, s, x.Order.Key))
							for _, w := range e.Worksheets {
								if w.Key == x.Order.Key {
									text = w.JSON
								}
							}
							if have := quietly(t, x, text); have != want[x.Order.Key] {
								t.Fatalf("%s at %s, seen at %s, to be judged at %s: %s", g.Key, u, now, until, apart(want[x.Order.Key], have))
							}
						}
					}
					if !until.After(now) { // it is judged at each look
						none++
						until = now.Add(7 * time.Hour)
					}
					now = until
				}
			}
		})
	}
	t.Log(looks, "looks,", waits, "waits,", none, "of them none, mean wait", (waited / time.Duration(max(waits, 1))).Round(time.Minute))
}

// course is a patient's documents and a clock.
type course struct {
	name, path string
	now        time.Time
}

// courses are invented orders and the scenarios.
func courses(t testing.TB, orders int) []course {
	at := func(text string) time.Time {
		out, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		return out
	}
	out := []course{{"generated", folder(t, nightgen.Hospital{Orders: orders, Seed: 5}, 0), nightgen.Clock(0)}}
	for _, d := range []struct{ folder, name, now string }{
		{"s1-cefazolin-elastomeric", "s1-cefazolin-elastomeric", "2026-11-10T14:20:00-05:00"},
		{"s2-vancomycin-kidneys", "s2-vancomycin-kidneys", "2027-02-10T10:10:00-06:00"},
		{"s2-vancomycin-kidneys", "s2-vancomycin-kidneys-changed", "2027-02-16T16:10:00-06:00"},
		{"s3-fluorouracil-46h", "s3-fluorouracil-46h", ""},
		{"s4-ceftriaxone-child", "s4-ceftriaxone-child", ""},
		{"s5-nutrition-cycle", "s5-nutrition-cycle", ""},
		{"s6-hydration-gravity", "s6-hydration-gravity", ""},
		{"s7-daptomycin-discharge", "s7-daptomycin-discharge-planned", "2026-12-18T10:35:00-08:00"},
		{"s7-daptomycin-discharge", "s7-daptomycin-discharge", "2026-12-20T18:45:00-08:00"},
	} {
		if d.now == "" {
			d.now = clockOf(t, d.folder)
		}
		out = append(out, course{d.name, asFolder(t, document(t, d.folder, d.name)), at(d.now)})
	}
	return out
}
