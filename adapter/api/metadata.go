package api

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter/index"
	"weir.example/weir/conformance/profile"
	"weir.example/weir/mapping/element"
)

// metadata is the CapabilityStatement of this server: what works, and nothing
// else (https://hl7.org/fhir/R4/capabilitystatement.html).
func (d *door) metadata(w http.ResponseWriter, r *http.Request) {
	if x := acceptable(r, "mode"); x != nil {
		d.refuse(w, r, *x)
		return
	}
	d.resource(w, r, profile.Capability(d.running()))
}

// running is this server as it is: what has a route is said, and nothing else.
func (d *door) running() profile.Running {
	answers := func(path string) bool { return d.routes.Match(chi.NewRouteContext(), http.MethodPost, path) }
	x := profile.Running{Version: d.Version, Date: profile.Edition, Address: d.Public + "/fhir", Definitions: definitions,
		Write: answers("/fhir/Patient"), Messages: answers("/fhir/$process-message")}
	if d.Store == nil {
		return x
	}
	for _, kind := range index.Types() {
		k := profile.Kind{Type: kind, Searches: []profile.Search{
			{Name: "_id", Type: "token", Definition: "http://hl7.org/fhir/SearchParameter/Resource-id"},
			{Name: "_lastUpdated", Type: "date", Definition: "http://hl7.org/fhir/SearchParameter/Resource-lastUpdated"}}}
		for _, p := range index.Parameters(kind) {
			k.Searches = append(k.Searches, profile.Search{Name: p.Name, Type: p.Kind, Definition: p.Definition})
			if p.Kind == "reference" {
				k.Includes = append(k.Includes, kind+":"+p.Name)
			}
		}
		x.Kinds = append(x.Kinds, k)
	}
	return x
}

// definition reads one of ours at the last part of its address.
func (d *door) definition(kind string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if x := acceptable(r); x != nil {
			d.refuse(w, r, *x)
			return
		}
		one, ok := d.own[kind+"/"+chi.URLParam(r, "id")]
		if !ok {
			d.refuse(w, r, refusal{status: http.StatusNotFound, issue: "not-found", code: "resource-unknown", what: "there is no such definition", todo: "Client: search by url."})
			return
		}
		d.resource(w, r, one.Value())
	}
}

// findDefinition searches ours by url, the one parameter there is.
func (d *door) findDefinition(kind string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if x := acceptable(r, "url"); x != nil {
			d.refuse(w, r, *x)
			return
		}
		url := r.URL.Query().Get("url")
		var entries []element.Value
		for _, one := range profile.Resources(d.Version) {
			if one.Kind == kind && (url == "" || one.URL() == url) {
				entries = append(entries, element.Obj(element.F("fullUrl", element.Str(one.URL())), element.F("resource", one.Value()),
					element.F("search", element.Obj(element.F("mode", element.Str("match"))))))
			}
		}
		self := d.Public + "/fhir/" + kind
		if url != "" {
			self += "?url=" + url
		}
		d.resource(w, r, element.Obj(element.F("resourceType", element.Str("Bundle")), element.F("type", element.Str("searchset")), element.F("total", element.Int(len(entries))),
			element.F("link", element.List(element.Obj(element.F("relation", element.Str("self")), element.F("url", element.Str(self))))), element.F("entry", element.List(entries...))))
	}
}
