package schema

import (
	"strings"

	"weir.example/weir/mapping/element"
)

// link is one reference from a thing to another, by name.
type link struct {
	from, to string
	at       element.Node
}

// refuseLoops refuses every reference that closes a loop. Each link is
// followed once.
func (w *walker) refuseLoops(links []link, observed, expected, detail, remedy string) {
	if len(links) == 0 {
		return
	}
	out := map[string][]link{}
	for _, l := range links {
		out[l.from] = append(out[l.from], l)
	}
	const open, done = 1, 2
	state := map[string]int{}
	var follow func(string)
	follow = func(name string) {
		state[name] = open
		for _, l := range out[name] {
			switch state[l.to] {
			case open:
				w.refuse(l.at, observed, expected, remedy, detail)
			case 0:
				follow(l.to)
			}
		}
		state[name] = done
	}
	for _, l := range links {
		if state[l.from] == 0 {
			follow(l.from)
		}
	}
}

// follows notes which order an order comes after, by the names other orders
// of the document can use for it.
func (w *walker) follows(n element.Node) {
	if len(w.scope) < 2 || w.scope[len(w.scope)-1].contained {
		return
	}
	entry := n.Parent()
	self := entry.Get("fullUrl").Text()
	if self == "" {
		self = "MedicationRequest/" + n.Get("id").Text()
	}
	for _, at := range append(n.Get("priorPrescription").Each(), n.Get("basedOn").Each()...) {
		ref := at.Get("reference")
		to, _, _ := strings.Cut(ref.Text(), "/_history/")
		if base, ok := strings.CutSuffix(self, "MedicationRequest/"+n.Get("id").Text()); ok && strings.HasPrefix(to, "MedicationRequest/") {
			to = base + to
		}
		if to != "" {
			w.loops = append(w.loops, link{self, to, ref})
		}
	}
}
