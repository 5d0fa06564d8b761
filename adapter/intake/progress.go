package intake

import (
	"bytes"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
)

// A request's status says what is authorized, that of a Task what is being
// done: so the people who do it change our tasks, and nothing else of ours
// (R4 workflow.html; https://hl7.org/fhir/R4/task.html). They may say how far
// it is, who does it, what came of it and a note. What is to be done, for
// whom, and until when stays what follows from the order.

// progressed are the elements of a Task that say how far it is.
var progressed = []string{"status", "statusReason", "businessStatus", "owner", "executionPeriod", "note", "output", "lastModified"}

// openTask and closedTask are the states of a task that a person may set. Rejected and
// failed ones are not done: they stay among those that can become overdue.
var (
	openTask   = []string{"requested", "received", "accepted", "ready", "in-progress", "on-hold", "rejected", "failed"}
	closedTask = []string{"completed", "cancelled"}
)

// progress decides about an update of a resource that we made.
func (p *piece) progress(stored element.Node) (Outcome, error) {
	before, after := stored.Get("status").Text(), p.node.Get("status").Text()
	own := append([]string{"id", "meta"}, progressed...)
	switch {
	case p.Way != Update || p.kind != "Task" || !bytes.Equal(element.Canonical(stored, own...), element.Canonical(p.node, own...)):
		return "", &Refused{Ours, p.At}
	case contentSum(stored) == p.sum:
		return Same, nil
	case isParent(stored):
		return "", &Refused{Ours, p.At}
	case before == "draft": // it prepares, sends or gives something of an order on hold
		return "", &Refused{NotBegun, p.At}
	case !slices.Contains(openTask, before):
		return "", &Refused{Closed, p.At}
	case !slices.Contains(openTask, after) && !slices.Contains(closedTask, after):
		return "", &Refused{Ours, p.At}
	}
	return Progressed, nil
}

// isParent: the request to fulfill ends with its order.
func isParent(task element.Node) bool {
	return slices.ContainsFunc(task.Get("code").Get("coding").Each(), func(c element.Node) bool { return c.Get("code").Text() == "fulfill" })
}

// advance puts the new state of a task into the effect, and into what is kept
// of its order, so that what is done is not overdue.
func (t *taking) advance(p *piece) error {
	v := element.Edit(element.RawNode(p.node), element.F("lastModified", element.Str(t.call.Now.Format(time.RFC3339))))
	body := element.Compact(v)
	doc, _ := element.ReadLine(body, element.Limit{}, 1)
	n := doc.Root()
	now := state{status: n.Get("status").Text(), code: n.Get("code").Get("coding").At(0).Get("code").Text(), role: n.Get("performerType").At(0).Get("coding").At(0).Get("code").Text()}
	now.due, _ = time.Parse(time.RFC3339, n.Get("restriction").Get("period").Get("end").Text())
	key := ""
	if p.patient != "" {
		h, err := t.load(p.patient)
		if err != nil {
			return err
		}
		if key, err = h.advance(t, p, now); err != nil {
			return err
		}
	}
	r := adapter.Resource{Type: p.kind, ID: p.id, Version: p.have.Version + 1, Created: p.have.Created, Updated: t.call.Now, Patient: p.patient, Order: key, JSON: body}
	r.Identifiers, r.Values = index.Of(n)
	t.effect.Resources = append(t.effect.Resources, r)
	t.done = append(t.done, Done{Outcome: Updated, Resource: r})
	t.audit("U", p.patient, p.kind+"/"+p.id, "task set to "+now.status)
	return nil
}

// state is how far a task is, whose it is to do, and until when.
type state struct {
	status, code, role string
	due                time.Time
}

// advance notes how far a task is, and gives the key of its order.
func (h *held) advance(t *taking, p *piece, now state) (string, error) {
	for i := range h.Orders {
		l := &h.Orders[i]
		j := slices.IndexFunc(l.Outputs, func(o output) bool { return o.Type == p.kind && o.ID == p.id })
		if j < 0 {
			continue
		}
		o := &l.Outputs[j]
		o.Version, o.Done, o.moved = p.have.Version+1, slices.Contains(closedTask, now.status), true
		if o.Code, o.Role, o.Due = now.code, now.role, now.due; o.Done {
			o.Code, o.Role, o.Due = "", "", time.Time{}
		}
		h.advanced = true
		return l.Key, t.dueNext(l)
	}
	// A task to review what was not applied follows from no order.
	kind, id, _ := strings.Cut(p.node.Get("focus").Get("reference").Text(), "/")
	if e := h.find(kind, id); e != nil {
		return e.Key, nil
	}
	return "", nil
}

// dueNext puts the order where its next open task belongs in the worklist.
func (t *taking) dueNext(l *line) error {
	o, err := t.Store.Order(t.ctx, l.Key)
	if err != nil {
		return err
	}
	o.Due, o.Updated = time.Time{}, t.call.Now
	for _, x := range l.Outputs {
		if x.Code != "" && !x.Gone {
			o.Due = firstDue(o.Due, x.Due)
		}
	}
	t.list(adapter.OrderWrite{Change: adapter.OrderJudged, OrderLine: o})
	return nil
}

// list puts the line of an order into the effect, in the place of one that the
// progress of its tasks made before.
func (t *taking) list(o adapter.OrderWrite) {
	i := slices.IndexFunc(t.effect.Orders, func(w adapter.OrderWrite) bool { return w.Key == o.Key })
	if i < 0 {
		t.effect.Orders = append(t.effect.Orders, o)
		return
	}
	t.effect.Orders[i] = o
}
