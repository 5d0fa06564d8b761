package r4

// Keys are the texts by which Group knows a resource, for a caller who has
// more resources than memory and joins them on disk. Each begins with what it
// is: "r:" a place, Type/id or what a reference says; "i:" an identifier as
// system|value; "n:" a patient's folded name; "d:" a display.
//
// Members with a Tie in common are one patient's, and so are those whose own
// place, "r:" with Type/id, is one of them. An owned member is the same
// patient's as every owned one whose place, or one of whose Carries, is among
// its Points. Name, of a Patient, is a Tie when another member has it as one.
type Keys struct {
	Ties, Points, Carries []string
	Name                  string // "" when there is none
}

// Keys of the member, its own place apart.
func (m Member) Keys() Keys {
	k := Keys{Ties: m.ties, Points: m.points, Carries: m.carries}
	if m.name != "" {
		k.Name = byName + m.name
	}
	return k
}
