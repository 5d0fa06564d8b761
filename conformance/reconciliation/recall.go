package reconciliation

import (
	"cmp"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/plan"
)

// recalled: row m16. A lot of the notice that is made, on the way or at home,
// also one set apart or given: whoever had it is told.
func recalled(p *pair) (a answer) {
	units := map[plan.EventPlace]int{}
	var lots []string
	place := p.place()
	for _, l := range p.stock.lots {
		if !p.isRecalled(l) {
			continue
		}
		units[l.where] += l.units
		if name := lotWords(l.name); !slices.Contains(lots, name) {
			lots, place = append(lots, name), p.lotPlace(l)
		}
	}
	if len(lots) == 0 {
		return a
	}
	var parts []string
	for _, where := range []plan.EventPlace{plan.InPharmacy, plan.OnTheWay, plan.AtHome} {
		if n := units[where]; n > 0 {
			parts = append(parts, counted(n, "unit", "units")+" "+p.whereWords(where))
		}
	}
	says := strings.Join(parts, ", ") + strings.Join(lots, " and")
	a.found("nightly-recall", place, "recalled: "+says, "no unit of a recalled lot made, sent or at home")
	now := p.clock()
	a.ask("dispatch-block", now, "a recalled lot is among the units")
	if units[plan.InPharmacy] > 0 {
		a.ask("quarantine-pharmacist", now, "recalled: "+says)
	}
	if units[plan.OnTheWay] > 0 {
		a.ask("quarantine-driver", now, "recalled: "+says)
	}
	if units[plan.AtHome] > 0 {
		a.ask("call-patient", p.beforeNext(), "recalled: start none of "+says)
		a.ask("quarantine-patient", p.beforeNext(), "recalled: "+says)
		a.ask("fetch-back", p.fetch(), "recalled: "+says)
		a.ask("deliver-extra", p.beforeNext(), "other units for the doses that the recalled ones were for")
	}
	return a
}

func (p *pair) isRecalled(l lot) bool {
	return l.name != "" && slices.ContainsFunc(p.night.Recalled, func(r Recalled) bool {
		return strings.EqualFold(strings.TrimSpace(r.Lot), strings.TrimSpace(l.name)) && (r.Drug == "" || p.isOf(l, r.Drug))
	})
}

// isOf: the lot is of the drug of the notice, or nobody can tell of which it
// is: then it counts as of that drug.
func (p *pair) isOf(l lot, drug string) bool {
	names := []string{drugName(p.current().order), p.current().sheetDrug(), l.unit.Drug, l.drug.Name, l.drug.Concept.Name()}
	known := false
	for _, n := range names {
		if n != "" {
			known = true
			if compendium.Fold(n) == compendium.Fold(drug) {
				return true
			}
		}
	}
	return !known
}

// Holding is one patient of whom units are looked for.
type Holding struct {
	Patient string // our own id
	Phones  []string
	Side    Side
	Held    Held
}

// Affected is one order with units of a recalled lot.
type Affected struct {
	Patient             string
	Phones              []string
	Key                 string
	Lot                 string
	Pharmacy, Way, Home int
	Given               int // on record as given: told, and watched
	Apart               int // set apart already
	HomeUnsure          bool
	Result              Result
}

// Recall lists who has, or had, units of a lot: patients at home first, then
// those on the way, in the pharmacy and already given, with whom to call and
// what to set apart.
func Recall(lot Recalled, all []Holding, n Night) []Affected {
	n.Recalled = []Recalled{lot}
	var out []Affected
	for _, h := range all {
		for _, r := range Compare(h.Side, h.Side, h.Held, n) {
			p := pairOf(h, r.Key, n)
			x := Affected{Patient: h.Patient, Phones: h.Phones, Key: r.Key, Lot: lot.Lot, Result: r}
			for _, l := range p.stock.lots {
				if !p.isRecalled(l) {
					continue
				}
				switch l.where {
				case plan.InPharmacy:
					x.Pharmacy += l.units
				case plan.OnTheWay:
					x.Way += l.units
				case plan.AtHome:
					x.Home += l.units
				}
			}
			for _, s := range plan.Tally(h.Held.Orders[r.Key].Records, p.planned().doses, n.Now).Lots {
				if strings.EqualFold(s.Lot, lot.Lot) {
					x.Given += s.Given
					x.Apart += s.Apart[0] + s.Apart[1] + s.Apart[2] + s.Apart[3]
				}
			}
			x.HomeUnsure = x.Home > 0 && p.stock.least != p.stock.most
			if x.Pharmacy+x.Way+x.Home+x.Given+x.Apart > 0 {
				out = append(out, x)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Affected) int {
		return cmp.Or(cmp.Compare(b.Home, a.Home), cmp.Compare(b.Way, a.Way), cmp.Compare(b.Pharmacy, a.Pharmacy), strings.Compare(a.Patient, b.Patient), strings.Compare(a.Key, b.Key))
	})
	return out
}

func pairOf(h Holding, key string, n Night) *pair {
	pairs := pairUp(h.Side, h.Side, h.Held, n)
	return pairs[slices.IndexFunc(pairs, func(p *pair) bool { return p.key == key })]
}
