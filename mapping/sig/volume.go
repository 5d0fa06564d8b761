package sig

import "strings"

// volumeMeaning tells a volume added to, made up to, of a device, of a fluid
// given, and the one a dose is measured out in.
func (r *reader) volumeMeaning(i int, lead string) (field, role string) {
	after := r.item(r.next(i))
	switch {
	case r.item(i+1).is("with") && r.isVolume(i+2), after.is("overfill"), r.sizeOnly(i, lead): // parts of a sum, a bag's size
		return "", ""
	case lead == "handling":
		return "", ""
	case lead == "fill" && after.class == "noun" || after.is("reconstitute") && lead != "":
		return "", ""
	case after.is("reconstitute"), lead != "in" && lead != "to" && r.reconstitutes(i):
		return "volume", "diluent"
	case lead == "fill":
		return "fill", "device"
	case lead == "residual":
		return "residual", "device"
	case lead == "reconstitute":
		return "volume", "diluent"
	case lead == "to", after.kind == cue && after.is("to") && strings.HasPrefix(lower(r.text(r.next(i), r.next(i)+1)), "total"):
		return "volume", "to"
	case r.line.Kind == "device-text", r.item(i + 1).is("elastomeric"), r.deviceBefore(i) != "" && after.class != "diluent":
		return "volume", "device"
	case lead == "in":
		return "volume", "in"
	case r.item(i-1).is("(") && (r.item(i+1).is(")") || strings.EqualFold(r.text(i+1, min(i+2, len(r.items))), "of")) && r.item(i-2).kind == amount && isDrug(r.whole(r.item(i-2))):
		return "volume", "dose"
	case r.item(i+1).is("(") && r.item(i+2).kind == amount && isDrug(r.whole(r.item(i+2))) && r.item(i+3).is(")"):
		return "volume", "dose" // "8 mL (80 mg)"
	case lead == "loading":
		return "volume", "loading"
	case lead == "with" && r.item(i-2).kind == amount, r.first < i && r.nameBefore(i) < i && r.item(r.nameBefore(i)-1).is("with"):
		return "volume", "component"
	case r.doseBefore(i) && after.class == "diluent":
		return "volume", "in"
	}
	return "volume", ""
}

// sizeOnly: "2 L bag" where another volume is told is the size of the bag.
func (r *reader) sizeOnly(i int, lead string) bool {
	if n := r.item(i + 1); n.class != "noun" || n.meaning == "{dose}" || n.meaning == "{cycle}" || lead == "in" || lead == "to" {
		return false
	}
	return r.volumes > 1
}

// reconstitutes: the clause says what the powder is dissolved with.
func (r *reader) reconstitutes(i int) bool {
	for k := i - 1; k >= 0 && k >= i-reach && !r.items[k].is(",", ";", ".", "then", "in", "to"); k-- {
		if r.items[k].is("reconstitute") {
			return true
		}
	}
	return false
}

// doseBefore: "1.25 g 250 mL NS", "over 3h in 1000 mL": the fluid the dose
// goes into.
func (r *reader) doseBefore(i int) bool {
	p := r.item(i - 1)
	return p.kind == amount && isDrug(r.whole(p)) || p.is("/") && r.item(i-2).kind == amount && isDrug(r.whole(r.item(i-2)))
}

// flowMeaning tells an ordered rate from a device's nominal rate.
func (r *reader) flowMeaning(i int, lead string) (field, role string) {
	a := r.items[i]
	switch {
	case r.strayName(i):
		return "", ""
	case strings.Contains(a.code, "/kg"):
		field = "ratePerKg"
	case timePart(a.code) == "d":
		return "dailyVolume", ""
	case r.line.Kind == "device-text", lead == "nominal", r.item(i + 1).is("nominal"):
		r.useNext(i, "nominal")
		return "nominalRate", "device"
	case (lead == "at" || lead == "over") && r.deviceBefore(i) != "near":
		field = "rate"
	default:
		switch r.deviceBefore(i) {
		case "near":
			return "nominalRate", "device"
		case "apart":
			return "", "unclear"
		}
		if n := r.item(r.next(i)); n.is("elastomeric") {
			return "nominalRate", "device"
		}
		field = "rate"
	}
	if lead == "minimum" || lead == "more" {
		role = "minimum"
	}
	if lead == "keepOpen" {
		role = "keep-open"
	}
	if lead == "previous" {
		role = "previous"
	}
	if lead == "basal" {
		role = "basal"
	}
	return field, role
}

// deviceBefore looks back for a device of fixed flow over what belongs to it:
// its size, its rate, one more word of its name. "near" without a comma
// between, or with both in brackets; "apart" with one: then a rate may be the
// device's or the order's; "" none.
func (r *reader) deviceBefore(i int) string {
	commas, names := 0, 0
	for k := i - 1; k >= 0 && k >= i-2*reach; k-- {
		switch x := r.items[k]; {
		case x.is("elastomeric") && x.kind == term:
			if commas > 0 {
				return "apart"
			}
			return "near"
		case x.is("("):
			commas = 0
		case x.is(","), x.is("at") && r.tokens[x.from].text == "@": // only in the device's own brackets
			commas++
		case x.kind == silent:
		case x.kind == unknown && names == 0:
			names++
		case x.kind == amount && (r.isVolume(k) || x.dim() == flow) && r.ofDevice(k):
		default:
			return ""
		}
	}
	return ""
}

// ofDevice: the number at item k was read as the device's, or left unclear.
func (r *reader) ofDevice(k int) bool { return r.roles[k] == "device" || r.roles[k] == "unclear" }
