package element

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/examples"
)

// What was accepted gives the same tree, whichever reads it; what was not is
// left to the reader that judges.
func TestWhatIsReadAgainIsTheSameTree(t *testing.T) {
	var memory Again
	same := func(text string) {
		want, _ := ReadLine([]byte(text), Limit{}, 3)
		got := ReadAgain([]byte(text), 3)
		kept := memory.Read([]byte(text), 3)
		require.Equal(t, want.text, kept.text)
		require.Equal(t, want.nodes, kept.nodes, text)
		require.Equal(t, want.text, got.text)
		require.Equal(t, want.nodes, got.nodes, text)
		require.Equal(t, want.Root().Expression(), got.Root().Expression())
		require.Equal(t, want.line, got.line)
	}
	files, err := examples.Files.ReadDir(".")
	require.NoError(t, err)
	for _, f := range files {
		data, err := examples.Files.ReadFile(f.Name())
		require.NoError(t, err)
		same(string(data)) // with white space: judged
		var line bytes.Buffer
		require.NoError(t, json.Compact(&line, data))
		same(line.String())
		doc, _ := Read(data, Limit{})
		same(string(Compact(RawNode(doc.Root()))))
		for cut := 0; cut < line.Len(); cut += 1 + line.Len()/7 {
			same(line.String()[:cut])
		}
	}
	deep := bytes.Repeat([]byte(`{"a":`), 70)
	long := append(append([]byte(`{"coding":[{}`), bytes.Repeat([]byte(`,{}`), 60)...), `]}`...)
	for _, text := range []string{``, `{}`, `[]`, `{"a":[]}`, `{"a":{}}`, `1`, `-1.50e3`, `"x"`, `"\\"`, `"\""`, `"\u00e9\n"`, `{"a\"b":"c\\","d":[1,null,true,false,"é"]}`,
		`{"a":1,}`, `{"a" :1}`, `{"a":1}x`, `{"a":1}{}`, `{a:1}`, `{"a":tru}`, `{"a":nul`, `{"a`, `{"a\`, `"\`, `[1 ,2]`, `[1,]`, `[,1]`, "\"\x01\"", "\xef\xbb\xbf{}", "{\"a\":1}\n",
		string(deep) + "1" + string(bytes.Repeat([]byte("}"), 70)), string(deep[:63*5]) + "1" + string(bytes.Repeat([]byte("}"), 63)), string(long)} {
		same(text)
	}
}

func FuzzReadAgain(f *testing.F) {
	f.Add([]byte(`{"resourceType":"Basic","a":[1.50,"\u00fc",{"b":null}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		doc, faults := ReadLine(data, Limit{}, 1)
		again := ReadAgain(data, 1)
		if len(faults) == 0 {
			assert.Equal(t, doc.nodes, again.nodes)
		}
	})
}

func BenchmarkReadAgain(b *testing.B) {
	data, err := examples.Files.ReadFile("MedicationRequest-medrx0302.json")
	require.NoError(b, err)
	doc, _ := Read(data, Limit{})
	line := Compact(RawNode(doc.Root()))
	b.Run("judged", func(b *testing.B) {
		for b.Loop() {
			ReadLine(line, Limit{}, 1)
		}
	})
	b.Run("again", func(b *testing.B) {
		for b.Loop() {
			ReadAgain(line, 1)
		}
	})
}
