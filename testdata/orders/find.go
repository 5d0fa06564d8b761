package orders

import (
	"errors"
	"fmt"
	"strings"
)

// find gives the one resource that the word names, with its place among the
// entries (-1: the Bundle itself). A word is `Bundle`, a fullUrl, Type/id,
// Type/id/_history/version, an identifier value, Type/identifier value; and
// any of these with #id for a resource contained in it.
func find(root *node, word string) (int, *node, error) {
	if word == "Bundle" {
		return -1, root, nil
	}
	word, inner, contained := strings.Cut(word, "#")
	at, found := -1, (*node)(nil)
	for i, e := range root.member("entry").items() {
		r := e.member("resource")
		if !named(e.member("fullUrl").str(), r, word) {
			continue
		}
		if found != nil {
			return 0, nil, fmt.Errorf("%s names more than one resource", word)
		}
		at, found = i, r
	}
	if found == nil {
		return 0, nil, fmt.Errorf("no resource is called %s", word)
	}
	if !contained {
		return at, found, nil
	}
	for _, c := range found.member("contained").items() {
		if c.member("id").str() == inner {
			return -1, c, nil
		}
	}
	return 0, nil, fmt.Errorf("%s contains no #%s", word, inner)
}

func named(fullURL string, r *node, word string) bool {
	if fullURL == word {
		return true
	}
	kind := r.member("resourceType").str()
	if id := r.member("id").str(); id != "" {
		version := r.member("meta").member("versionId").str()
		if word == kind+"/"+id || word == kind+"/"+id+"/_history/"+version {
			return true
		}
	}
	for _, i := range r.member("identifier").items() {
		if v := i.member("value").str(); v != "" && (word == v || word == kind+"/"+v) {
			return true
		}
	}
	return false
}

// addEntry puts a resource at the end of the Bundle under the fullUrl given,
// with what the kind of Bundle asks of an entry (bdl-2, bdl-3).
func addEntry(root *node, fullURL, text string) error {
	r, err := parse([]byte(text))
	if err != nil {
		return fmt.Errorf("the resource: %w", err)
	}
	kind := r.member("resourceType").str()
	if kind == "" || !strings.Contains(fullURL, ":") {
		return errors.New("resource takes a fullUrl and a resource with its type")
	}
	if _, _, err := find(root, fullURL); err == nil {
		return fmt.Errorf("%s is there already", fullURL)
	}
	entry := &node{kind: '{'}
	entry.put("fullUrl", quoted(fullURL))
	entry.put("resource", r)
	switch root.member("type").str() {
	case "transaction", "batch":
		request := &node{kind: '{'}
		request.put("method", quoted("POST"))
		request.put("url", quoted(kind))
		entry.put("request", request)
	case "searchset":
		search := &node{kind: '{'}
		mode := "include"
		if kind == "MedicationRequest" { // a search for orders
			mode = "match"
		}
		search.put("mode", quoted(mode))
		entry.put("search", search)
	}
	return step{"entry", -1}.add(root, entry)
}
