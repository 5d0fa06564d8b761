package night

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

type cutLine struct {
	number int
	text   string
	size   int
}

func chunked(t testing.TB, in io.Reader) ([]cutLine, error) {
	var out []cutLine
	c := chunker{buffer: func() []byte { return nil }, give: func(c chunk) error {
		if c.size > 0 {
			out = append(out, cutLine{c.first, "", c.size})
			return nil
		}
		return c.each(func(line []byte, number int, _ bool) error {
			if len(line) > element.MostLine {
				out = append(out, cutLine{number, "", len(line)})
			} else {
				out = append(out, cutLine{number, string(line), len(line)})
			}
			return nil
		})
	}}
	err := c.run(context.Background(), in)
	return out, err
}

// Chunks hold the lines that adapter.LineReader gives, with their numbers,
// however the stream comes and wherever the chunks end.
func TestChunksAreTheLinesOfTheLineReader(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 9))
	for round := range 60 {
		var text []byte
		for range random.IntN(40) {
			length := []int{0, 1, 3, 200, 5000, chunkSize - 1, chunkSize, chunkSize + 7, 3 * chunkSize}[random.IntN(9)]
			if round%20 == 0 && random.IntN(8) == 0 {
				length = element.MostLine - 1 + random.IntN(5)
			}
			text = append(text, bytes.Repeat([]byte{"x \t\r"[random.IntN(4)]}, length)...)
			text = append(text, []string{"\n", "\r\n", "\n\n"}[random.IntN(3)]...)
		}
		if random.IntN(2) == 0 {
			text = append(text, "the last\r"...)
		}
		var want []cutLine
		lines := adapter.NewLineReader(bytes.NewReader(text))
		for {
			line, err := lines.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
			want = append(want, cutLine{line.Number, string(line.Data), line.Size})
		}
		var in io.Reader = bytes.NewReader(text)
		switch round % 3 {
		case 1:
			in = iotest.HalfReader(in)
		case 2:
			in = iotest.DataErrReader(in)
		}
		have, err := chunked(t, in)
		require.NoError(t, err)
		require.Equal(t, len(want), len(have), round)
		for i := range want {
			if want[i].text != have[i].text || want[i].number != have[i].number || want[i].text != "" && want[i].size != have[i].size {
				require.Fail(t, "another line", "%d: %d %d, %d %d", i, want[i].number, want[i].size, have[i].number, have[i].size)
			}
		}
	}
	broken := errors.New("broken")
	have, err := chunked(t, io.MultiReader(bytes.NewReader([]byte("a\nb\nc")), iotest.ErrReader(broken)))
	require.ErrorIs(t, err, broken)
	assert.Len(t, have, 2, "the line it broke in is not given")
}
