package night

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"strings"
	"time"

	"weir.example/weir/adapter"
)

// A run may be killed at any point and run again. What tells the next run how
// far it came is written: the report of a patient says by which night it was
// made, and a night whose answer was given in full has a reply. What an
// unfinished night found is said as new by the next one that is finished, so
// that nothing new is ever lost with a process.

// sealed is a report with the night that made it and, where the next night may
// have less to do, what it judged by and from when it has to be judged again.
func sealed(night string, l laid, report []byte) []byte {
	if !l.judge.IsZero() {
		night += " " + l.judge.UTC().Format(time.RFC3339Nano) + " " + hex.EncodeToString(l.basis[:])
	}
	return append([]byte(night+"\n"), report...)
}

// laid is what a judgement rests on besides the documents: the basis, and the
// instant from which the clock may change it; zero: any.
type laid struct {
	judge time.Time
	basis [32]byte
}

func unsealed(report []byte) (night string, lines []byte) {
	head, lines, _ := bytes.Cut(report, []byte("\n"))
	name, _, _ := bytes.Cut(head, []byte(" "))
	return string(name), lines
}

// laidBy is what a sealed report rests on; the zero value when it does not say.
func laidBy(report []byte) (l laid) {
	head, _, _ := bytes.Cut(report, []byte("\n"))
	parts := strings.Split(string(head), " ")
	if len(parts) != 3 {
		return l
	}
	at, bad := time.Parse(time.RFC3339Nano, parts[1])
	basis, worse := hex.DecodeString(parts[2])
	if bad != nil || worse != nil || len(basis) != len(l.basis) {
		return l
	}
	return laid{at, [32]byte(basis)}
}

// first notes a line of what is nobody's, and reports whether it was not noted
// before. A part of the sum will do: who is taken for another is brought by the
// patient's own work.
func (x *running) first(sum [32]byte) bool {
	n := binary.LittleEndian.Uint64(sum[:])
	if x.shared[n] {
		return false
	}
	x.shared[n] = true
	return true
}

// mark notes that what is nobody's was taken in with a patient.
func (x *running) mark(lines []Line) {
	for _, l := range lines {
		if l.Shared {
			x.first(l.Sum)
		}
	}
}

// over reports whether a night's answer was given in full before this run.
func (x *running) over(ctx context.Context, night string) (bool, error) {
	x.asking.Lock()
	defer x.asking.Unlock()
	if done, asked := x.closed[night]; asked {
		return done, nil
	}
	_, err := x.Record.Reply(ctx, replyKey(night))
	var missing *adapter.NotFound
	if err != nil && !errors.As(err, &missing) {
		return false, err
	}
	x.closed[night] = err == nil
	return err == nil, nil
}

func replyKey(night string) string { return "night|" + night }

// begunKey is the key of what a run notes before it changes anything.
const begunKey = "night|begun"

type begun struct {
	Active int64 `json:"active"`
}

// before is how many orders were held active before the night. A run that
// goes on has the number of the one that was cut off: with the orders that the
// night itself brought, a feed that has shrunk could seem whole.
func (x *running) before(ctx context.Context) (int, error) {
	have, noted, err := x.begun(ctx)
	if err != nil || noted == x.night {
		return int(have.Active), err
	}
	over := true
	if noted != "" {
		if over, err = x.over(ctx, noted); err != nil {
			return 0, err
		}
	}
	if over {
		if have.Active, err = x.Record.Active(ctx); err != nil {
			return 0, err
		}
	}
	if err := x.commit(ctx, adapter.Effect{At: x.Now, Feeds: []adapter.FeedLine{{Key: begunKey, Night: x.night, Report: encoded(have)}}}, "the night was begun"); err != nil {
		return 0, err
	}
	// Another run of this night may have been first.
	if now, noted, err := x.begun(ctx); err != nil || noted == x.night {
		return int(now.Active), err
	}
	return int(have.Active), nil
}

// begun reads what was noted last, and by which night; "" when nothing was.
func (x *running) begun(ctx context.Context) (out begun, night string, err error) {
	have, err := x.Record.FeedLines(ctx, []string{begunKey})
	if err != nil {
		return out, "", err
	}
	if f, ok := have[begunKey]; ok && json.Unmarshal(f.Report, &out) == nil {
		night = f.Night
	}
	return out, night, nil
}

// end notes that the answer was given in full.
func (x *running) end(ctx context.Context, summary []byte, last adapter.FeedLine) error {
	done, err := x.over(ctx, x.night)
	if err != nil || done {
		return err
	}
	return x.commit(ctx, adapter.Effect{At: x.Now, Feeds: []adapter.FeedLine{last}, Replies: []adapter.Reply{{Key: replyKey(x.night), SHA256: sha256.Sum256(summary), Status: 200, Made: x.Now, Body: summary}}},
		"the answer of the night was given")
}

// abandon ends the work of other nights that was never done: it would set an
// old state over a newer one. Whoever is at it can no longer write.
func (x *running) abandon(ctx context.Context) error {
	for limit := fewWorks; ; {
		list, err := x.Record.Unfinished(ctx, limit) // oldest clock first: behind work of this night is none of an older one
		if err != nil {
			return err
		}
		var ids []string
		other := 0
		for _, q := range list {
			var w struct{ Night string }
			if q.Kind != JobKind && q.Kind != AbsentKind {
				other++
			} else if json.Unmarshal(q.Body, &w) != nil || w.Night != x.night {
				ids = append(ids, q.ID)
			}
		}
		if len(ids) == 0 {
			if other < len(list) || len(list) < limit || limit >= mostWorks {
				return nil
			}
			limit *= 2
			continue
		}
		err = x.commit(ctx, adapter.Effect{At: x.Now, Finished: ids}, "work of an unfinished night was given up for this one")
		var conflict *adapter.Conflict
		if err != nil && !errors.As(err, &conflict) { // a conflict: one was done meanwhile
			return err
		}
	}
}

// Work is looked through in such portions: one may hold some megabytes.
const fewWorks, mostWorks = 16, 1024
