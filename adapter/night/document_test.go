package night_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/intake"
)

// document gives the resources of a Bundle of testdata/orders as a folder has
// them: by type, a line each, under their own ids.
func document(t testing.TB, folder, name string) map[string][]map[string]any {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "orders", folder, name+".json"))
	require.NoError(t, err)
	var bundle struct {
		Entry []struct {
			FullURL  string
			Resource map[string]any
		}
	}
	require.NoError(t, json.Unmarshal(text, &bundle))
	for _, e := range bundle.Entry { // what is known by a urn alone
		if id, ok := strings.CutPrefix(e.FullURL, "urn:uuid:"); ok {
			text = bytes.ReplaceAll(text, []byte(`"reference": "`+e.FullURL+`"`), []byte(`"reference": "`+e.Resource["resourceType"].(string)+"/"+id+`"`))
		}
	}
	reader := json.NewDecoder(bytes.NewReader(text))
	reader.UseNumber()
	require.NoError(t, reader.Decode(&bundle))
	out := map[string][]map[string]any{}
	for _, e := range bundle.Entry {
		kind := e.Resource["resourceType"].(string)
		if _, there := e.Resource["id"]; !there {
			e.Resource["id"] = strings.TrimPrefix(e.FullURL, "urn:uuid:")
		}
		if kind != "MessageHeader" {
			out[kind] = append(out[kind], e.Resource)
		}
	}
	return out
}

// asFolder writes resources as a folder.
func asFolder(t testing.TB, resources map[string][]map[string]any) string {
	files := map[string]string{}
	for kind, list := range resources {
		for _, r := range list {
			line, err := json.Marshal(r)
			require.NoError(t, err)
			files[kind+".ndjson"] += string(line) + "\n"
		}
	}
	return written(t, files)
}

// clockOf is the clock of a case.
func clockOf(t testing.TB, folder string) string {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "orders", folder, "case.txt"))
	require.NoError(t, err)
	for l := range strings.Lines(string(text)) {
		if now, ok := strings.CutPrefix(l, "now: "); ok {
			return strings.TrimSpace(now)
		}
	}
	t.Fatal("no clock")
	return ""
}

func findingsOf(s intake.State) (out []string) {
	for _, f := range s.Findings {
		out = append(out, f.Code+": "+f.Observed)
	}
	return out
}

func tasksOf(s intake.State) (out []string) {
	for _, f := range s.Tasks {
		out = append(out, f.Code+" "+f.Due+": "+f.Says)
	}
	return out
}

// pretty writes JSON a member a line, so that it can be compared.
func pretty(text []byte) string {
	var out bytes.Buffer
	_ = json.Indent(&out, text, "", " ")
	return out.String()
}

func sheetOf(t testing.TB, s site, key string) string {
	list, err := s.record.Worksheets(t.Context(), key, 1)
	require.NoError(t, err)
	if len(list) == 0 {
		return ""
	}
	return pretty(list[0].JSON)
}

// moved names the members that differ between two worksheets.
func moved(a, b string) (out []string) {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	if len(x) != len(y) {
		return []string{difference(a, b)}
	}
	for i := range x {
		if x[i] != y[i] {
			out = append(out, strings.TrimSpace(x[i])+" → "+strings.TrimSpace(y[i]))
		}
	}
	return out
}
