package night

import (
	"bytes"
	"compress/gzip"
	"context"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/orders"
)

// opened reads a folder and asserts at the end that nothing is left of it.
func opened(t testing.TB, files fs.FS, workers int) *Feed {
	f, err := Open(context.Background(), files, private(t), workers)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, f.Close()) })
	return f
}

// private is an empty folder that must be empty again in the end.
func private(t testing.TB) *os.Root {
	path := t.TempDir()
	root, err := os.OpenRoot(path)
	require.NoError(t, err)
	t.Cleanup(func() {
		left, err := os.ReadDir(path)
		assert.NoError(t, err)
		assert.Empty(t, left, "of patients nothing may be left")
		assert.NoError(t, root.Close())
	})
	return root
}

func groups(t testing.TB, f *Feed) []Group {
	var out []Group
	for g, err := range f.Groups(context.Background()) {
		require.NoError(t, err)
		out = append(out, g)
	}
	return out
}

func failed(t testing.TB, f *Feed) []Failed {
	var out []Failed
	for one, err := range f.Failures() {
		require.NoError(t, err)
		out = append(out, one)
	}
	return out
}

// folder lays lines out by type, one file each.
func folder(list []orders.Resource) fstest.MapFS {
	files := fstest.MapFS{}
	for _, r := range list {
		name := r.Type + ".ndjson"
		if files[name] == nil {
			files[name] = &fstest.MapFile{}
		}
		files[name].Data = append(append(files[name].Data, r.Line...), '\n')
	}
	return files
}

// shuffled lays the same lines out in another order, cut into parts, some of
// them compressed, some lines twice, with the ends of another system.
func shuffled(list []orders.Resource, random *rand.Rand) fstest.MapFS {
	list = append([]orders.Resource{}, list...)
	for range len(list) / 10 {
		list = append(list, list[random.IntN(len(list))])
	}
	random.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
	texts := map[string][]byte{}
	parts := 1 + random.IntN(4)
	end := []string{"\n", "\r\n", "\n \n", "\n\n"}[random.IntN(4)]
	for _, r := range list {
		name := fmt.Sprintf("%s.%d.ndjson", r.Type, random.IntN(parts))
		texts[name] = append(append(texts[name], r.Line...), end...)
	}
	files := fstest.MapFS{"manifest.json": {Data: []byte(`{"transactionTime":"2026-11-26T03:00:00Z","output":[]}`)}, "README": {}}
	for name, text := range texts {
		if random.IntN(3) == 0 {
			text = bytes.TrimRight(text, "\r\n ")
		}
		if random.IntN(2) == 0 {
			name, text = name+".gz", packed(text)
		}
		files[name] = &fstest.MapFile{Data: text}
	}
	return files
}

func packed(text []byte) []byte {
	var out bytes.Buffer
	w := gzip.NewWriter(&out)
	_, _ = w.Write(text)
	_ = w.Close()
	return out.Bytes()
}

// population is every scenario, some of them several times.
func population(t testing.TB, times int) []orders.Resource {
	var list []orders.Resource
	seen := map[string]bool{}
	for _, f := range orders.All() {
		if f.Base != "" || seen[f.Name[:2]] {
			continue
		}
		seen[f.Name[:2]] = true
		for i := range times {
			list = append(list, f.Resources(fmt.Sprintf("k%d-%s-", i, f.Name[:2]))...)
		}
	}
	require.Greater(t, len(list), 100*times)
	return list
}
