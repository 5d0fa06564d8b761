package night

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// What is nobody's is judged once for its bytes; a line with faults, another
// line, one under another type and one of a patient are judged each time.
func TestOnlyTheSameAcceptedLineIsNotJudgedAgain(t *testing.T) {
	judged := 0
	w := Worker{Intake: intake.Service{Judges: []schema.Judge{func(*element.Document) []finding.Finding { judged++; return nil }}}}
	look := func(l feedLine) (items, failed int) {
		one, text := w.tonight(work{Feed: "https://feed.example/fhir/", Now: time.Unix(0, 0)}, patient{Lines: []feedLine{l}})
		return len(one.Items), len(text)
	}
	good := feedLine{Type: "Organization", ID: "a", File: "Organization.ndjson", Line: 7, Shared: true, Data: `{"resourceType":"Organization","id":"a","name":"A"}`}
	with := func(change func(*feedLine)) feedLine { l := good; change(&l); return l }
	other := with(func(l *feedLine) { l.Data = `{"resourceType":"Organization","id":"a","name":"B"}` })
	bad := with(func(l *feedLine) { l.Data = `{"resourceType":"Organization","id":"a","nam":"A"}` })
	typed := with(func(l *feedLine) { l.Type, l.File = "Location", "Location.ndjson" })
	owned := with(func(l *feedLine) { l.Shared = false })
	moved := with(func(l *feedLine) { l.Line = 9 })
	for _, c := range []struct {
		accepted                  *Accepted
		good, moved, owned, other int
	}{{nil, 3, 3, 3, 3}, {NewAccepted(), 1, 0, 3, 1}} {
		w.Accepted = c.accepted
		for _, l := range []struct {
			name       string
			line       feedLine
			want, made int
		}{{"good", good, c.good, 1}, {"on another line", moved, c.moved, 1}, {"a patient's", owned, c.owned, 1}, {"other content", other, c.other, 1}, {"faulty", bad, 3, 0}, {"of another type", typed, 3, 0}} {
			t.Run(fmt.Sprint(l.name, c.accepted != nil), func(t *testing.T) {
				judged = 0
				for range 3 {
					items, failed := look(l.line)
					assert.Equal(t, l.made, items)
					assert.Equal(t, l.made == 0, failed > 0)
				}
				assert.Equal(t, l.want, judged)
			})
		}
	}
}
