package r4

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"regexp"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"weir.example/weir/mapping/worksheet"
)

// namespace is the UUIDv5 of the URL https://weir.example/fhir in the URL
// namespace: every id we give is made from it, so an equal order sent again
// gives equal ids. A hash of the content cannot be the id, because dispense
// and issue point at each other.
var namespace = uuid.MustParse("9f1ea0d7-dc47-5cc8-b021-f5437e5a5aa9")

// ordinals counts what was made of one kind for one order and purpose, over
// the whole answer: an order that stands in it twice still gives no id twice.
type ordinals map[string]int

// next is the id (RFC 4122, version 5) of the next resource: the name is
// type|orderKey|orderVersion|purpose|ordinal in UTF-8, the ordinal from 1.
func (o ordinals) next(kind, key, version, purpose string) string {
	name := strings.Join([]string{kind, key, version, purpose}, "|")
	o[name]++
	return uuid.NewSHA1(namespace, []byte(name+"|"+strconv.Itoa(o[name]))).String()
}

// runOf is the purpose of a Provenance: the SHA-256 (hex) of input, tables,
// policy and clock, so that each run has its own.
func runOf(s worksheet.Sources) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{s.Document, s.Tables, s.Policy, s.Now}, "|")))
	return hex.EncodeToString(sum[:])
}

var sha = regexp.MustCompile(`(?:sha256:)?\b([0-9a-f]{64})\b`)

// hashName is the content hash in a source's text as a URI of RFC 6920
// (base64url without padding), and the words around it. The URI is "" when
// the text holds none.
func hashName(text string) (uri, words string) {
	m := sha.FindStringSubmatchIndex(text)
	if m == nil {
		return "", text
	}
	raw, err := hex.DecodeString(text[m[2]:m[3]])
	if err != nil {
		return "", text
	}
	words = strings.Join(strings.Fields(text[:m[0]]+" "+text[m[1]:]), " ")
	return "ni:///sha-256;" + base64.RawURLEncoding.EncodeToString(raw), words
}
