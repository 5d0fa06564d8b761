package api_test

import (
	"encoding/json"
	"net/url"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/conformance/profile"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4/googlefhir"
)

// A walk over what the CapabilityStatement of a server with a store says:
// every interaction of every type, every search parameter and every include
// is called. What a stored resource is found by really finds it.
func TestMetadataOfAServerWithAStoreSaysWhatWorks(t *testing.T) {
	s := stocked(t)
	require.Equal(t, 200, ask(t, s, "POST", "/fhir", transaction(t, s1, "POST")).Code)
	sent := map[string]bool{}           // types that came in, or were made of it
	have := map[string][]element.Node{} // by type
	for _, kind := range index.Types() {
		if kind == "AuditEvent" {
			continue
		}
		if sent[kind] = len(s.found(t, "/fhir/"+kind+"?_count=1")) > 0; !sent[kind] {
			s.put(t, `{"resourceType":"`+kind+`","id":"only-`+strings.ToLower(kind)+`"}`, 1)
		}
		slice, err := s.store.Search(t.Context(), adapter.Query{Type: kind}, adapter.Page{Limit: 100})
		require.NoError(t, err)
		for _, r := range slice.Resources {
			doc, faults := element.Read(r.JSON, element.Limit{})
			require.Empty(t, faults)
			have[kind] = append(have[kind], doc.Root())
		}
	}
	rows := s.found(t, "/fhir/AuditEvent?_count=1")
	root := fhir(t, s.ask(t, "/fhir/metadata"), "CapabilityStatement")
	calls, finds, writes := 0, 0, 0
	var later []func() // writing changes what is found
	for _, resource := range root.Get("rest").At(0).Get("resource").Each() {
		kind := resource.Get("type").Text()
		if slices.Contains([]string{"CodeSystem", "MessageDefinition", "OperationDefinition", "SearchParameter", "StructureDefinition", "ValueSet"}, kind) {
			continue // TestMetadataSaysWhatWorks
		}
		id := rows[0]
		if kind != "AuditEvent" {
			id = have[kind][0].Get("id").Text()
		}
		for _, i := range resource.Get("interaction").Each() {
			calls++
			switch code := i.Get("code").Text(); code {
			case "read":
				s.ask(t, "/fhir/"+kind+"/"+id)
			case "vread":
				s.ask(t, "/fhir/"+kind+"/"+id+"/_history/1")
			case "history-instance":
				s.ask(t, "/fhir/"+kind+"/"+id+"/_history")
			case "search-type":
				assert.Contains(t, s.found(t, "/fhir/"+kind+"?_id="+id), id)
				assert.Equal(t, 200, s.form(t, kind, "_id="+id).Code)
			case "create", "update":
				assert.True(t, profile.Written(kind), kind)
				if !sent[kind] {
					continue // nothing valid to send
				}
				if code == "create" {
					later = append(later, func() {
						sample := without(t, s.ask(t, "/fhir/"+kind+"/"+id).Body.Bytes(), "id", "meta")
						w := ask(t, s, "POST", "/fhir/"+kind, sample, "Prefer", "return=representation")
						if assert.Less(t, w.Code, 300, "%s %s", kind, w.Body.String()) {
							made := fhir(t, w, kind)
							w = ask(t, s, "PUT", "/fhir/"+kind+"/"+made.Get("id").Text(), w.Body.Bytes(), "If-Match", w.Header().Get("ETag"))
							assert.Equal(t, 200, w.Code, "%s %s", kind, w.Body.String())
							writes++
						}
					})
				}
			default:
				t.Errorf("%s %s is not walked", kind, code)
			}
		}
		for _, p := range resource.Get("searchParam").Each() {
			calls++
			name, form := p.Get("name").Text(), p.Get("type").Text()
			value := map[string]string{"token": "x", "reference": "Task/x", "date": "2026-11-10", "string": "x"}[form]
			if one, ok := first(index.Parameters(kind), name); ok && form == "reference" && len(one.Targets) > 0 {
				value = one.Targets[0] + "/x"
				if one.Only != "" {
					value = one.Only + "/x"
				}
			}
			s.ask(t, address(kind, name, value))
			for _, n := range have[kind] {
				if v, ok := valueOf(n, name, form); ok {
					finds++
					assert.Contains(t, s.found(t, address(kind, name, v)), n.Get("id").Text(), "%s by %s", kind, name)
					break
				}
			}
		}
		for _, i := range resource.Get("searchInclude").Each() {
			calls++
			s.ask(t, "/fhir/"+kind+"?_count=3&_include="+i.Text())
		}
		for _, i := range resource.Get("searchRevInclude").Each() {
			calls++
			s.ask(t, "/fhir/"+kind+"?_count=3&_revinclude="+i.Text())
		}
	}
	assert.NotEmpty(t, s.found(t, "/fhir/Provenance?patient="+have["Patient"][0].Get("id").Text()), "though no Patient is its target")
	for _, f := range later {
		f()
	}
	t.Logf("%d calls, %d parameters that found a resource, %d types written", calls, finds, writes)
	assert.Greater(t, calls, 400)
	assert.Greater(t, finds, 100)
	assert.Greater(t, writes, 15)
}

// without takes members out of a resource.
func without(t testing.TB, data []byte, names ...string) []byte {
	var all map[string]any
	require.NoError(t, json.Unmarshal(data, &all))
	for _, name := range names {
		delete(all, name)
	}
	return encode(t, all)
}

