package sig

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// terms reads what has a meaning of its own: route, device, access, fluid.
func (r *reader) terms() {
	for i := range r.items {
		x := r.items[i]
		if x.kind != term || x.used {
			continue
		}
		switch x.class {
		case "route", "device", "access", "diluent":
			r.add(x.class, x.meaning, "", "", i, i+1)
		case "push":
			r.add("route", "intravenous", "", "push", i, i+1)
		case "unclearDevice":
			r.add("", x.meaning, "", "unclear", i, i+1)
		case "pca":
			r.add("as-needed", "true", "", "patient-controlled", i, i+1)
		case "weekday":
			r.add("frequency", x.meaning, "", "weekday", i, i+1)
		case "tolerated":
			r.add("condition", r.text(i, i+1), "", "", i, i+1)
		case "times":
			if r.item(i + 1).is("every") {
				r.items[i].used = true // "once every 8 weeks"
				continue
			}
			r.add("", x.meaning, "", "unclear", i, i+1)
		}
	}
}

// nameBefore is the first item of the run of unknown words that ends right
// before item i, and i when there is none.
func (r *reader) nameBefore(i int) int {
	from := i
	for from > 0 && i-from < 2*reach {
		x := r.items[from-1]
		joined := (x.is("-") || x.is("/")) && from > 1 && r.items[from-2].kind == unknown && from < i
		if x.kind != unknown && !joined || x.used {
			break
		}
		from--
	}
	return from
}

// names reads the drug's name: the unknown words right before an amount of
// drug, or those the directions begin with when such an amount follows.
func (r *reader) names() {
	for i := range r.items {
		x := r.items[i]
		if x.kind == amount && r.namesDrug(i) {
			if from := r.nameBefore(i); from < i && !r.items[from].used && !(x.odd && r.tokens[x.from].glued) {
				r.name(from, i, r.roles[i] == "component")
			}
		}
	}
	if len(r.items) == 0 || r.items[0].kind != unknown || r.items[0].used || r.drug {
		return
	}
	to := 1
	for to < len(r.items) && (r.items[to].kind == unknown || r.items[to].is("-", "/")) && !r.items[to].used {
		to++
	}
	for to > 1 && r.items[to-1].kind == mark {
		to--
	}
	if n := r.item(to); n.is(":") && r.item(to+1).kind == amount && r.namesDrug(to+1) {
		r.name(0, to, false)
		return
	} else if n.kind != term && !n.is("loading", "basal", "test") {
		return
	}
	for k := to; k < len(r.items) && !r.endsSentence(k); k++ {
		if r.items[k].kind == amount && r.namesDrug(k) {
			r.name(0, to, false)
			return
		}
	}
}

// namesDrug: an amount whose name would be a drug's.
func (r *reader) namesDrug(i int) bool {
	x := r.items[i]
	d := r.whole(x)
	return x.odd && isDrug(d) || isDrug(d) || isDrug(d.Times(quantity.Time)) && timePart(x.code) != "" || isDrug(d.Times(quantity.Volume)) || d == quantity.Volume || d == flow && timePart(x.code) == "d" || x.code == "%"
}

// name makes a reading of a drug's name: the infusion's own, or that of a
// component.
func (r *reader) name(from, to int, component bool) {
	role := ""
	if r.items[from].scope == "" {
		switch name := lower(r.text(from, to)); {
		case r.drug && name == r.own:
		case r.drug || component:
			role = "component"
		default:
			r.own = name
		}
		r.drug = r.drug || !component
	}
	r.add("drug", lower(r.text(from, to)), "", role, from, to)
}

// stepped are the fields that can follow each other.
var stepped = map[string]bool{"dose": true, "dosePerKg": true, "dosePerArea": true, "dailyDose": true, "dailyDosePerKg": true, "dailyDosePerArea": true,
	"volume": true, "rate": true, "ratePerKg": true, "drugRate": true, "drugRatePerKg": true, "drugRatePerArea": true}

// alongside are the fields that belong to a step when they change with it.
var alongside = map[string]bool{"duration": true, "courseLength": true, "interval": true, "dosesPerDay": true, "volume": true, "doseCount": true}

// paceField are the fields that make steps by themselves ("every 2 weeks x 3
// doses then every 4 weeks").
var paceField = map[string]bool{"interval": true, "dosesPerDay": true}

// apart: what is said of a loading or test dose before "then" is not said of
// the doses that follow it.
func (r *reader) apart() {
	roles, plain := map[int]string{}, map[int]bool{}
	for _, x := range r.out {
		switch {
		case !stepped[x.Field]:
		case x.Role == "loading" || x.Role == "test":
			roles[x.phase] = x.Role
		case x.Role == "":
			plain[x.phase] = true
		}
	}
	after := ""
	for i := range r.out {
		x := &r.out[i]
		if stepped[x.Field] {
			after = x.Role
		} else if after == "test" && alongside[x.Field] && x.Role == "" {
			x.Role = after
		}
		if role := roles[x.phase]; role != "" && !plain[x.phase] && r.phase > 0 && alongside[x.Field] && (x.Role == "" || x.Role == "in") {
			x.Role = role
		}
	}
}

// steps: a dose or rate stated before and after "then" is one of several that
// follow each other, never the one dose or rate. How long one of them lasts is
// never the length of the course.
func (r *reader) steps() {
	phases := map[string]map[int]bool{}
	for _, x := range r.out {
		if (stepped[x.Field] || alongside[x.Field]) && (x.Role == "" || x.Role == "in") {
			if phases[x.Field+x.Role] == nil {
				phases[x.Field+x.Role] = map[int]bool{}
			}
			phases[x.Field+x.Role][x.phase] = true
		}
	}
	r.apart()
	any, doses := false, false
	for field, seen := range phases {
		if (stepped[field] || paceField[field]) && len(seen) > 1 {
			any, doses = true, doses || !strings.HasPrefix(field, "rate") && field != "volume"
		}
	}
	if !any {
		return
	}
	before := ""
	for i := range r.out {
		x := &r.out[i]
		if x.Role != "" && x.Role != "in" {
			continue
		}
		several := len(phases[x.Field+x.Role]) > 1
		switch {
		case stepped[x.Field] && several && x.Role == "", alongside[x.Field] && several, doses && (x.Field == "courseLength" || x.Field == "doseCount"), x.Field == "duration" && x.after == "for" && before == "step":
			x.Field, x.Role = "step", x.Field
		}
		if strings.TrimSpace(x.Unit) != "" {
			before = x.Field
		}
	}
}
