package night

import (
	"bytes"
	"encoding/binary"
	"time"

	"weir.example/weir/adapter"
)

// passage gives those who are passed over, in order.
type passage struct {
	*Feed
	part  int    // the next
	said  []byte // the rest of what is said of the one before
	waits Group
	there bool
	begun bool
}

// next takes the first who is left.
func (p *passage) next() (err error) {
	a := p.again
	for p.there = false; ; {
		for len(p.said) == 0 {
			if p.part == len(a.crowds) {
				return nil
			}
			if at := a.crowds[p.part].said; at >= 0 {
				if p.said, err = a.ahead.read(at); err != nil {
					return err
				}
			}
			p.part++
		}
		i, held := int(p.number()), int(p.number())
		newest := int64(p.number())
		l := adapter.FeedLine{Key: string(p.text()), Patient: string(p.text()), Night: string(p.text()), Report: bytes.Clone(p.text())}
		c := &a.crowds[p.part-1]
		if !c.passed(i) {
			continue
		}
		p.mu.Lock()
		if newest != 0 {
			p.dated(time.UnixMicro(newest))
		}
		p.mu.Unlock()
		p.waits, p.there = Group{Key: l.Key, owner: c.owners[i], held: held, ahead: &l}, true
		return nil
	}
}

func (p *passage) number() uint64 {
	x, n := binary.Uvarint(p.said)
	p.said = p.said[n:]
	return x
}

func (p *passage) text() []byte {
	size := int(p.number())
	out := p.said[:size]
	p.said = p.said[size:]
	return out
}

// passing gives those who are passed over when their turn comes: all whose key
// is below that of the next group.
func (f *Feed) passing(yield func(Group, error) bool) (before func(key) error) {
	if f.again == nil || f.again.off {
		return func(key) error { return nil }
	}
	p := &passage{Feed: f}
	return func(owner key) (err error) {
		if !p.begun {
			p.begun = true
			err = p.next()
		}
		for err == nil && p.there && p.waits.owner < owner {
			f.mu.Lock()
			f.facts.Groups++
			f.mu.Unlock()
			if !yield(p.waits, nil) {
				return errEnough
			}
			err = p.next()
		}
		return err
	}
}