func first(list []index.Parameter, name string) (index.Parameter, bool) {
	i := slices.IndexFunc(list, func(p index.Parameter) bool { return p.Name == name })
	if i < 0 {
		return index.Parameter{}, false
	}
	return list[i], true
}

// valueOf is a value that a resource is found by, as a client would send it.
func valueOf(n element.Node, name, form string) (string, bool) {
	ids, values := index.Of(n)
	if name == "identifier" && len(ids) > 0 {
		return escaped(ids[0].System) + "|" + escaped(ids[0].Value), true
	}
	for _, v := range values {
		switch {
		case v.Name != name:
		case form == "date" && !v.Low.Equal(adapter.Earliest):
			return "ge" + v.Low.Format("2006-01-02T15:04:05Z"), true
		case form == "token" && v.Text != "" && v.System != "":
			return escaped(v.System) + "|" + escaped(v.Text), true
		case form != "date" && v.Text != "":
			return escaped(v.Text), true
		}
	}
	return "", false
}

func escaped(s string) string {
	return strings.NewReplacer(`\`, `\\`, `,`, `\,`, `|`, `\|`, `$`, `\$`).Replace(s)
}

// What a whole server is to offer (kind requirements) is offered by a running
// one, but for writing when there is no way to write.
func TestARunningServerOffersWhatAWholeOneIsTo(t *testing.T) {
	s := stocked(t)
	running := fhir(t, s.ask(t, "/fhir/metadata"), "CapabilityStatement")
	writes := running.Get("rest").At(0).Get("interaction").Exists()
	var whole element.Node
	for _, r := range profile.Resources("0.0.0") {
		if r.Kind == "CapabilityStatement" {
			doc, faults := element.Read(r.JSON(), element.Limit{})
			require.Empty(t, faults)
			whole = doc.Root()
		}
	}
	offered := map[string]bool{}
	list := func(n element.Node, visit func(string)) {
		for _, r := range n.Get("rest").At(0).Get("resource").Each() {
			kind := r.Get("type").Text()
			for _, p := range r.Get("searchParam").Each() {
				visit(kind + " " + p.Get("name").Text() + " " + p.Get("type").Text() + " " + p.Get("definition").Text())
			}
			for _, name := range []string{"interaction", "operation"} {
				for _, i := range r.Get(name).Each() {
					visit(kind + " " + i.Get("code").Text() + i.Get("name").Text())
				}
			}
			for _, name := range []string{"searchInclude", "searchRevInclude"} {
				for _, i := range r.Get(name).Each() {
					visit(kind + " " + i.Text())
				}
			}
		}
	}
	list(running, func(what string) { offered[what] = true })
	n := 0
	list(whole, func(what string) {
		n++
		if _, i, _ := strings.Cut(what, " "); writes || i != "create" && i != "update" {
			assert.True(t, offered[what], what)
		}
	})
	assert.Greater(t, n, 80)
}

// Both states of writing are statements that R4 accepts.
func TestBothStatesOfWritingAreStatements(t *testing.T) {
	for _, write := range []bool{false, true} {
		x := profile.Running{Version: "0", Date: profile.Edition, Address: "http://127.0.0.1/fhir", Write: write, Messages: write,
			Kinds: []profile.Kind{{Type: "AuditEvent"}, {Type: "MedicationRequest"}}}
		text := element.Encode(profile.Capability(x))
		doc, faults := element.Read(text, element.Limit{})
		require.Empty(t, faults)
		assert.Empty(t, schema.Check(doc, googlefhir.Judge))
		var got struct {
			Rest []struct {
				Resource []struct {
					Type                                 string
					ConditionalCreate, ConditionalUpdate bool
					Interaction                          []struct{ Code string }
				}
				Interaction, Operation []struct{ Code, Name string }
			}
			Messaging []any
		}
		require.NoError(t, json.Unmarshal(text, &got))
		for _, r := range got.Rest[0].Resource {
			assert.Equal(t, write && r.Type == "MedicationRequest", r.ConditionalCreate)
			assert.Equal(t, r.ConditionalCreate, r.ConditionalUpdate)
			assert.Len(t, r.Interaction, map[bool]int{false: 4, true: 6}[r.ConditionalCreate])
		}
		assert.Len(t, got.Rest[0].Interaction, map[bool]int{true: 2}[write])
		assert.Len(t, got.Rest[0].Operation, map[bool]int{true: 1}[write])
		assert.Len(t, got.Messaging, map[bool]int{true: 1}[write])
	}
	assert.True(t, profile.Written("Patient"))
	for _, kind := range []string{"AuditEvent", "DetectedIssue", "Bundle", "Location", ""} {
		assert.False(t, profile.Written(kind), kind)
	}
}

// Our own search parameters are read at their addresses.
func TestOurSearchParametersAreRead(t *testing.T) {
	s := stocked(t)
	for _, kind := range index.Types() {
		for _, p := range index.Parameters(kind) {
			last, ours := strings.CutPrefix(p.Definition, "https://weir.example/fhir/SearchParameter/")
			if !ours {
				continue
			}
			root := fhir(t, s.ask(t, "/fhir/SearchParameter/"+last), "SearchParameter")
			assert.Equal(t, p.Name, root.Get("code").Text())
			found := bundleOf(t, s.ask(t, "/fhir/SearchParameter?url="+url.QueryEscape(p.Definition)))
			assert.Len(t, found.Entry, 1)
		}
	}
}
