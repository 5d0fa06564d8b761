package terminal

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// limitNames are the kinds of limit in words.
var limitNames = map[string]string{"record": "beyond-use time on record", "sterility": "sterility category", "stability": "stability as kept", "component": "expiry of components",
	"run": "run within the stability", "in-use": "while it runs", "after": "after its storage", "hang-time": "hang time"}

// use tells what decides until when the units of a delivery may be started
// and by when the first must have run, and for what there are no data. Every
// other limit is in the worksheet.
func use(p *page, w worksheet.Worksheet, u *worksheet.Use) {
	if u == nil {
		return
	}
	kept := strings.Join(slices.DeleteFunc([]string{u.Kind, say(storages, u.Storage), say(running, u.Running)}, func(s string) bool { return s == "" }), ", ")
	switch {
	case u.IfMade:
		kept += "; if made " + w.Moment(u.Made) + ": start before " + cmp.Or(w.Moment(u.StartBefore), "not dated")
	case u.Made != "":
		kept += "; made " + w.Moment(u.Made)
	}
	p.field(4, "units", kept)
	if i := slices.IndexFunc(u.Limits, func(l worksheet.UseLimit) bool { return l.Of == u.Binding }); i >= 0 {
		limit(p, w, "start", u.Limits[i])
	}
	var none []string
	for _, l := range u.Limits {
		if l.Until == "" {
			none = append(none, cmp.Or(limitNames[l.Of], l.Of))
		}
	}
	if len(none) > 0 {
		p.field(4, "no data", strings.Join(none, ", "))
	}
	if i := slices.IndexFunc(u.InUse, func(l worksheet.UseLimit) bool {
		return len(u.Doses) > 0 && l.Until == u.Doses[0].FinishBy && l.Until != ""
	}); i >= 0 {
		limit(p, w, "finish", u.InUse[i])
	}
	for _, says := range u.Says {
		p.field(4, "-", says)
	}
}

// running are the places where a unit runs, in words.
var running = map[string]string{"worn": "runs near the body", "room": "runs at room temperature"}

func word(before, s string) string {
	if s == "" {
		return ""
	}
	return before + s
}

func limit(p *page, w worksheet.Worksheet, label string, l worksheet.UseLimit) {
	text := w.Moment(l.Until) + ", " + cmp.Or(limitNames[l.Of], l.Of)
	if l.Hours != "" {
		text += ", " + notation.Code(l.Hours, "h") + " from " + w.Moment(l.From)
	}
	text += word("; ", l.Says) + " [" + strings.TrimSpace(l.Layer+" "+l.Standing) + "; " + l.Source + "]"
	p.field(4, label, text)
}
