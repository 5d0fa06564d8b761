package schema

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
)

// bundles are the constraints of https://hl7.org/fhir/R4/bundle.html on the
// whole Bundle; those on one entry stand in byType. An entry that breaks one
// is named; the first of several stands for all, since they break it alike.
var bundles = []invariant{
	{"bdl-1", "a total only in a searchset or history", outside("total", "searchset", "history")},
	{"bdl-2", "entry.search only in a searchset", entryOutside("search", "searchset")},
	{"bdl-3", "a request in every entry of a batch, transaction or history, and in no other Bundle", paired("request", "batch", "transaction", "history")},
	{"bdl-4", "a response in every entry of a response or history, and in no other Bundle", paired("response", "batch-response", "transaction-response", "history")},
	{"bdl-7", "each fullUrl once, or with different versions", repeatedURL},
	{"bdl-9", "an identifier with system and value in a document", documentIdentifier},
	{"bdl-10", "a timestamp in a document", documentTime},
	{"bdl-11", "a Composition as first resource of a document", first("document", "Composition")},
	{"bdl-12", "a MessageHeader as first resource of a message", first("message", "MessageHeader")},
}

// bundleType is "" when it is missing or no Bundle type: that is a fault of
// its own, and nothing can be said of what the type would ask for.
func bundleType(n element.Node) string {
	types := r4().kinds["Bundle"]().top.byName["type"].def.codes
	if t := n.Get("type").Text(); slices.Contains(types, t) {
		return t
	}
	return ""
}

func outside(name string, types ...string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if t := bundleType(n); t == "" || slices.Contains(types, t) {
			return element.Node{}
		}
		return n.Get(name)
	}
}

func entryOutside(name string, types ...string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if t := bundleType(n); t == "" || slices.Contains(types, t) {
			return element.Node{}
		}
		for _, e := range n.Get("entry").Each() {
			if at := e.Get(name); at.Exists() {
				return at
			}
		}
		return element.Node{}
	}
}

func paired(name string, types ...string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		t := bundleType(n)
		if t == "" {
			return element.Node{}
		}
		wanted := slices.Contains(types, t)
		for _, e := range n.Get("entry").Each() {
			switch at := e.Get(name); {
			case at.Exists() && !wanted:
				return at
			case !at.Exists() && wanted:
				return e
			}
		}
		return element.Node{}
	}
}

func repeatedURL(n element.Node) element.Node {
	if bundleType(n) == "history" {
		return element.Node{}
	}
	entries := n.Get("entry").Each()
	seen := make(map[[2]string]bool, len(entries))
	for _, e := range entries {
		url := e.Get("fullUrl")
		if !url.Exists() {
			continue
		}
		key := [2]string{url.Text(), e.Get("resource").Get("meta").Get("versionId").Text()}
		if seen[key] {
			return url
		}
		seen[key] = true
	}
	return element.Node{}
}

func versionedURL(n element.Node) element.Node {
	if url := n.Get("fullUrl"); strings.Contains(url.Text(), "/_history/") {
		return url
	}
	return element.Node{}
}

func documentIdentifier(n element.Node) element.Node {
	id := n.Get("identifier")
	if bundleType(n) == "document" && !(stands(id, "system") && stands(id, "value")) {
		return n
	}
	return element.Node{}
}

func documentTime(n element.Node) element.Node {
	if bundleType(n) == "document" && !n.Get("timestamp").Exists() {
		return n
	}
	return element.Node{}
}

func first(bundle, resource string) func(element.Node) element.Node {
	return func(n element.Node) element.Node {
		if bundleType(n) != bundle {
			return element.Node{}
		}
		switch e := n.Get("entry").At(0); {
		case !e.Exists():
			return n
		case e.Get("resource").Get("resourceType").Text() != resource:
			return e
		}
		return element.Node{}
	}
}
