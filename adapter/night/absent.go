package night

import (
	"context"

	"weir.example/weir/adapter"
)

// missing compares the orders that are active here and not in the feed.
func (x *running) missing(ctx context.Context) error {
	after := ""
	var gone []string
	for {
		ids, err := x.Record.NotSeen(ctx, x.night, after, mostNotSeen)
		if err != nil {
			return err
		}
		last := len(ids) < mostNotSeen
		for _, id := range ids {
			if after = id; !x.passed.has(id) {
				gone = append(gone, id)
			}
		}
		for len(gone) >= mostPatients || last && len(gone) > 0 {
			n := min(mostPatients, len(gone))
			if err := x.absent(ctx, gone[:n]); err != nil {
				return err
			}
			if err := x.upTo(ctx, 0); err != nil {
				return err
			}
			gone = gone[n:]
		}
		if last {
			return nil
		}
	}
}

// mostNotSeen is how many patients are asked for at once of whom the record
// does not say that the night saw them: those who were passed over, which the
// run itself knows, among them.
const mostNotSeen = 5000

func (x *running) absent(ctx context.Context, ids []string) error {
	one := pending{seen: make([]bool, len(ids)), said: -1}
	for _, id := range ids {
		one.keys = append(one.keys, "absent|"+id)
	}
	have, err := x.Record.FeedLines(ctx, one.keys)
	if err != nil {
		return err
	}
	var rest []string
	for i, id := range ids {
		f := have[one.keys[i]]
		if judged, _ := unsealed(f.Report); f.Night == x.night && judged == x.night {
			one.seen[i] = true
			continue
		}
		rest = append(rest, id)
	}
	e := adapter.Effect{At: x.Now}
	if len(rest) > 0 {
		job, err := x.job(ctx, &e, AbsentKind, ids, x.work(nil, rest))
		one.jobs = []string{job}
		if err != nil {
			return err
		}
	}
	x.wait(one)
	return x.commit(ctx, e, "orders that the hospital does not have")
}
