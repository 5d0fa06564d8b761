package arithmetic

import "slices"

// name says whether the best explanation may be put forward alone. Of a drug
// whose row is known the lead decides. Of any other the lead must hold
// without what is customary by mass, for what is little of one drug kills
// with another; two bare statements of one number stay open; and so does what
// would give the patient more, unless nothing else explains it.
func name(found []explanation, list []claim, failed []check, u Usual) bool {
	switch {
	case len(found) == 0:
		return false
	case len(found) == 1:
		return true
	}
	best := found[0]
	lead := best.leadNeeded()
	if len(u.Ranges) > 0 {
		return best.score-found[1].score >= lead
	}
	if !slices.ContainsFunc(failed, func(c check) bool { return !c.isPair() || c.isSum(list) }) {
		return false
	}
	if best.raises(list) {
		return false
	}
	for _, e := range found[1:] {
		if best.score-e.score < lead || best.bare-e.bare < lead {
			return false
		}
	}
	return true
}

// raises: the correction would give more drug, or the same in less time.
func (e explanation) raises(list []claim) bool {
	c := list[e.claims[0]]
	more := c.value().Less(e.nominal)
	switch c.at {
	case duration, interval:
		return !more
	case volume:
		return false
	}
	return more
}
