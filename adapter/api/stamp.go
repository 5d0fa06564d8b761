package api

import (
	"strconv"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
)

// stamp is a stored resource as it is served: with our version and time.
func stamp(r adapter.Resource) element.Value {
	doc, _ := element.ReadLine(r.JSON, element.Limit{}, 1)
	meta := element.Obj(element.F("versionId", element.Str(strconv.FormatInt(r.Version, 10))),
		element.F("lastUpdated", element.Str(r.Updated.UTC().Format("2006-01-02T15:04:05.000000Z07:00"))))
	for _, m := range doc.Root().Get("meta").Members() {
		if m.Name() != "versionId" && m.Name() != "lastUpdated" {
			meta = meta.With(element.F(m.Name(), element.RawNode(m)))
		}
	}
	return element.Edit(element.RawNode(doc.Root()), element.F("meta", meta))
}
