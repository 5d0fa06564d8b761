package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What was stored with a dictionary can be read with that dictionary only: a
// change of a single byte of it would lose every record. The second frame was read
// by the reference implementation of Zstandard, too (zstd -d -D); the number of
// the first stands in no dictionary, so it does not.
func TestTheDictionaryNeverChanges(t *testing.T) {
	for _, one := range []struct {
		dictionary []byte
		sum, frame string
	}{
		{dictionary1, "8026a10375bbf27909fb0dc282571e7060b92bd728e648f2b2e7035b9a292ef6", "28b52ffd050001a5000010617d040040d173000163da25efe1e2a7390301ade73679"},
		{dictionary2, "ed0c0a3bb16be3a19d6e05d91ccc92b2087feb67f151d73779951e384a9a2db6", "28b52ffd0500029d0000087d0540007b492d2fc4ebb1b3c3cb144736d3ade73679"},
	} {
		sum := sha256.Sum256(one.dictionary)
		assert.Equal(t, one.sum, hex.EncodeToString(sum[:]))
		old, err := hex.DecodeString(one.frame)
		require.NoError(t, err)
		got, err := unsqueeze(old)
		require.NoError(t, err)
		assert.Equal(t, sample, string(got))
	}
	assert.Equal(t, byte(2), squeeze([]byte(sample))[6], "the number of the dictionary that is written with")
}

const sample = `{"resourceType":"Task","id":"a","status":"requested","intent":"order","priority":"routine"}`

func TestWhatIsSqueezedComesBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 300 {
		data := make([]byte, 1+r.IntN(5000))
		data[0] = '{'
		for i := 1; i < len(data); i++ {
			if n%2 == 0 {
				data[i] = byte(r.IntN(256))
			} else {
				data[i] = dictionary1[(i*(n+1)+r.IntN(3))%len(dictionary1)]
			}
		}
		got, err := unsqueeze(squeeze(data))
		require.NoError(t, err)
		require.True(t, bytes.Equal(data, got))
	}
	plain, err := unsqueeze([]byte(sample))
	require.NoError(t, err)
	assert.Equal(t, sample, string(plain), "what an earlier program stored")
	damaged := squeeze([]byte(sample))
	damaged[len(damaged)-1] ^= 1
	_, err = unsqueeze(damaged)
	assert.Error(t, err, "a flipped bit is seen")
}
