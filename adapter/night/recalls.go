package night

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance/reconciliation"
)

// Recalls are the lots recalled and not yet settled. Every night looks for
// them again, so that a unit that turns up later is found too.
type Recalls struct {
	Number int          `json:"number"` // of the list, counted up with each change
	Lots   []RecalledAt `json:"lots"`
}

// RecalledAt is one lot of a notice. Drug is "" when the notice names none.
type RecalledAt struct {
	Lot  string    `json:"lot"`
	Drug string    `json:"drug,omitempty"`
	At   time.Time `json:"at"` // when it was first looked for
}

const recallsKey = "night|recalls"

func recallKey(patient string) string { return "recall|" + patient }

// ReadRecalls reads the lots recalled and not yet settled.
func ReadRecalls(ctx context.Context, r adapter.Feeds) (Recalls, error) {
	lines, err := r.FeedLines(ctx, []string{recallsKey})
	if err != nil {
		return Recalls{}, err
	}
	var out Recalls
	if f, ok := lines[recallsKey]; ok {
		if err := json.Unmarshal(f.Report, &out); err != nil {
			return Recalls{}, &adapter.Damaged{Kind: "recalls"}
		}
	}
	return out, nil
}

func (r Recalls) lots() []reconciliation.Recalled {
	var out []reconciliation.Recalled
	for _, l := range r.Lots {
		out = append(out, reconciliation.Recalled{Lot: l.Lot, Drug: l.Drug})
	}
	return out
}

// sameLot compares numbers of lots as the comparison does.
func sameLot(a, b string) bool { return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b)) }

// change puts a lot on the list, or takes it off. Of two changes at one time
// each is made.
func (r Run) change(ctx context.Context, lot reconciliation.Recalled, settled bool) (Recalls, error) {
	for range 10 {
		have, err := ReadRecalls(ctx, r.Record)
		if err != nil {
			return have, err
		}
		at := slices.IndexFunc(have.Lots, func(l RecalledAt) bool { return sameLot(l.Lot, lot.Lot) && strings.EqualFold(l.Drug, lot.Drug) })
		word := "a lot is recalled"
		switch {
		case at < 0 && settled:
			return have, &adapter.NotFound{Kind: "recall of this lot"}
		case at >= 0 && !settled:
			return have, nil
		case settled:
			word = "the recall of a lot is settled"
			have.Lots = slices.Delete(have.Lots, at, at+1)
		default:
			have.Lots = append(have.Lots, RecalledAt{Lot: strings.TrimSpace(lot.Lot), Drug: lot.Drug, At: r.Now})
		}
		have.Number++
		err = r.Record.Commit(ctx, adapter.Effect{At: r.Now, Feeds: []adapter.FeedLine{{Key: recallsKey, Report: encoded(have)}},
			Audit: []adapter.AuditRow{{ID: idsOf(fmt.Sprintf("recalls|%d", have.Number))(), At: r.Now, Action: "U", Outcome: "0", Agent: agent, Entity: "Recalls", Detail: word}}})
		var duplicate *adapter.Duplicate
		if !errors.As(err, &duplicate) { // else somebody changed it meanwhile
			return have, err
		}
	}
	return Recalls{}, &adapter.Unavailable{Code: "the list of recalled lots is being changed by others"}
}
