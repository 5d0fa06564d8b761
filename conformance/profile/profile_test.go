package profile_test

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/conformance/profile"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4/googlefhir"
)

// Each resource is R4 by our own reader and by google/fhir. The Java
// validator judges them too (.ci/judges).
func TestEveryResourceIsR4(t *testing.T) {
	list := profile.Resources("0.0.0")
	require.Greater(t, len(list), 60)
	seen := map[string]bool{}
	for _, r := range list {
		assert.False(t, seen[r.Name()], r.Name())
		seen[r.Name()] = true
		doc, faults := element.Read(r.JSON(), element.Limit{})
		require.Empty(t, faults, r.Name())
		assert.Empty(t, schema.Check(doc, googlefhir.Judge), r.Name())
	}
}

// Every code of the table of findings is a code of the CodeSystem, with its
// title and meaning.
func TestTheTableOfFindingsIsTheCodeSystem(t *testing.T) {
	var got struct {
		Count   int
		Concept []struct{ Code, Display, Definition string }
	}
	for _, r := range profile.Resources("0.0.0") {
		if r.Name() == "CodeSystem-finding.json" {
			require.NoError(t, json.Unmarshal(r.JSON(), &got))
		}
	}
	require.Equal(t, len(finding.Codes()), got.Count)
	for i, row := range finding.Codes() {
		assert.Equal(t, string(row.Code), got.Concept[i].Code)
		assert.Equal(t, row.Title, got.Concept[i].Display)
		assert.Equal(t, row.Meaning, got.Concept[i].Definition)
	}
}

// Every address of ours that one resource names in another is there.
func TestEveryAddressOfOursLeadsSomewhere(t *testing.T) {
	list := profile.Resources("0.0.0")
	have := map[string]bool{}
	for _, r := range list {
		have[r.URL()] = true
	}
	var walk func(name string, v any)
	walk = func(name string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for _, x := range v {
				walk(name, x)
			}
		case []any:
			for _, x := range v {
				walk(name, x)
			}
		case string:
			if strings.HasPrefix(v, profile.Canonical) {
				assert.True(t, have[v], "%s names %s", name, v)
			}
		}
	}
	for _, r := range list {
		var v any
		require.NoError(t, json.Unmarshal(r.JSON(), &v))
		walk(r.Name(), v)
	}
}

func TestThePackageHoldsEveryResourceAndIsTheSameEachTime(t *testing.T) {
	var one, two bytes.Buffer
	require.NoError(t, profile.Pack(&one, "0.0.0"))
	require.NoError(t, profile.Pack(&two, "0.0.0"))
	require.Equal(t, one.Bytes(), two.Bytes())
	zip, err := gzip.NewReader(&one)
	require.NoError(t, err)
	files := map[string][]byte{}
	for tape := tar.NewReader(zip); ; {
		head, err := tape.Next()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		files[head.Name], err = io.ReadAll(tape)
		require.NoError(t, err)
	}
	list := profile.Resources("0.0.0")
	assert.Len(t, files, len(list)+2)
	for _, r := range list {
		assert.Equal(t, r.JSON(), files["package/"+r.Name()])
	}
	var manifest struct {
		Name         string
		FHIRVersions []string
		Dependencies map[string]string
	}
	require.NoError(t, json.Unmarshal(files["package/package.json"], &manifest))
	assert.Equal(t, profile.PackageName, manifest.Name)
	assert.Equal(t, []string{"4.0.1"}, manifest.FHIRVersions)
	assert.Equal(t, "4.0.1", manifest.Dependencies["hl7.fhir.r4.core"])
}

// A code is defined once (invariant csd-1 of CodeSystem,
// https://hl7.org/fhir/R4/codesystem.html#invs).
func TestACodeIsDefinedOnce(t *testing.T) {
	for _, r := range profile.Resources("0.0.0") {
		if r.Kind != "CodeSystem" {
			continue
		}
		doc, faults := element.Read(element.Encode(r.Value()), element.Limit{})
		require.Empty(t, faults)
		seen := map[string]bool{}
		for _, c := range doc.Root().Get("concept").Each() {
			code := c.Get("code").Text()
			assert.False(t, seen[code], "%s %s", r.ID, code)
			seen[code] = true
		}
	}
}
