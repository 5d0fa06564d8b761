package night

import (
	"context"
	"encoding/binary"
	"io"
	"iter"
	"sync"

	"github.com/google/uuid"

	"weir.example/weir/adapter"
)

// looked is a chunk of the feed with what the record has of its patients. It
// is made by many at a time.
type looked struct {
	groups []Group
	size   int // of their lines
	have   map[string]adapter.FeedLine
	over   []bool   // of each patient: passed over, with what was said of him before
	said   said     // of all of them, in order
	counts tally    // of those who are passed over
	people []string // those, by our ids
	err    error
}

// chunks gives the patients of a feed some hundred at a time.
func chunks(groups iter.Seq2[Group, error]) iter.Seq2[looked, error] {
	return func(yield func(looked, error) bool) {
		var one looked
		for g, err := range groups {
			if err != nil {
				yield(looked{}, err)
				return
			}
			one.groups, one.size = append(one.groups, g), one.size+g.size()
			if len(one.groups) < mostLooked && one.size < mostHeld {
				continue
			}
			if !yield(one, nil) {
				return
			}
			one = looked{}
		}
		if len(one.groups) > 0 {
			yield(one, nil)
		}
	}
}

// each looks up the patients of the feed, on the workers of the feed, and
// gives them to do in the order of the feed. While the work waits few chunks are
// held: each counts for four times its lines.
func (x *running) each(ctx context.Context, f *Feed, do func(looked) error) error {
	inner, end := context.WithCancel(ctx)
	next, stop := iter.Pull2(chunks(f.Groups(inner)))
	var one sync.Mutex // Ordered does not wait for a next that runs when it fails
	defer func() {
		end()
		one.Lock()
		defer one.Unlock()
		stop()
	}()
	return adapter.Ordered(inner, f.workers, func() (looked, error) {
		one.Lock()
		defer one.Unlock()
		c, err, more := next()
		if !more {
			err = io.EOF
		}
		return c, err
	}, func(c looked) int { return 4 * c.size }, func(c looked) looked {
		c.err = x.look(inner, &c)
		return c
	}, func(c looked) error {
		if c.err != nil {
			return c.err
		}
		return do(c)
	})
}

// look finds out who of a chunk is passed over, and what is said of him.
func (x *running) look(ctx context.Context, c *looked) (err error) {
	var keys []string
	for _, g := range c.groups {
		if g.ahead == nil {
			keys = append(keys, g.Key)
		}
	}
	c.have = map[string]adapter.FeedLine{}
	if len(keys) > 0 {
		if c.have, err = x.Record.FeedLines(ctx, keys); err != nil {
			return err
		}
	}
	c.over = make([]bool, len(c.groups))
	for i, g := range c.groups {
		f, known := c.have[g.Key]
		if g.ahead != nil {
			f = *g.ahead
		}
		judged, text := unsealed(f.Report)
		if g.ahead == nil && (!known || f.Night == x.night && judged == x.night || !x.stays(f, g)) {
			c.said.later()
			continue
		}
		closed, err := x.over(ctx, judged)
		if err != nil {
			return err
		}
		if closed {
			text = again(text)
		}
		c.over[i] = true
		c.people = append(c.people, f.Patient)
		c.said.now(g.Key, f.Night, closed, c.counts.all(text), text)
	}
	return nil
}

// stays reports whether nothing of a patient can have changed since he was
// judged.
func (x *running) stays(f adapter.FeedLine, g Group) bool {
	judged, _ := unsealed(f.Report)
	if last, err := nightClock(judged); err == nil && x.Now.Before(last) {
		return false // a clock that was set back
	}
	return !x.Worker.afresh && f.Basis == x.basis && len(g.Keys) <= 1 && f.Sum == g.Sum && f.At == f.Now && (f.Watch.IsZero() || x.Now.Before(f.Watch))
}

// said is what a night says of some patients, in order: of those who are
// passed over the text itself, of the others that it is read when their work
// is done.
type said []byte

func (s *said) later() { *s = append(*s, 0) }

func (s *said) now(key, night string, again bool, rank int, text []byte) {
	kind := byte(1)
	if again {
		kind = 2
	}
	*s = append(*s, kind, byte(rank))
	for _, part := range []string{key, night} {
		*s = append(binary.AppendUvarint(*s, uint64(len(part))), part...)
	}
	*s = append(binary.AppendUvarint(*s, uint64(len(text))), text...)
}

// sentence is one of what is said; Key is "" when it is to be read later.
type sentence struct {
	Kept
	text []byte
}

// next takes the first of what is said, false when there is none.
func (s *said) next() (out sentence, ok bool) {
	in := *s
	if len(in) == 0 {
		return out, false
	}
	kind := in[0]
	if in = in[1:]; kind == 0 {
		*s = in
		return out, true
	}
	out.Again, out.rank, in = kind == 2, int(in[0]), in[1:]
	part := func() []byte {
		n, width := binary.Uvarint(in)
		text := in[width : width+int(n)]
		in = in[width+int(n):]
		return text
	}
	out.Key, out.Seen, out.text = string(part()), string(part()), part()
	*s = in
	return out, true
}

// people are our ids of patients, of whom there may be millions: 16 bytes
// each where they are such ids as we make.
type people struct {
	ids  map[[16]byte]struct{}
	rest map[string]bool
}

func (p *people) add(id string) {
	if u, err := uuid.Parse(id); err == nil && u.String() == id {
		if p.ids == nil {
			p.ids = map[[16]byte]struct{}{}
		}
		p.ids[u] = struct{}{}
		return
	}
	if p.rest == nil {
		p.rest = map[string]bool{}
	}
	p.rest[id] = true
}

func (p *people) has(id string) bool {
	if u, err := uuid.Parse(id); err == nil && u.String() == id {
		_, there := p.ids[u]
		return there
	}
	return p.rest[id]
}
