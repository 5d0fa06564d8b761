package nightgen

import (
	"fmt"
	"iter"
	"slices"
	"strconv"
	"time"
)

// System is that of the placer identifiers.
const System = "https://hospital.example/order"

// state is one order and its patient in one night.
type state struct {
	number  int
	regimen *regimen
	values  values
	born    int // the night in which the order is first there
	changed Kind
	extra   Kind // Replaced or Duplicate: there is a second order
	since   int  // the night in which it came
	facts   [classCount]int
	add     []*line
	instead map[class]*line
	lost    bool // the order
	gone    bool // all of the patient
	ended   bool // nothing happens any more
	stopped int  // the night, 0 for none
	kind    Kind // what happened in the night itself
	resent  bool // an older version is sent
	older   bool // one was in an earlier night
	bumps   int
}

// mix is a number that depends on all of its parts, and on nothing else.
func mix(parts ...uint64) uint64 {
	h := uint64(0x9e3779b97f4a7c15)
	for _, p := range parts {
		h ^= p + 0x9e3779b97f4a7c15 + h<<6 + h>>2
		h ^= h >> 30
		h *= 0xbf58476d1ce4e5b9
		h ^= h >> 27
		h *= 0x94d049bb133111eb
		h ^= h >> 31
	}
	return h
}

// arriving is how many new orders a night brings.
func (h Hospital) arriving() int {
	return h.Orders * h.Churn / 1000 / 8
}

// count is how many orders there ever were.
func (h Hospital) count(night int) int { return h.Orders + night*h.arriving() }

// at makes the state of an order in a night, by going through the nights.
func (h Hospital) at(n, night int, s *state) {
	list := regimens()
	r := &list[mix(h.Seed, uint64(n), 1)%uint64(len(list))]
	*s = state{number: n, regimen: r, add: s.add[:0], instead: s.instead}
	clear(s.instead)
	v := &s.values
	who := mix(h.Seed, uint64(n), 2)
	v[number] = strconv.Itoa(n)
	v[order], v[orderKey], v[record] = v[number], v[number], v[number]
	v[team] = strconv.Itoa(n / teamSize)
	v[given], v[family] = givens[who%uint64(len(givens))], families[who>>16%uint64(len(families))]
	v[phone] = "+1-555-01" + strconv.Itoa(int(10+who>>32%90))
	v[street] = strconv.Itoa(int(1+who>>40%900)) + " " + streets[who>>52%uint64(len(streets))]
	v[born], v[discharge], v[weight], v[creatinine] = r.Born, r.Discharge, r.Weight, r.Creatinine
	v[authored], v[status], v[drugName], v[drugCode] = r.Authored, "active", r.Drug, r.Code
	if n >= h.Orders {
		s.born = 1 + (n-h.Orders)/h.arriving()
		s.kind = []Kind{Unseen, Fresh}[n%2]
		v[authored] = stamp(Clock(s.born).Add(-map[Kind]time.Duration{Unseen: 3 * time.Hour, Fresh: time.Hour}[s.kind]))
	}
	for k := s.born + 1; k <= night; k++ {
		s.kind, s.older, s.resent = "", s.older || s.resent, false
		if h.Noise && mix(h.Seed, uint64(n), uint64(k), 3)%20 == 0 {
			s.bumps++
		}
		switch chance := mix(h.Seed, uint64(n), uint64(k), 4); {
		case s.stopped > 0 && k == s.stopped+1 && chance%4 == 0:
			s.kind, s.resent = Revived, true
		case !s.ended && chance%1000 < uint64(h.Churn):
			s.happens(h.draw(s, mix(h.Seed, uint64(n), uint64(k), 5)), k)
		}
	}
}

// draw picks what happens: the next kind that can.
func (h Hospital) draw(s *state, chance uint64) Kind {
	list := h.Kinds
	if list == nil {
		list = allKinds
	}
	for i := range list {
		kind := list[(chance+uint64(i))%uint64(len(list))]
		_, made := s.regimen.changes[kind]
		switch kind {
		case Dose, Rate, Duration, Frequency, End, Concentration:
			if made {
				return kind
			}
		case Pregnancy:
			if s.regimen.Female {
				return kind
			}
		case Allergy:
			if s.regimen.Code != "" {
				return kind
			}
		default:
			return kind
		}
	}
	return ""
}

var allKinds = Kinds()

