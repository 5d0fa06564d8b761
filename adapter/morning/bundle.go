package morning

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"slices"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// bundle writes the stored findings and open tasks of every order with
// findings as one Bundle, as the lines come. What is no resource of an order,
// lines that could not be read and what is said of the feed itself, stands in
// it as an OperationOutcome: nothing is left out silently.
type bundle struct {
	out   io.Writer
	o     Options
	began bool
	some  bool
	ended bool
	now   string
}

// closed are the states of tasks that nobody has to do any more.
var closed = []string{"completed", "cancelled", "failed", "rejected", "entered-in-error"}

func (b *bundle) take(line []byte) error {
	switch {
	case len(bytes.TrimSpace(line)) == 0:
		return nil
	case bytes.HasPrefix(line, []byte(`{"night":`)):
		return b.night(line)
	case bytes.HasPrefix(line, []byte(`{"file":`)):
		doc, faults := element.ReadLine(line, element.Limit{}, 1)
		if len(faults) > 0 {
			return b.outcome("a line of the night's answer could not be read")
		}
		return b.entry("", element.RawNode(doc.Root().Get("outcome")))
	}
	var x order
	if err := json.Unmarshal(line, &x); err != nil || x.State == "" {
		return b.outcome("a line of the night's answer could not be read")
	}
	if len(x.Findings) == 0 && len(x.Tasks) == 0 && len(x.NotChecked) == 0 {
		return nil
	}
	return b.resources(x.Order.Key)
}

// resources writes what the record holds of an order.
func (b *bundle) resources(key string) error {
	if b.o.Store == nil {
		return errors.New("a Bundle needs the record")
	}
	ctx := context.Background()
	line, err := b.o.Store.Order(ctx, key)
	var none *adapter.NotFound
	if errors.As(err, &none) {
		return b.outcome("an order of the night is not in the record any more")
	}
	if err != nil {
		return err
	}
	about := "MedicationRequest/" + line.Resource
	for _, q := range []struct {
		kind, by string
		over     []string
	}{{"DetectedIssue", "implicated", []string{"cancelled", "entered-in-error"}}, {"Task", "focus", closed}} {
		page := adapter.Page{Limit: 500}
		for {
			s, err := b.o.Store.Search(ctx, adapter.Query{Type: q.kind, All: []adapter.Criterion{{Name: q.by, Few: true, Any: []adapter.Match{{Op: adapter.OpEqual, Text: about}}}}}, page)
			if err != nil {
				return err
			}
			for _, r := range s.Resources {
				doc, faults := element.ReadLine(r.JSON, element.Limit{}, 1)
				if len(faults) > 0 {
					return &adapter.Damaged{Kind: q.kind}
				}
				if slices.Contains(q.over, doc.Root().Get("status").Text()) {
					continue
				}
				if err := b.entry(b.o.Base+"/"+q.kind+"/"+r.ID, element.RawNode(doc.Root())); err != nil {
					return err
				}
			}
			if s.Next == "" {
				break
			}
			page.After = s.Next
		}
	}
	return nil
}

// night says of the feed itself what was found of it.
func (b *bundle) night(line []byte) error {
	var x struct{ Night night.Summary }
	if err := json.Unmarshal(line, &x); err != nil {
		return b.outcome("the summary of the night could not be read")
	}
	b.ended, b.now = true, x.Night.Now
	for _, f := range x.Night.Findings {
		text := f.Title + ". Found: " + f.Observed + ". Instead: " + f.Expected + ". Automatic release: " + x.Night.AutoRelease
		if err := b.entry("", r4.WriteNotice(r4.Refusal{Issue: "processing", Code: f.Code, Of: "finding", What: text, Todo: f.Remedy})); err != nil {
			return err
		}
	}
	return nil
}

func (b *bundle) outcome(text string) error {
	return b.entry("", r4.WriteNotice(r4.Refusal{Issue: "incomplete", Code: "not-read", What: text, Todo: "Person: run the night again."}))
}

func (b *bundle) entry(url string, resource element.Value) error {
	var fields []element.Field
	if url != "" {
		fields = append(fields, element.F("fullUrl", element.Str(url)))
	}
	start := ","
	if !b.some {
		start = `,"entry":[`
	}
	if err := b.begin(); err != nil {
		return err
	}
	b.some = true
	_, err := b.out.Write(append([]byte(start), element.Compact(element.Obj(append(fields, element.F("resource", resource))...))...))
	return err
}

func (b *bundle) begin() error {
	if b.began {
		return nil
	}
	b.began = true
	_, err := io.WriteString(b.out, `{"resourceType":"Bundle","type":"collection"`)
	return err
}

func (b *bundle) end() error {
	if !b.ended {
		if err := b.outcome("the night did not come to its end"); err != nil {
			return err
		}
	}
	if err := b.begin(); err != nil {
		return err
	}
	text := "}\n"
	if b.ended {
		text = `,"timestamp":` + string(element.Compact(element.Str(b.now))) + text
	}
	if b.some {
		text = "]" + text
	}
	_, err := io.WriteString(b.out, text)
	return err
}
