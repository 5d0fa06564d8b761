package night

import (
	"errors"
	"io"
	"io/fs"
	"net/url"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/go-json-experiment/json"

	"weir.example/weir/mapping/finding"
)

// manifestName is the one file that is no lines: the manifest of the export
// (https://hl7.org/fhir/uv/bulkdata/STU2/export.html#response---complete-status).
const manifestName = "manifest.json"

// mostManifest bounds it in bytes. Our own decision, no source.
const mostManifest = 5 << 20

type manifest struct {
	TransactionTime string         `json:"transactionTime"`
	Output          []manifestFile `json:"output"`
	Error           []manifestFile `json:"error"`
}

type manifestFile struct {
	Type  string `json:"type"`
	URL   string `json:"url"`
	Count *int   `json:"count"`
}

// name is the file's: the last part of the address.
func (m manifestFile) name() string {
	u, err := url.Parse(m.URL)
	if err != nil {
		return ""
	}
	return path.Base(u.Path)
}

// manifest reads the manifest, where there is one, into the facts. A broken
// one is a failure like that of a line: without it the lines are still read.
func (f *Feed) manifest(files fs.FS) error {
	file, err := files.Open(manifestName)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer file.Close()
	data, err := io.ReadAll(io.LimitReader(file, mostManifest+1))
	if err != nil {
		return err
	}
	f.facts.Manifest = true
	var m manifest
	if err := json.Unmarshal(data, &m); err != nil || len(data) > mostManifest {
		return f.badManifest("a manifest that cannot be read", "one JSON object, the manifest of a Bulk Data export, of at most 5 MiB")
	}
	if t, err := time.Parse(time.RFC3339Nano, m.TransactionTime); err == nil {
		f.facts.Time, f.facts.Stated = t, true
	} else if err := f.badManifest("no instant in transactionTime", "transactionTime, an instant with its offset, as of which the folder is complete"); err != nil {
		return err
	}
	f.facts.Errors = len(m.Error)
	for _, one := range m.Output {
		name := one.name()
		at := slices.IndexFunc(f.facts.Files, func(have FileFacts) bool { return have.Name == name })
		if at < 0 {
			at = slices.IndexFunc(f.facts.Files, func(have FileFacts) bool { return have.Name == name+".gz" })
		}
		if at < 0 {
			if f.facts.Missing = append(f.facts.Missing, name); one.Count != nil {
				f.facts.MissingLines += max(0, *one.Count)
			}
			continue
		}
		have := &f.facts.Files[at]
		have.Listed = true
		if one.Count != nil {
			have.Stated = max(have.Stated, 0) + max(0, *one.Count)
		}
		if one.Type != "" && one.Type != have.Type {
			if err := f.badManifest("a type in output that is not the one its file is named after", "the type of each file's lines"); err != nil {
				return err
			}
		}
	}
	slices.SortFunc(f.facts.Missing, strings.Compare)
	return nil
}

func (f *Feed) badManifest(observed, expected string) error {
	f.facts.BadManifest = true
	return f.failures.note(Failed{File: manifestName, Line: 1, Findings: []finding.Finding{{Code: "document-json",
		Place: finding.Place{Expression: "$this", Line: 1, Column: 1}, Observed: observed, Expected: expected,
		Detail: "the manifest of the folder is not used as it stands", Remedy: "Sender: write the manifest of the export again."}}})
}
