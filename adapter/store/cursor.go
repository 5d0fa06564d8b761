package store

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"

	"weir.example/weir/adapter"
)

// position is where a page ended: the sort value and the id of its last entry.
type position struct {
	Text   string `json:"t,omitempty"`
	Number int64  `json:"n,omitempty"`
	Weight int64  `json:"w,omitempty"`
	Shelf  int64  `json:"s,omitempty"` // of a resource, whose slot is the weight
	ID     string `json:"i,omitempty"`
}

// sealer encrypts positions, since a sort value may be a name and cursors
// stand in addresses, and makes them useless for another question. The nonce
// is made of the content, so equal positions give equal cursors.
type sealer struct {
	aead cipher.AEAD
	mac  []byte
}

func newSealer(key [32]byte) (sealer, error) {
	derive := func(label string) []byte {
		m := hmac.New(sha256.New, key[:])
		m.Write([]byte(label))
		return m.Sum(nil)
	}
	block, err := aes.NewCipher(derive("weir cursor content"))
	if err != nil {
		return sealer{}, err
	}
	aead, err := cipher.NewGCM(block)
	return sealer{aead, derive("weir cursor nonce")}, err
}

// question is what a cursor belongs to.
func question(parts ...any) []byte {
	text, _ := json.Marshal(parts) // strings, numbers and times only
	sum := sha256.Sum256(text)
	return sum[:]
}

func (s sealer) close(p position, question []byte) string {
	text, _ := json.Marshal(p)
	return s.lock(text, question)
}

func (s sealer) lock(text, question []byte) string {
	m := hmac.New(sha256.New, s.mac)
	m.Write(question)
	m.Write(text)
	nonce := m.Sum(nil)[:s.aead.NonceSize()]
	return base64.RawURLEncoding.EncodeToString(s.aead.Seal(nonce, nonce, text, question))
}

func (s sealer) open(cursor string, question []byte) (position, error) {
	var p position
	text, err := s.unlock(cursor, question)
	if err != nil || json.Unmarshal(text, &p) != nil {
		return p, &adapter.BadCursor{}
	}
	return p, nil
}

func (s sealer) unlock(sealed string, question []byte) ([]byte, error) {
	raw, err := base64.RawURLEncoding.Strict().DecodeString(sealed)
	if err != nil || len(raw) < s.aead.NonceSize() {
		return nil, &adapter.BadCursor{}
	}
	text, err := s.aead.Open(nil, raw[:s.aead.NonceSize()], raw[s.aead.NonceSize():], question)
	if err != nil {
		return nil, &adapter.BadCursor{}
	}
	return text, nil
}

// Seal encrypts a text that a client is to bring back.
func (s *Store) Seal(purpose string, text []byte) string {
	return s.seal.lock(text, question("sealed", purpose))
}

// Unseal gives back what Seal made for the purpose.
func (s *Store) Unseal(purpose, sealed string) ([]byte, error) {
	return s.seal.unlock(sealed, question("sealed", purpose))
}
