package sig

// countMeaning reads a number without a unit.
func (r *reader) countMeaning(i int, lead string) (field, role, unit string) {
	n := r.next(i)
	noun := r.item(i + 1)
	if noun.class != "noun" && noun.is("divided") {
		noun = r.item(i + 2)
	}
	per := r.item(n)
	switch {
	case r.ofCycle(i):
		return "cycle", r.cycleRole(i), ""
	case lead == "dispense":
		if len(r.items[i].low) > 3 || r.item(r.leadAt(i)-1).kind == unknown { // "Rx #4471203" is a number of a document
			return "", "", ""
		}
		if noun.class == "noun" {
			return "orderedQuantity", "", noun.meaning
		}
		return "orderedQuantity", "", "{dose}"
	case lead == "maximum" && per.class == "per":
		r.items[n].used = true
		return "maximum", "maximum", "/" + per.meaning
	case noun.class == "noun" && noun.meaning == "{cycle}":
		return "cycle", "count", ""
	case noun.class == "noun" && noun.meaning == "{dose}":
		r.items[i+1].used = true
		if r.item(n+1).is("every") || r.item(n+1).class == "interval" { // "1 dose every 2 weeks" counts no doses
			return "frequency", "doses", "{dose}"
		}
		if lead == "maximum" && r.item(i+2).is("/") {
			return "", "", ""
		}
		if lead == "maximum" {
			return "maximum", "maximum", "{dose}" + r.perAfter(i+1)
		}
		return "doseCount", r.countRole(i), "{dose}"
	case noun.class == "noun":
		if lead == "for" || lead == "maximum" {
			return "", "", noun.meaning
		}
		r.items[i+1].used = true
		return "dose", "", noun.meaning
	case lead == "for" && r.items[i].low == "1" && !r.items[i].isRange():
		return "doseCount", r.countRole(i), "{dose}"
	}
	return "", "", ""
}

// perAfter is "/d" when "per day" follows.
func (r *reader) perAfter(i int) string {
	if n := r.next(i); r.item(n).class == "per" {
		r.items[n].used = true
		return "/" + r.items[n].meaning
	}
	return ""
}

// countRole: a count right after a loading dose is that dose's.
func (r *reader) countRole(i int) string {
	for k := i - 1; k >= 0 && k >= i-2*reach && r.items[k].phase == r.items[i].phase && !r.endsSentence(k); k-- {
		if role, read := r.roles[k]; role == "loading" || read && isDrug(r.whole(r.items[k])) && r.items[k].kind == amount {
			return map[bool]string{true: "loading"}[role == "loading"]
		}
	}
	return ""
}

// ofCycle: "day 1", "days 1, 4, 8", "days 1-14", "cycle 3".
func (r *reader) ofCycle(i int) bool {
	for k := i - 1; k >= 0 && k >= i-2*reach*2; k-- {
		x := r.items[k]
		switch {
		case x.class == "unit" && (r.tokens[x.from].lower == "day" || r.tokens[x.from].lower == "days"):
			return true
		case x.kind == unknown && r.tokens[x.from].lower == "d" && k == i-1 && r.tokens[r.items[i].from].glued:
			r.items[k].used = true
			return true
		case x.meaning == "{cycle}" && k == i-1:
			r.items[k].used = true
			return true
		case x.kind == count || x.is(",", "&") || x.kind == silent && r.tokens[x.from].lower == "and":
		default:
			return false
		}
	}
	return false
}

func (r *reader) cycleRole(i int) string {
	if r.item(i-1).meaning == "{cycle}" {
		return "number"
	}
	return "days"
}
