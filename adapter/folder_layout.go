package adapter

import (
	"fmt"
	"io/fs"
	"regexp"
	"strings"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/finding"
)

// LayoutFile is one file of a folder of NDJSON by resource type.
type LayoutFile struct {
	Name, Type string
	Packed     bool // by gzip
}

// partName is Type[.PART].ndjson[.gz].
var partName = regexp.MustCompile(`^([A-Z][A-Za-z]{0,63})(\.[A-Za-z0-9_.-]{1,128})?\.ndjson(\.gz)?$`)

// linesName is the name of a file of lines, however it is spelled.
var linesName = regexp.MustCompile(`(?i)\.(ndjson|jsonl|ndjson\.gz|jsonl\.gz)$`)

// mostNames of files are said in one refusal.
const mostNames = 5

// Layout lists the files of a folder Type[.PART].ndjson[.gz], by name, and
// what is no part of it. One that is named after a type or holds lines, and
// does not follow the layout, refuses the folder: it may hold an allergy, and
// passing over it would look like "no allergy". An error is a FolderFault or
// of the file system.
func Layout(files fs.FS) (list []LayoutFile, left []string, err error) {
	entries, err := fs.ReadDir(files, ".")
	if err != nil {
		return nil, nil, err
	}
	var strange []string
	for _, e := range entries {
		name := e.Name()
		m := partName.FindStringSubmatch(name)
		first, _, _ := strings.Cut(name, ".")
		switch {
		case m != nil && (e.Type().IsRegular() || e.Type()&fs.ModeSymlink != 0) && schema.Known(m[1]):
			list = append(list, LayoutFile{Name: name, Type: m[1], Packed: m[3] != ""})
		case strings.HasPrefix(name, "."), name == "manifest.json":
		case linesName.MatchString(name), schema.Known(first):
			strange = append(strange, fmt.Sprintf("%q", name))
		default:
			left = append(left, name)
		}
	}
	if len(strange) > 0 {
		more := ""
		if n := len(strange) - mostNames; n > 0 {
			strange, more = strange[:mostNames], fmt.Sprintf(" and %d more", n)
		}
		return nil, nil, FolderFault{finding.Finding{Code: "document-unsupported", Place: finding.Place{Expression: "MedicationRequest"},
			Observed: strings.Join(strange, ", ") + more, Expected: "files Type[.PART].ndjson or Type[.PART].ndjson.gz, each named after the R4 type it holds",
			Detail: "the folder holds files that do not follow its layout, and what is in them would not be read",
			Remedy: "Rename the files after the type they hold, or take them out of the folder."}}
	}
	return list, left, nil
}
