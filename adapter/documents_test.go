package adapter_test

import (
	"bytes"

	"weir.example/weir/adapter"
)

// documents gives answers in one of the outputs, each as a document of its own.
func documents(output string, answers []adapter.Answer) []byte {
	var out bytes.Buffer
	w := adapter.NewWriter(&out, output, len(answers) > 1)
	for i, a := range answers {
		_ = w.Write(adapter.Row{Answer: a, Document: i + 1}) // a buffer takes everything
	}
	_ = w.Close()
	return out.Bytes()
}
