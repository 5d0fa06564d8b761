package element_test

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/element"
)

func TestAllAndWithin(t *testing.T) {
	n := read(t, `{"resourceType":"Basic","a":[{"b":"x"},{"b":"y","c":[1,2]}],"d":"z"}`)
	for _, one := range []element.Node{n, n.Get("a"), n.Get("d"), n.Get("none"), {}} {
		assert.Equal(t, one.Each(), slices.Collect(one.All()))
	}
	for range n.Get("a").All() {
		break // it may end early
	}
	said := func(n element.Node) (out []string) {
		for one := range n.Within() {
			out = append(out, one.Name()+"="+one.Literal())
		}
		return out
	}
	assert.Equal(t, []string{"=", "resourceType=Basic", "a=", "=", "b=x", "=", "b=y", "c=", "=1", "=2", "d=z"}, said(n))
	assert.Equal(t, []string{"=", "b=y", "c=", "=1", "=2"}, said(n.Get("a").At(1)), "nothing behind it")
	assert.Equal(t, []string{"d=z"}, said(n.Get("d")))
	assert.Empty(t, said(element.Node{}))
	for one := range n.Within() {
		if one.Name() == "b" {
			break
		}
	}
}
