package r4

import (
	"bytes"
	"cmp"
	"slices"
)

// Part is the members of a set that must be read together: a patient's
// resources and what they lead to. Patients are in one part when anything
// could make one of them count for the other: an identifier, a link, a
// reference from one's resource to the other's.
type Part struct {
	Members []int // sorted by type, id and content, never by where they stood
	Lost    []int // members of the patient that could not be read
}

// LeftOver counts members that no order leads to.
type LeftOver struct {
	Type, Reason string
	Count        int
}

// mostWitnessed bounds to how many parts one Provenance is given, so that one
// that names every patient is not read with each of them.
const mostWitnessed = 100

type grouping struct {
	members []Member
	out     []bool             // not read: older, or the same again
	byKey   map[string][]int32 // what can be pointed at
	parent  []int32            // union-find
	reason  []string
}

// Group sorts a set into the parts that hold an order, in an order of their
// content, and counts what no part needs. Of several versions of a resource
// the one with the greatest meta.lastUpdated is read; when nothing says which
// is newer all are, and the disagreement is found in reading.
func Group(members []Member) ([]Part, []LeftOver) {
	g := &grouping{members: members, out: make([]bool, len(members)), byKey: map[string][]int32{},
		parent: make([]int32, len(members)), reason: make([]string, len(members))}
	for i := range g.parent {
		g.parent[i] = int32(i)
	}
	g.index()
	g.unite()
	return g.parts()
}

func (g *grouping) compare(i, j int32) int {
	a, b := &g.members[i], &g.members[j]
	return cmp.Or(cmp.Compare(a.Type, b.Type), cmp.Compare(a.ID, b.ID), bytes.Compare(a.Sum[:], b.Sum[:]))
}

// index drops what is not read and makes the rest findable.
func (g *grouping) index() {
	for i := range g.members {
		if m := &g.members[i]; !m.Failed && m.ID != "" {
			key := byPlace + m.Type + "/" + m.ID
			g.byKey[key] = append(g.byKey[key], int32(i))
		}
	}
	for key, list := range g.byKey {
		if len(list) > 1 {
			g.byKey[key] = g.newest(list)
		}
	}
	asked := map[string]bool{}
	for i := range g.members {
		for _, p := range g.members[i].points {
			if p[:2] == byIdentifier {
				asked[p] = true
			}
		}
	}
	for i := range g.members {
		if m := &g.members[i]; !m.Failed && !g.out[i] {
			for _, key := range m.carries {
				if asked[key] {
					g.byKey[key] = append(g.byKey[key], int32(i))
				}
			}
		}
	}
}

// newest keeps of one resource's versions those that may stand.
func (g *grouping) newest(list []int32) []int32 {
	slices.SortFunc(list, func(i, j int32) int {
		return cmp.Or(g.members[j].Updated.Compare(g.members[i].Updated), g.compare(i, j), cmp.Compare(i, j))
	})
	keep := list[:1:1]
	for _, i := range list[1:] {
		last := keep[len(keep)-1]
		switch {
		case g.members[i].Updated.Before(g.members[list[0]].Updated):
			g.out[i], g.reason[i] = true, "a newer version of it is in the folder"
		case g.members[i].Sum == g.members[last].Sum:
			g.out[i], g.reason[i] = true, "the same line stands twice"
		default:
			keep = append(keep, i)
		}
	}
	return keep
}

func (g *grouping) find(i int32) int32 {
	for g.parent[i] != i {
		g.parent[i] = g.parent[g.parent[i]]
		i = g.parent[i]
	}
	return i
}

func (g *grouping) join(i, j int32) {
	if a, b := g.find(i), g.find(j); a != b {
		g.parent[max(a, b)] = min(a, b)
	}
}

// unite joins the resources of one patient, and patients whose resources
// refer to each other's.
func (g *grouping) unite() {
	copies := map[string]bool{} // names of contained patients
	for i := range g.members {
		for _, t := range g.members[i].ties {
			if t[:2] == byName {
				copies[t] = true
			}
		}
	}
	first := map[string]int32{}
	tie := func(key string, i int32) {
		if j, known := first[key]; known {
			g.join(i, j)
		} else {
			first[key] = i
		}
	}
	for i := range g.members {
		m := &g.members[i]
		if !m.owned || g.out[i] {
			continue
		}
		if m.ID != "" {
			tie(byPlace+m.Type+"/"+m.ID, int32(i))
		}
		if name := byName + m.name; m.Type == "Patient" && copies[name] {
			tie(name, int32(i))
		}
		for _, t := range m.ties {
			tie(t, int32(i))
		}
	}
	for i := range g.members {
		if m := &g.members[i]; m.owned && !g.out[i] && !m.Failed {
			for _, j := range g.targets(m) {
				if g.members[j].owned {
					g.join(int32(i), j)
				}
			}
		}
	}
}

