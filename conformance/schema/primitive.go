package schema

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
)

// primitives and the JSON kind each is written as
// (https://hl7.org/fhir/R4/datatypes.html#primitive).
var primitives = map[string]element.Kind{"boolean": element.Bool, "integer": element.Number, "positiveInt": element.Number, "unsignedInt": element.Number,
	"decimal": element.Number, "string": element.String, "uri": element.String, "url": element.String, "canonical": element.String, "code": element.String,
	"oid": element.String, "id": element.String, "markdown": element.String, "uuid": element.String, "base64Binary": element.String, "instant": element.String,
	"date": element.String, "dateTime": element.String, "time": element.String, "xhtml": element.String}

func isPrimitive(typ string) bool {
	base, _, _ := strings.Cut(typ, "(")
	_, ok := primitives[base]
	return ok
}

var kindNames = map[element.Kind]string{element.Bool: "true or false", element.Number: "a number", element.String: "a string", element.Object: "an object", element.Array: "an array", element.Null: "null"}

// patterns of R4, whole strings.
var patterns = map[string]*regexp.Regexp{
	"id":           regexp.MustCompile(`^[A-Za-z0-9\-\.]{1,64}$`),
	"code":         regexp.MustCompile(`^[^\s]+(\s[^\s]+)*$`),
	"oid":          regexp.MustCompile(`^urn:oid:[0-2](\.(0|[1-9][0-9]*))+$`),
	"uuid":         regexp.MustCompile(`^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$`),
	"uri":          regexp.MustCompile(`^\S+$`),
	"url":          regexp.MustCompile(`^\S+$`),
	"canonical":    regexp.MustCompile(`^\S+$`),
	"date":         regexp.MustCompile(`^\d{4}(-\d{2}(-\d{2})?)?$`),
	"dateTime":     regexp.MustCompile(`^\d{4}(-\d{2}(-\d{2}(T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|[+\-]\d{2}:\d{2}))?)?)?$`),
	"instant":      regexp.MustCompile(`^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|[+\-]\d{2}:\d{2})$`),
	"time":         regexp.MustCompile(`^([01]\d|2[0-3]):[0-5]\d:[0-5]\d(\.\d+)?$`),
	"base64Binary": regexp.MustCompile(`^[0-9A-Za-z+/=\s]*$`),
}

var shapes = map[string]string{"id": "1 to 64 letters, digits, - or .", "code": "a code without blanks at its ends", "date": "a date such as 2026-11-10",
	"dateTime": "a date, or a date and time with seconds and zone such as 2026-11-10T14:20:00-05:00", "instant": "a date and time with seconds and zone",
	"time": "a time such as 14:20:00", "uri": "an address without blanks"}

func (w *walker) primitive(v element.Node, typ string, d *definition) {
	want := primitives[typ]
	if v.Kind() != want {
		w.fault("document-structure", v, kindNames[v.Kind()], kindNames[want]+" for type "+typ, "the JSON kind does not fit the type "+typ)
		return
	}
	text := v.Literal()
	switch typ {
	case "integer", "positiveInt", "unsignedInt":
		w.integer(v, typ)
		return
	}
	if p := patterns[typ]; p != nil && !p.MatchString(text) {
		w.fault("document-value", v, fmt.Sprintf("%.60q", text), shapes[typ], "not a valid "+typ)
		return
	}
	switch typ {
	case "date", "dateTime", "instant":
		w.day(v, typ, text)
	case "code":
		if len(d.codes) > 0 && !slices.Contains(d.codes, text) {
			expected := "one of " + strings.Join(d.codes, ", ")
			if len(d.codes) > 20 {
				expected = "a code of the required value set"
			}
			w.fault("document-value", v, fmt.Sprintf("%.60q", text), expected, "a code outside the required set of "+d.name)
		}
	case "xhtml":
		if !strings.HasPrefix(strings.TrimSpace(text), "<div") {
			w.fault("document-value", v, "no div", "a narrative that is one <div> of XHTML", "the narrative is not a div")
		}
	}
}

func (w *walker) integer(v element.Node, typ string) {
	n, err := strconv.ParseInt(v.Literal(), 10, 64)
	least := map[string]int64{"integer": -1 << 31, "positiveInt": 1, "unsignedInt": 0}[typ]
	if err != nil || n < least || n > 1<<31-1 {
		w.fault("document-value", v, fmt.Sprintf("%.40s", v.Literal()), fmt.Sprintf("a whole number from %d to 2147483647", least), "not a valid "+typ)
	}
}

// day refuses days that do not exist, years outside 1900 to 2100, hours from
// 24 on, second 60 and zones beyond 14 hours.
func (w *walker) day(v element.Node, typ, text string) {
	bad := func(expected string) {
		w.fault("document-value", v, fmt.Sprintf("%.60q", text), expected, "not a moment that exists, or outside the years accepted")
	}
	layout := map[int]string{4: "2006", 7: "2006-01", 10: "2006-01-02"}[len(text)]
	if layout == "" {
		layout = time.RFC3339Nano
	}
	t, err := time.Parse(layout, text)
	if err != nil {
		bad(shapes[typ])
		return
	}
	if t.Year() < 1900 || t.Year() > 2100 {
		bad("a year from 1900 to 2100")
		return
	}
	if _, offset := t.Zone(); len(text) > 10 && (offset > 14*3600 || offset < -14*3600) {
		bad("a zone within 14 hours of UTC")
	}
}
