package orders

import (
	"bytes"
	"fmt"
	"strings"

	"github.com/go-json-experiment/json/jsontext"
)

// Line is the document in one line, as a line of NDJSON, without its end.
func (f Fixture) Line() []byte {
	n, err := parse(f.Document)
	if err != nil {
		panic(err) // the fixture's own document
	}
	return n.line()
}

func (n *node) line() []byte {
	var out bytes.Buffer
	if err := n.write(jsontext.NewEncoder(&out, jsontext.PreserveRawStrings(true))); err != nil {
		panic(err)
	}
	return bytes.TrimSpace(out.Bytes())
}

// Resource is one resource of a document as a line of a Bulk Data folder.
type Resource struct {
	Type string
	Line []byte
}

// Resources gives the resources of the document as a Bulk Data export has
// them: each with an id, and references as Type/id. Ids begin with the prefix,
// so that several documents can stand in one folder.
func (f Fixture) Resources(prefix string) []Resource {
	root, err := parse(f.Document)
	if err != nil {
		panic(err)
	}
	var list []*node
	at := map[string]string{} // fullUrl or Type/id to the new Type/id
	for _, e := range root.member("entry").items() {
		r := e.member("resource")
		if r == nil {
			continue
		}
		url, kind := e.member("fullUrl").str(), r.member("resourceType").str()
		id := r.member("id").str()
		if id == "" {
			id = strings.TrimPrefix(url, "urn:uuid:")
			r.put("id", nil)
		}
		r.set("id", quoted(prefix+id))
		at[url], at[kind+"/"+id] = kind+"/"+prefix+id, kind+"/"+prefix+id
		list = append(list, r)
	}
	var out []Resource
	for _, r := range list {
		r.refer(at)
		out = append(out, Resource{r.member("resourceType").str(), r.line()})
	}
	return out
}

func (n *node) set(name string, v *node) {
	for i, m := range n.names {
		if m == name {
			n.values[i] = v
		}
	}
}

// refer rewrites every literal reference to a resource of the document.
func (n *node) refer(at map[string]string) {
	for i, v := range n.values {
		if n.kind == '{' && n.names[i] == "reference" && v.kind == '"' {
			plain, version, versioned := strings.Cut(v.str(), "/_history/")
			if to, known := at[plain]; known {
				if versioned {
					to += "/_history/" + version
				}
				n.values[i] = quoted(to)
			}
			continue
		}
		v.refer(at)
	}
}

// BundleOf is a collection of such resources, without fullUrls.
func BundleOf(list []Resource) []byte {
	var b bytes.Buffer
	b.WriteString(`{"resourceType":"Bundle","type":"collection","entry":[`)
	for i, r := range list {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `{"resource":%s}`, r.Line)
	}
	b.WriteString("]}")
	return b.Bytes()
}
