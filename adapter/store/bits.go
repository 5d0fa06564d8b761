package store

import (
	"iter"
	mathbits "math/bits"
)

// bits are a set of slots of a shelf. It has no zero bytes at its end, so
// that equal sets are equal bytes.
type bits []byte

func (b bits) has(i int) bool { return i/8 < len(b) && b[i/8]&(1<<(i%8)) != 0 }

// with adds a slot, in place where there is room.
func (b bits) with(i int) bits {
	for len(b) <= i/8 {
		b = append(b, 0)
	}
	b[i/8] |= 1 << (i % 8)
	return b
}

// without takes a slot away, in place.
func (b bits) without(i int) bits {
	if i/8 < len(b) {
		b[i/8] &^= 1 << (i % 8)
	}
	return b.trimmed()
}

func (b bits) trimmed() bits {
	for len(b) > 0 && b[len(b)-1] == 0 {
		b = b[:len(b)-1]
	}
	return b
}

func (b bits) or(o bits) bits {
	if len(o) > len(b) {
		b, o = o, b
	}
	out := append(bits{}, b...)
	for i := range o {
		out[i] |= o[i]
	}
	return out
}

func (b bits) and(o bits) bits {
	out := append(bits{}, b[:min(len(b), len(o))]...)
	for i := range out {
		out[i] &= o[i]
	}
	return out.trimmed()
}

func (b bits) minus(o bits) bits {
	out := append(bits{}, b...)
	for i := range min(len(b), len(o)) {
		out[i] &^= o[i]
	}
	return out.trimmed()
}

func (b bits) count() int {
	n := 0
	for _, x := range b {
		n += mathbits.OnesCount8(x)
	}
	return n
}

// slots gives the slots in order.
func (b bits) slots() iter.Seq[int] {
	return func(yield func(int) bool) {
		for i := range len(b) * 8 {
			if b.has(i) && !yield(i) {
				return
			}
		}
	}
}
