package night

import (
	"context"
	"time"

	"weir.example/weir/adapter"
)

// pending are the patients of one chunk of the feed, in order.
type pending struct {
	jobs     []string // none when all were passed over
	keys     []string // of those whose report is read when the jobs are done
	seen     []bool   // of each key: no work was needed
	patients int      // of the feed
	said     int64    // where it is put aside what is said of all of them; -1: there are only the keys
}

// mostWaiting is how many jobs may wait for a worker. What a run has to
// remember of its patients until they are judged, and the table of the work,
// stay small, however many there are. A variable for tests.
var mostWaiting = 400

// wait puts patients behind those who are waited for.
func (x *running) wait(p pending) {
	x.list, x.waits = append(x.list, p), x.waits+len(p.jobs)
}

// upTo waits for the work of the night in the order of the feed, and says what
// became of each order, until no more than so many jobs are left.
func (x *running) upTo(ctx context.Context, most int) error {
	for len(x.list) > 0 && (x.waits > most || most == 0 || len(x.list[0].jobs) == 0) {
		if err := x.answer(ctx, x.list[0]); err != nil {
			return err
		}
		x.waits -= len(x.list[0].jobs)
		x.made.Answered += x.list[0].patients
		x.list[0] = pending{}
		x.list = x.list[1:]
	}
	return nil
}

// judged waits for the work on some patients, and gives what is kept of them.
func (x *running) judged(ctx context.Context, p pending) (map[string]adapter.FeedLine, error) {
	for _, job := range p.jobs {
		if err := x.done(ctx, job); err != nil {
			return nil, err
		}
	}
	return x.Record.FeedLines(ctx, p.keys)
}

func (x *running) answer(ctx context.Context, p pending) error {
	lines, err := x.judged(ctx, p)
	if err != nil {
		return err
	}
	text := said(make([]byte, len(p.keys)))
	if p.said >= 0 {
		if text, err = x.aside.read(p.said); err != nil {
			return err
		}
	}
	return x.speak(ctx, p, lines, text)
}

// speak says what became of the patients of one chunk.
func (x *running) speak(ctx context.Context, p pending, lines map[string]adapter.FeedLine, all said) error {
	at := 0
	for {
		s, more := all.next()
		if !more {
			return nil
		}
		if s.Key != "" {
			x.worst(s.Kept)
			if _, err := x.out.Write(s.text); err != nil {
				return err
			}
			continue
		}
		key, seen := p.keys[at], p.seen[at]
		at++
		judged, text := unsealed(lines[key].Report)
		if lines[key].Night != x.night || !seen && judged != x.night {
			return &adapter.Unavailable{Code: "another run of the night took over; run it again"}
		}
		closed, err := x.over(ctx, judged)
		if err != nil {
			return err
		}
		if closed {
			text = again(text)
		}
		if err := x.say(key, closed, text); err != nil {
			return err
		}
	}
}

func (x *running) say(key string, passed bool, text []byte) error {
	x.keep(key, passed, text)
	_, err := x.out.Write(text)
	return err
}

// pause is how long a run waits before it asks again whether work is done.
const pause = 20 * time.Millisecond

// done waits for a job.
func (x *running) done(ctx context.Context, id string) error {
	if id == "" {
		return nil
	}
	for {
		done, err := x.Record.WorkDone(ctx, id)
		if err != nil {
			return err
		}
		if done {
			x.made.Done++
			if x.Progress != nil {
				x.Progress(x.made)
			}
			return nil
		}
		failed, err := x.Queue.Failed(ctx, 1000)
		if err != nil {
			return err
		}
		for _, f := range failed {
			if f.ID == id {
				return &adapter.Unavailable{Code: "work of the night failed for good: " + f.Reason}
			}
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
	}
}
