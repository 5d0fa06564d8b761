package intake

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

// A case is written as the encoder of the library writes it.
func TestACaseIsWrittenAsItIsEncoded(t *testing.T) {
	bodies := []string{`{"resourceType":"Basic","id":"a"}`, `{"a":"x<y"}`, `{"a":"\u003c"}`, "{\"a\":\"\u2028\"}", `{"a":"ü & \"}"}`, `null`, ``, `{"a":[1.50,null]}`}
	for n := range len(bodies) + 1 {
		f := &file{Orders: []line{{Key: "k<", Had: []string{"1"}}}, Lost: []string{"one & other"}}
		for i, b := range bodies[:n] {
			f.Resources = append(f.Resources, entry{Type: "Basic", ID: string(rune('a' + i)), Version: 1, Sum: "s", Shared: i%2 == 0, Key: "k>", Body: json.RawMessage(b)})
			if b == "" {
				f.Resources[i].Body = nil
			}
		}
		got, err := f.write()
		require.NoError(t, err)
		want, err := json.Marshal(f)
		require.NoError(t, err)
		require.Equal(t, string(want), string(got))
	}
	f := &file{Resources: []entry{}}
	got, err := f.write()
	require.NoError(t, err)
	want, _ := json.Marshal(f)
	require.Equal(t, string(want), string(got))
}
