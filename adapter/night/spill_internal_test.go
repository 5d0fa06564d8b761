package night

import (
	"bytes"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
)

// What was put into a bucket comes back in its order, behind what was there.
func TestBucketsComeBack(t *testing.T) {
	root, err := os.OpenRoot(t.TempDir())
	require.NoError(t, err)
	defer func() { require.NoError(t, root.Close()) }()
	r := rand.New(rand.NewPCG(1, 1))
	for range 60 {
		b, err := newBuckets(root, "some", 1+r.IntN(9), r.IntN(300))
		require.NoError(t, err)
		want := make([][]byte, len(b.list))
		put := func(times int) {
			for range times {
				record := make([]byte, r.IntN(1+r.IntN(400)))
				for i := range record {
					record[i] = byte(r.IntN(256))
				}
				to := r.IntN(len(want))
				want[to] = append(want[to], record...)
				require.NoError(t, b.add(to, record))
			}
			require.NoError(t, b.settle())
			for i, w := range want {
				require.Equal(t, len(w), b.length(i))
				got, err := b.whole(i)
				require.NoError(t, err)
				require.True(t, bytes.Equal(w, got))
				before := []byte("what was there")[:r.IntN(15)]
				got, err = b.read(i, append(make([]byte, 0, len(before)+len(w)), before...))
				require.NoError(t, err)
				require.True(t, bytes.Equal(append(before[:len(before):len(before)], w...), got))
			}
		}
		put(r.IntN(200))
		put(r.IntN(50)) // a bucket may go on after it was read
		require.NoError(t, b.file.Truncate(b.end.Load()/2))
		lost := false
		for i := range want {
			_, err := b.whole(i)
			lost = lost || err != nil
		}
		require.Equal(t, b.end.Load() > 0, lost, "what was cut off is not read as something else")
		require.NoError(t, b.close())
	}
}
