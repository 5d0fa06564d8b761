package store

import (
	"bytes"
	"compress/gzip"
	"io"
)

// pack compresses as squeeze does. An earlier program packed as RFC 1952.
func pack(data []byte) []byte { return squeeze(data) }

// unpack gives the bytes back; its error holds none of them.
func unpack(data []byte) ([]byte, error) {
	if len(data) < 2 || data[0] != 0x1f || data[1] != 0x8b {
		return unsqueezer().DecodeAll(data, nil)
	}
	r, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	out, err := io.ReadAll(r)
	if err != nil {
		return nil, err
	}
	return out, r.Close()
}
