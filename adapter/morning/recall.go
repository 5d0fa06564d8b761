package morning

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"

	"weir.example/weir/adapter/night"
	"weir.example/weir/adapter/terminal"
	"weir.example/weir/mapping/worksheet"
)

// affected is an order with units of a recalled lot.
type affected struct {
	order
	Patient string
	Phones  []string
}

// NewRecall takes the lines of a recall through Write and writes, when it is
// closed, who has units of the lot and whom to call by when: first who has
// the least time.
func NewRecall(out io.Writer, o Options) io.WriteCloser {
	var list []affected
	var end *night.RecallSummary
	unread := 0
	return &lines{take: func(line []byte) error {
		switch {
		case len(bytes.TrimSpace(line)) == 0:
		case bytes.HasPrefix(line, []byte(`{"recall":`)):
			var x struct{ Recall night.RecallSummary }
			if json.Unmarshal(line, &x) != nil {
				unread++
				return nil
			}
			end = &x.Recall
		default:
			var a affected
			if json.Unmarshal(line, &a) != nil {
				unread++
				return nil
			}
			slices.SortStableFunc(a.Tasks, byDue)
			a.at = len(list)
			list = append(list, a)
		}
		return nil
	}, end: func() error {
		slices.SortStableFunc(list, func(a, b affected) int { return due(&a.order, &b.order) })
		_, err := io.WriteString(out, recallTable(list, end, unread, o))
		return err
	}}
}

func recallTable(list []affected, end *night.RecallSummary, unread int, o Options) string {
	s := terminal.NewSheet(o.Color)
	if end == nil {
		s.Head("RECALL")
		s.Title("HOLD", "This recall did not come to its end: run it again. Nothing below is complete.")
	} else {
		of := ""
		if end.Drug != "" {
			of = " of " + end.Drug
		}
		s.Head("RECALL of lot " + end.Lot + of)
		s.Field(2, "as of", o.local(end.Now))
		s.Field(2, "looked at", plural(end.Patients, "patient"))
		switch {
		case end.Settled:
			s.Text(2, "The recall is settled: the lot is looked for no more, and what was said of it is taken back.")
		case len(list) == 0:
			s.Text(2, "Nobody has units of it, by what is on record. Every night looks again until the recall is settled.")
		default:
			s.Title("BLOCK", plural(len(list), "order")+" with units of it. What is asked for is stored; every night looks again until the recall is settled.")
		}
	}
	for _, a := range list {
		one := o.order(&a.order)
		s.Title("", "")
		s.Title("BLOCK", named(one))
		s.Field(2, "patient", a.Patient)
		s.Field(2, "telephone", strings.Join(a.Phones, "; "))
		if len(a.Phones) == 0 {
			s.Field(2, "telephone", "none on record: ask the hospital")
		}
		for _, f := range a.Findings {
			s.Field(2, "units", strings.TrimPrefix(f.Observed, "recalled: "))
		}
		dated(s, a.Tasks, o)
	}
	if unread > 0 {
		s.Title("HOLD", fmt.Sprint(unread)+" of the recall's own lines could not be read: nothing here is complete")
	}
	return s.Take()
}

// dated are all tasks with who does them by when.
func dated(s *terminal.Sheet, list []worksheet.Task, o Options) {
	for i, t := range list {
		if i == 0 {
			s.Text(2, "Who calls whom by when:")
		}
		text := strings.ReplaceAll(t.Role, "-", " ") + ": " + t.Title
		if t.Says != "" {
			text += " (" + t.Says + ")"
		}
		when := "no time fixed"
		if t.Due != "" {
			when = o.when(t.Due, t.Zone)
		}
		s.Row([]int{28, 62}, when, text)
	}
}
