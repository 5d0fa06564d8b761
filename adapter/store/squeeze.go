package store

import (
	_ "embed"
	"sync"

	"github.com/klauspost/compress/zstd"
)

// Resources are many, small and alike: they are stored as Zstandard frames
// (RFC 8878) against a dictionary, to about a twelfth of their size. A
// dictionary never changes: what was stored with it must be read with it. A
// better one gets another number, and all are kept; a frame names its own.
// The first is text as our resources have it. The second was trained by the
// trainer of the reference implementation of Zstandard on what the store keeps
// of testdata/orders, with other ids. What an earlier program stored as it is
// begins with a brace and is read as it is.

//go:embed dictionary1.txt
var dictionary1 []byte

//go:embed dictionary2.bin
var dictionary2 []byte

const dictionaryNumber1 = 1 // the number of the second stands in it

var squeezer = sync.OnceValue(func() *zstd.Encoder {
	e, err := zstd.NewWriter(nil, zstd.WithEncoderDict(dictionary2), zstd.WithEncoderCRC(true),
		zstd.WithWindowSize(1<<20)) // a larger one takes 8 MB for each of the encoders and finds no more
	if err != nil {
		panic(err) // a fault of this build: nothing of it is an input
	}
	return e
})

var unsqueezer = sync.OnceValue(func() *zstd.Decoder {
	d, err := zstd.NewReader(nil, zstd.WithDecoderDictRaw(dictionaryNumber1, dictionary1), zstd.WithDecoderDicts(dictionary2),
		zstd.WithDecoderMaxMemory(256<<20), zstd.WithDecoderConcurrency(0))
	if err != nil {
		panic(err) // as above
	}
	return d
})

func squeeze(data []byte) []byte {
	return squeezer().EncodeAll(data, make([]byte, 0, len(data)/4+64)) // empty data is a frame, too
}

// unsqueeze gives the bytes back; its error holds none of them.
func unsqueeze(data []byte) ([]byte, error) {
	if len(data) > 0 && data[0] == '{' {
		return data, nil
	}
	return unsqueezer().DecodeAll(data, nil)
}
