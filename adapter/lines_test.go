package adapter_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

func lines(t testing.TB, in io.Reader) (list []adapter.Line) {
	r := adapter.NewLineReader(in)
	for {
		line, err := r.Next()
		if errors.Is(err, io.EOF) {
			return list
		}
		require.NoError(t, err)
		list = append(list, line)
	}
}

func TestLinesOfAFile(t *testing.T) {
	for text, want := range map[string][]adapter.Line{
		"":                {},
		"\n\n":            {},
		"a":               {{Number: 1, Data: []byte("a"), Size: 1}},
		"a\n":             {{Number: 1, Data: []byte("a"), Size: 1}},
		"a\r\nb\r\n":      {{Number: 1, Data: []byte("a"), Size: 1}, {Number: 2, Data: []byte("b"), Size: 1}},
		"\n \t\r\n\na\n":  {{Number: 4, Data: []byte("a"), Size: 1}},
		"a\rb\n":          {{Number: 1, Data: []byte("a\rb"), Size: 3}},
		"a\r\r\n":         {{Number: 1, Data: []byte("a\r"), Size: 2}},
		"a\r":             {{Number: 1, Data: []byte("a\r"), Size: 2}},
		"\ufeffa\n":       {{Number: 1, Data: []byte("\ufeffa"), Size: 4}},
		"a\u2028b\x85c\n": {{Number: 1, Data: []byte("a\u2028b\x85c"), Size: 7}},
		"a\x00\xff\n":     {{Number: 1, Data: []byte("a\x00\xff"), Size: 3}},
	} {
		for _, in := range []io.Reader{strings.NewReader(text), iotest.OneByteReader(strings.NewReader(text)), iotest.DataErrReader(strings.NewReader(text))} {
			assert.ElementsMatch(t, want, lines(t, in), "%q", text)
		}
	}
}

// The longest line is kept, one byte more is not; what follows is read.
func TestTheLongestLine(t *testing.T) {
	for _, end := range []string{"\n", "\r\n"} {
		for _, x := range []struct {
			size int
			kept bool
		}{{element.MostLine, true}, {element.MostLine + 1, false}, {element.MostLine + 2, false}, {element.MostLine + 3, false}, {2 * element.MostLine, false}} {
			got := lines(t, strings.NewReader(strings.Repeat("a", x.size)+end+"b"))
			require.Len(t, got, 2)
			assert.Equal(t, !x.kept, got[0].Overlong(), x.size)
			if x.kept {
				assert.Len(t, got[0].Data, x.size)
			} else {
				assert.Empty(t, got[0].Data)
				assert.InDelta(t, x.size, got[0].Size, 1)
			}
			assert.Equal(t, adapter.Line{Number: 2, Data: []byte("b"), Size: 1}, got[1])
		}
	}
	got := lines(t, strings.NewReader(strings.Repeat(" ", element.MostLine+1)))
	assert.True(t, got[0].Overlong(), "blanks that are too many are no empty line: nobody has seen all of them")
}

func TestAStreamThatBreaksOff(t *testing.T) {
	broken := errors.New("broken")
	r := adapter.NewLineReader(io.MultiReader(strings.NewReader("a\nhalf"), iotest.ErrReader(broken)))
	line, err := r.Next()
	require.NoError(t, err)
	assert.Equal(t, "a", string(line.Data))
	_, err = r.Next()
	assert.ErrorIs(t, err, broken, "half a line is no line")
	assert.Equal(t, 2, r.Number())
}

// Whatever the bytes: the lines are those of a plain split, in order, each
// with its number, and nothing is lost.
func FuzzLines(f *testing.F) {
	for _, seed := range []string{"", "a", "a\n", "\r\n", "a\r\n\r\nb", "\n\n\x00", "{}\n{}\n"} {
		f.Add([]byte(seed), uint8(1))
	}
	f.Fuzz(func(t *testing.T, data []byte, chunk uint8) {
		var want []adapter.Line
		for i, part := range bytes.Split(data, []byte("\n")) {
			last := i == bytes.Count(data, []byte("\n"))
			if !last {
				part = bytes.TrimSuffix(part, []byte("\r"))
			}
			if len(bytes.Trim(part, " \t\r")) > 0 {
				want = append(want, adapter.Line{Number: i + 1, Data: part, Size: len(part)})
			}
		}
		got := lines(t, &chunked{data, int(chunk) + 1})
		require.Len(t, got, len(want))
		for i := range want {
			assert.Equal(t, want[i].Number, got[i].Number)
			assert.Equal(t, want[i].Size, got[i].Size)
			assert.True(t, bytes.Equal(want[i].Data, got[i].Data))
		}
	})
}

// chunked gives at most n bytes a read.
type chunked struct {
	data []byte
	n    int
}

func (c *chunked) Read(p []byte) (int, error) {
	if len(c.data) == 0 {
		return 0, io.EOF
	}
	n := copy(p[:min(len(p), c.n)], c.data)
	c.data = c.data[n:]
	return n, nil
}
