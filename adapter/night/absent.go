package night

import (
	"context"

	"weir.example/weir/adapter"
)

// missing compares the orders that are active here and not in the feed.
func (x *running) missing(ctx context.Context) error {
	after := ""
	for {
		ids, err := x.Record.NotSeen(ctx, x.night, after, mostPatients)
		if err != nil || len(ids) == 0 {
			return err
		}
		after = ids[len(ids)-1]
		if err := x.absent(ctx, ids); err != nil {
			return err
		}
		if err := x.report(ctx); err != nil {
			return err
		}
	}
}

func (x *running) absent(ctx context.Context, ids []string) error {
	one := pending{seen: make([]bool, len(ids))}
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
	x.list = append(x.list, one)
	return x.commit(ctx, e, "orders that the hospital does not have")
}
