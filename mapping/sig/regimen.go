package sig

import (
	"cmp"
	"strings"
)

// regimens: a further sentence with a dose and a pace of its own that differ
// from the first, and with a word that says it is another ("5 mg/kg q12h x 3
// wk; maintenance 5 mg/kg q24h"), is another step, as after "then". Without
// such a word both are stated, so that the contradiction shows.
func (r *reader) regimens() {
	first, start := "", 0
	for start < len(r.items) {
		end := start
		for end < len(r.items) && !r.endsSentence(end) {
			end++
		}
		if said := r.regimen(start, end); said != "" {
			switch {
			case first == "":
				first = said
			case said != first && r.another(start) && r.items[start].phase == r.items[max(0, start-1)].phase:
				for k := start; k < len(r.items); k++ {
					r.items[k].phase++
				}
				r.phase++
				return
			}
		}
		start = end + 1
	}
}

// another: the sentence begins with "maintenance" or a word that is not known
// and no drug's name.
func (r *reader) another(start int) bool {
	if strings.HasPrefix(lower(r.text(start, start+1)), "maintenance") {
		return true
	}
	end := start
	for end < len(r.items) && r.items[end].kind == unknown {
		end++
	}
	return end > start && r.item(end).kind != amount
}

// regimen is the dose and the pace of the items from…to, "" unless both are
// said outside every scope.
func (r *reader) regimen(from, to int) string {
	dose, pace := "", ""
	for k := from; k < to; k++ {
		x := r.items[k]
		switch {
		case x.scope != "":
		case x.kind == amount && isDrug(r.whole(x)) && timePart(x.code) == "":
			dose = cmp.Or(dose, x.low+" "+x.high+" "+x.code)
		case x.class == "interval" || x.class == "perDay":
			pace = cmp.Or(pace, x.class+" "+x.meaning)
		case r.isTime(k) && r.item(r.leadAt(k)).is("every"):
			pace = cmp.Or(pace, x.low+" "+x.high+" "+x.code)
		}
	}
	if dose == "" || pace == "" {
		return ""
	}
	return dose + ", " + pace
}

// between: the clock times on both sides of a hyphen or "to" are the ends of
// a span, and one after "disconnect" is an end; neither is a time of a dose.
func (r *reader) between(i int) bool {
	joins := func(k int) bool { return r.item(k).is("-", "–", "to") }
	return joins(i+1) && r.item(i+2).kind == clock || joins(i-1) && r.item(i-2).kind == clock || r.item(r.leadAt(i)).is("off") ||
		r.item(r.leadAt(i)).is("at") && r.item(r.leadAt(i)-1).is("off")
}
