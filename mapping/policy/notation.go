package policy

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// parse reads one document, nil for a file without any.
func parse(data []byte) (*yaml.Node, Faults) {
	var first, second yaml.Node
	d := yaml.NewDecoder(bytes.NewReader(data))
	switch err := d.Decode(&first); {
	case errors.Is(err, io.EOF):
		return nil, nil
	case err != nil:
		return nil, Faults{unreadable(err, data)}
	}
	switch err := d.Decode(&second); {
	case errors.Is(err, io.EOF):
		return &first, nil
	case err != nil:
		return &first, Faults{unreadable(err, data)}
	}
	return &first, Faults{{Line: max(1, second.Line), Column: max(1, second.Column), Problem: "a second document begins here and would not be read", Expected: "one document"}}
}

var atLine = regexp.MustCompile(`^(?:yaml: )?(?:line (\d+): )?(?s:(.*))$`)

// mostTried bounds the search of unreadable, in lines.
const mostTried = 1000

// unreadable is a fault of the notation itself. The library tells the line
// where a section began, or none, so the line is looked for: it is the one
// behind the longest beginning of the file that can be read.
func unreadable(err error, data []byte) Fault {
	m := atLine.FindStringSubmatch(err.Error())
	lines := strings.SplitAfter(string(data), "\n")
	at, _ := strconv.Atoi(m[1])
	at = min(max(1, at), len(lines))
	if len(lines) <= mostTried {
		for n := len(lines) - 1; n >= 0; n-- {
			if readable(strings.Join(lines[:n], "")) {
				at = n + 1
				break
			}
		}
	}
	text := lines[at-1]
	return Fault{Line: at, Column: 1 + len(text) - len(strings.TrimLeft(text, " ")), Problem: "cannot be read as YAML: " + m[2], Expected: "a key, a colon and a value, keys of one section below each other, as in the default file"}
}

func readable(text string) bool {
	d := yaml.NewDecoder(strings.NewReader(text))
	for {
		var n yaml.Node
		if err := d.Decode(&n); err != nil {
			return errors.Is(err, io.EOF)
		}
	}
}