func (g *grouping) targets(m *Member) []int32 {
	var out []int32
	for _, p := range m.points {
		out = append(out, g.byKey[p]...)
	}
	return out
}

// parts collects the groups that hold an order.
func (g *grouping) parts() ([]Part, []LeftOver) {
	at := map[int32]int{} // root to place in groups
	var groups [][]int32
	for i := range g.members {
		if m := &g.members[i]; m.Type == "MedicationRequest" && !m.Failed && !g.out[i] {
			if _, known := at[g.find(int32(i))]; !known {
				at[g.find(int32(i))] = len(groups)
				groups = append(groups, nil)
			}
		}
	}
	for i := range g.members {
		m := &g.members[i]
		if g.out[i] {
			continue
		}
		if k, known := at[g.find(int32(i))]; known && m.owned {
			groups[k] = append(groups[k], int32(i))
		}
		if m.Type == "Provenance" && !m.owned && !m.Failed {
			g.witness(int32(i), at, groups)
		}
	}
	seen := make([]int32, len(g.members)) // the part, from 1, that last took the member
	used := make([]bool, len(g.members))
	parts := make([]Part, len(groups))
	for k, list := range groups {
		parts[k] = g.part(list, int32(k+1), seen, used)
	}
	slices.SortFunc(parts, func(a, b Part) int { return g.compare(g.order(a), g.order(b)) })
	return parts, g.left(used)
}

// witness gives a Provenance to the groups whose resources it names.
func (g *grouping) witness(i int32, at map[int32]int, groups [][]int32) {
	named := map[int]bool{}
	for _, j := range g.targets(&g.members[i]) {
		if k, known := at[g.find(j)]; known && g.members[j].owned {
			named[k] = true
		}
	}
	if len(named) > mostWitnessed {
		g.reason[i] = "it names more than 100 patients"
		return
	}
	for k := range named {
		groups[k] = append(groups[k], i)
	}
}

// part follows references from a group's resources to those that are nobody's.
func (g *grouping) part(list []int32, stamp int32, seen []int32, used []bool) Part {
	var p Part
	var keep []int32
	for _, i := range list {
		seen[i] = stamp
	}
	for next := 0; next < len(list); next++ {
		i := list[next]
		used[i] = true
		if g.members[i].Failed {
			p.Lost = append(p.Lost, int(i))
			continue
		}
		keep = append(keep, i)
		for _, j := range g.targets(&g.members[i]) {
			if seen[j] != stamp && !g.members[j].owned {
				seen[j] = stamp
				list = append(list, j)
			}
		}
	}
	slices.SortFunc(keep, func(i, j int32) int { return cmp.Or(g.compare(i, j), cmp.Compare(i, j)) })
	for _, i := range keep {
		p.Members = append(p.Members, int(i))
	}
	return p
}

// order is the part's first MedicationRequest.
func (g *grouping) order(p Part) int32 {
	for _, i := range p.Members {
		if g.members[i].Type == "MedicationRequest" {
			return int32(i)
		}
	}
	return 0
}

// left counts what no part took.
func (g *grouping) left(used []bool) []LeftOver {
	type key struct{ kind, reason string }
	counts := map[key]int{}
	for i := range g.members {
		m := &g.members[i]
		if used[i] || m.Failed {
			continue
		}
		reason := g.reason[i]
		switch {
		case reason != "":
		case m.owned:
			reason = "it belongs to a patient without an order in the folder"
		default:
			reason = reasonFor(&resource{kind: m.Type})
		}
		counts[key{m.Type, reason}]++
	}
	var out []LeftOver
	for k, n := range counts {
		out = append(out, LeftOver{k.kind, k.reason, n})
	}
	slices.SortFunc(out, func(a, b LeftOver) int { return cmp.Or(cmp.Compare(a.Type, b.Type), cmp.Compare(a.Reason, b.Reason)) })
	return out
}