// happens changes the state. To one order one thing happens in all nights, so
// that each has one cause.
func (s *state) happens(kind Kind, night int) {
	if kind == "" {
		return
	}
	s.kind, s.ended = kind, true
	v := &s.values
	v[clock] = stamp(Clock(night).Add(-time.Hour))
	if s.instead == nil {
		s.instead = map[class]*line{}
	}
	switch kind {
	case Stopped, Cancelled, Mistaken, Held, Completed:
		v[status], s.stopped, s.facts[request] = string(kind), night, night
	case Dose, Rate, Duration, Frequency, End, Concentration:
		s.changed, s.facts[request], s.facts[bag] = kind, night, night
	case Replaced, Duplicate:
		s.extra, s.since = kind, night
	case Lost:
		s.lost, s.gone = true, s.number%2 == 0
	case Resent:
		s.resent, s.ended = true, false
	case Weight:
		v[weight], s.facts[weighing] = scaled(v[weight], 12), night
	case Creatinine:
		v[creatinine], s.facts[kidneys] = scaled(v[creatinine], 30), night
	case Allergy:
		s.instead[allergies], s.facts[allergies] = &newAllergy, night
	case Pregnancy:
		s.add = append(s.add, &pregnant)
	case Access:
		s.instead[lineUse], s.facts[lineUse] = &oldLine, night
		s.add = append(s.add, &newLine, &newUse)
	case Address:
		v[street], s.facts[person] = "9"+v[street], night
	case Phone:
		v[phone], s.facts[person] = "+1-555-0199", night
	case Discharge:
		at, _ := time.Parse(time.RFC3339, v[discharge])
		v[discharge], s.facts[stay] = at.AddDate(0, 0, 2).Format(time.RFC3339), night
	case Readmitted:
		s.instead[stay], s.facts[stay] = &stayEnded, night
		s.add = append(s.add, &newStay)
	case Died:
		v[deceased], s.facts[person] = `"deceasedDateTime":"`+v[clock]+`",`, night
	case BirthDate:
		at, _ := time.Parse(time.DateOnly, v[born])
		v[born], s.facts[person] = at.AddDate(0, 3, 0).Format(time.DateOnly), night
	case Number:
		v[record], s.facts[person] = v[number]+"-9", night
	}
}

// scaled multiplies a decimal with at most one place by tenths.
func scaled(decimal string, tenths int) string {
	x, err := strconv.ParseFloat(decimal, 64)
	if err != nil {
		panic(err)
	}
	return strconv.FormatFloat(float64(int(x*float64(tenths)+0.5))/10, 'f', -1, 64)
}

func stamp(t time.Time) string { return t.UTC().Format(time.RFC3339) }

// written says which version of its lines an order has, and since when.
func written(version int, at time.Time) (string, string) { return strconv.Itoa(version), stamp(at) }

// Truth says what a night has to find, order by order. Night 0 is the first
// that is run: all its orders are new, two hours old and more.
func (h Hospital) Truth(night int) iter.Seq[Truth] {
	return func(yield func(Truth) bool) {
		var s state
		for n := range h.count(night) {
			h.at(n, night, &s)
			for _, t := range s.truth(night) {
				if !yield(t) {
					return
				}
			}
		}
	}
}

func (s *state) truth(night int) []Truth {
	t := Truth{State: Unchanged}
	key := System + "|O-"
	switch {
	case night == 0:
		t = Truth{State: New, Codes: []string{"nightly-unseen"}}
	case s.kind == Revived:
		t = Truth{State: Older, Codes: []string{"nightly-older-message"}}
	case s.kind != "":
		t = found[s.kind]
	case s.lost:
		t.State = Absent
	}
	t.Key, t.Kind = key+s.values[orderKey], s.kind
	t.May = append(slices.Clone(t.May), s.stands(night)...)
	out := []Truth{t}
	if s.extra != "" {
		second := Truth{Key: key + second(s.values[orderKey]), State: Unchanged, May: []string{"nightly-duplicate", "nightly-unseen"}}
		if s.since == night {
			second.State, second.Kind, second.Codes, second.May = New, s.extra, []string{"nightly-unseen"}, second.May[:1]
		}
		out = append(out, second)
	}
	return out
}

// stands are the codes of what happened in an earlier night.
func (s *state) stands(night int) []string {
	var out []string
	if s.born < night { // seen or not
		out = append(out, "nightly-unseen")
	}
	if s.older {
		out = append(out, "nightly-older-message")
	}
	if s.kind == "" || s.kind == Revived {
		for _, kind := range s.past() {
			f := found[kind]
			out = append(append(append(out, f.Codes...), f.OneOf...), f.May...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// past are the kinds that could have left the state it is in.
func (s *state) past() []Kind {
	switch {
	case !s.ended:
		return nil
	case s.stopped > 0:
		return []Kind{Kind(s.values[status])}
	case s.changed != "":
		return []Kind{s.changed}
	case s.extra != "":
		return []Kind{s.extra}
	case s.lost:
		return []Kind{Lost}
	}
	return []Kind{Weight, Creatinine, Access, Discharge, Died, BirthDate}
}

func second(key string) string { return fmt.Sprint(key, "b") }
