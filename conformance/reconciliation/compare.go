package reconciliation

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/schedule"
	"weir.example/weir/mapping/worksheet"
)

// pair is one order on both sides with all that is held of it.
type pair struct {
	key           string
	state         State
	was, now      *version // nil: not on that side. An older message is put aside: now is what is held
	older         *version // the message put aside
	before, after Side
	held          HeldOrder
	known         bool // held has an entry
	all           Held
	pairs         []*pair // every order of the patient
	night         Night
	stock         stock
	mixed         *comparison   // of compounding records, when first asked for
	zone          schedule.Zone // of the patient's home, by any judged order
}

// rules in the order m1 to m23, as far as they look at one order; the feed is
// Feed's. Each gives findings of its own code only, m1 and m2 also of their
// milder one.
var rules = []func(*pair) answer{
	stopped, changed, replaced, unseen, absent, labelDiffers, surplusAtHome, shortAtHome, beyondUse, laboratory,
	patientChanged, dischargeMoved, unavailable, lineChanged, endPassed, recalled, identityDrift, overrideExpired,
	taskOverdue, duplicate, compounding, olderMessage,
}

// Compare sets what was known of a patient beside what is said tonight and
// gives one result for each order of either side, by key.
func Compare(before, after Side, held Held, n Night) []Result {
	pairs := pairUp(before, after, held, n)
	out := make([]Result, 0, len(pairs))
	for _, p := range pairs {
		out = append(out, p.result())
	}
	return out
}

// pairUp lists the orders of both sides by key, each with what there is of it.
func pairUp(before, after Side, held Held, n Night) []*pair {
	was, now := before.versions(), after.versions()
	var keys []string
	for _, m := range []map[string]*version{was, now} {
		for key := range m {
			keys = append(keys, key)
		}
	}
	slices.Sort(keys)
	var pairs []*pair
	for _, key := range slices.Compact(keys) {
		p := &pair{key: key, was: was[key], now: now[key], before: before, after: after, all: held, night: n}
		p.held, p.known = held.Orders[key]
		p.settle()
		pairs = append(pairs, p)
	}
	zone := zoneOf(after, before)
	for _, p := range pairs {
		p.pairs, p.zone = pairs, zone
	}
	for _, p := range pairs {
		p.stock = p.count()
	}
	return pairs
}

func (p *pair) result() Result {
	r := Result{Key: p.key, State: p.state, Order: p.named()}
	var list []finding.Finding
	var tasks []fulfillment.Task
	for _, rule := range rules {
		a := rule(p)
		list, tasks, r.NotChecked = append(list, a.findings...), append(tasks, a.tasks...), append(r.NotChecked, a.unknown...)
	}
	var moved []fulfillment.Task
	r.Moves, r.Told, moved = p.revise()
	r.Tasks = once(append(tasks, moved...))
	r.Reopened, r.Due = p.reopened(), p.due()
	for i := range list {
		if list[i].Place.Expression == "" { // of a record that stands in no document
			list[i].Place = p.place()
		}
	}
	finding.Sort(list)
	for _, f := range list {
		r.Findings = append(r.Findings, Found{f, !slices.Contains(p.held.Standing, f.Code)})
	}
	return r
}

// current is the version that holds: tonight's, else the one we hold.
func (p *pair) current() *version {
	if p.now != nil {
		return p.now
	}
	return p.was
}

// place is where the order stands in the document of the side that holds.
func (p *pair) place() finding.Place { return p.current().order.Place }

func (p *pair) named() worksheet.Order {
	v := p.current()
	if v.sheet != nil {
		return v.sheet.Order
	}
	o := v.order
	return worksheet.Order{Key: o.Key, Version: o.Version, Identifier: strings.TrimPrefix(o.Ref.Identifier.System+"|"+o.Ref.Identifier.Value, "|"), Drug: drugName(o), Expression: o.Place.Expression}
}

// once sorts tasks by due time, undated ones last, and keeps the first of
// several with one code: whoever is called hears everything in one call.
func once(tasks []fulfillment.Task) []fulfillment.Task {
	slices.SortStableFunc(tasks, func(a, b fulfillment.Task) int {
		switch {
		case a.Due.IsZero() != b.Due.IsZero():
			if a.Due.IsZero() {
				return 1
			}
			return -1
		case !a.Due.Equal(b.Due):
			return a.Due.Compare(b.Due)
		}
		return strings.Compare(a.Code, b.Code)
	})
	var out []fulfillment.Task
	at := map[string]int{}
	for _, t := range tasks {
		i, have := at[t.Code]
		if !have {
			at[t.Code] = len(out)
			out = append(out, t)
			continue
		}
		if t.Says != "" && !strings.Contains(out[i].Says, t.Says) {
			out[i].Says = strings.TrimPrefix(out[i].Says+"; "+t.Says, "; ")
		}
	}
	return out
}
