package api

import (
	"net/http"

	"github.com/go-chi/chi/v5"

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
	d.resource(w, r, profile.Capability(profile.Running{Version: d.Version, Date: profile.Edition, Address: d.Public + "/fhir", Definitions: definitions}))
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
