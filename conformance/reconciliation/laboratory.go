package reconciliation

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
	"weir.example/weir/mapping/schedule"
)

// shownBy are the measurements by which the result of a test is seen to be
// there: tests by the names of the drug tables, measurements by those of the
// case.
var shownBy = map[string][]string{
	"complete blood count":               {"neutrophils", "platelets", "leukocytes", "hemoglobin"},
	"white cell count with differential": {"neutrophils", "leukocytes"},
	"creatinine":                         {"creatinine"},
	"electrolytes":                       {"potassium", "sodium"},
	"potassium":                          {"potassium"},
	"glucose":                            {"glucose"},
	"calcium":                            {"calcium"},
	"magnesium":                          {"magnesium"},
	"phosphate":                          {"phosphate"},
	"creatine kinase":                    {"creatineKinase"},
}

// levels are the measurements of a drug level.
var levels = []string{"trough", "level", "peak"}

// laboratory: row m10 (J Antimicrob Chemother 2014;69:228: results that are
// not there go with readmission). A planned test without a result, a result
// that nobody saw, and a new creatinine that changed what the order's checks
// say.
func laboratory(p *pair) (a answer) {
	if p.state == Absent || p.now == nil || !p.inForce() {
		return a
	}
	n := p.night.Reference.Policy.Night
	grace := time.Duration(n.TestGrace)
	if !p.planned().zone.Known() {
		a.lacking("nightly-lab-due", "time zone of the patient's home", "the days of planned tests cannot be placed")
	}
	overdue := map[string]*finding.Finding{} // by day: one finding, however many panels were planned for it
	var days []string
	for _, s := range p.after.Case.Services {
		if s.Kind != "laboratory" || slices.Contains([]string{"completed", "revoked", "entered-in-error", "draft", "on-hold"}, s.Status) || !p.concerns(s) {
			continue
		}
		due, ok := p.lastDue(s, p.night.Now.Add(-grace))
		if !ok {
			continue
		}
		names := measures(s.Tests)
		test := strings.Join(s.Tests, ", ")
		if test == "" {
			test = conceptWords(s.Code)
		}
		switch {
		case len(names) == 0:
			a.lacking("nightly-lab-due", "result of a test that no measurement is read for", "due "+notation.Date(p.local(due))+": "+test)
		case !p.resulted(names, due):
			day := notation.Date(p.local(due))
			if f := overdue[day]; f != nil {
				f.Observed, f.Evidence = f.Observed+"; "+test, append(f.Evidence, s.Place.Expression)
				continue
			}
			overdue[day] = &finding.Finding{Code: "nightly-lab-due", Place: s.Place, Observed: "due " + day + ", no result: " + test, Expected: "a result within " + notation.Duration(grace) + " of the draw"}
			days = append(days, day)
		}
	}
	for _, day := range days {
		a.findings = append(a.findings, *overdue[day])
		a.ask("overdue-test", p.beforeNext(), overdue[day].Observed)
	}
	for _, u := range p.all.Unseen {
		if wait := p.night.Now.Sub(u.Since); wait > time.Duration(n.ResultGrace) {
			place := u.Place
			if place.Expression == "" {
				place = p.place()
			}
			a.found("nightly-lab-due", place, notation.Name(u.Name)+" of "+p.moment(u.Since)+", seen by nobody", "seen by a named person within "+notation.Duration(time.Duration(n.ResultGrace)))
			a.ask("see-result", p.clock(), notation.Name(u.Name)+" of "+p.moment(u.Since))
		}
	}
	p.newResults(&a)
	return a
}

// newResults: a creatinine or a level that was not there before, and with it
// a finding of the order that was not there before.
func (p *pair) newResults(a *answer) {
	if !p.bothKnown() || p.was == nil {
		return
	}
	for _, m := range p.after.Case.Measurements {
		level := slices.Contains(levels, m.Name)
		if m.Name != "creatinine" && !level || m.Quantity.Absent() || slices.ContainsFunc(p.before.Case.Measurements, func(x order.Measurement) bool {
			return x.Name == m.Name && x.At.Literal == m.At.Literal && plain(x.Quantity) == plain(m.Quantity)
		}) {
			continue
		}
		var codes []string
		for _, code := range kidneyCodes {
			if standsIn(p.now, code) && !standsIn(p.was, code) {
				codes = append(codes, "`"+string(code)+"`")
			}
		}
		switch {
		case level && p.aboveTarget(m):
			a.found("nightly-lab-due", m.Place, m.Name+" "+plain(m.Quantity)+" of "+p.day(m.At), "seen and answered before the next dose")
		case m.Name == "creatinine" && len(codes) > 0:
			a.found("nightly-lab-due", m.Place, "creatinine "+plain(m.Quantity)+" of "+p.day(m.At)+"; new with it: "+strings.Join(codes, ", "), "the dose judged with the newest creatinine before the next release")
		case m.Name == "creatinine" && p.risen(m):
			was := newest(p.before.Case, "creatinine")
			a.found("nightly-lab-due", m.Place, "creatinine "+plain(m.Quantity)+" of "+p.day(m.At)+", "+plain(was.Quantity)+" of "+p.day(was.At)+" before", "below 1.5 times the last one, or the pharmacist's word that the drug stays as it is")
		default:
			continue
		}
		a.ask("see-result", p.beforeNext(), m.Name+" "+plain(m.Quantity)+" of "+p.day(m.At))
		a.ask("dispatch-block", p.clock(), "a new result asks for another look at the dose")
		a.ask("call-prescriber", p.beforeNext(), m.Name+" "+plain(m.Quantity)+" of "+p.day(m.At))
		a.ask("call-patient", p.beforeNext(), "wait for word before the next dose")
	}
}

// kidneyRatio: from here a creatinine is a kidney injury whatever the drug
// (KDIGO 2012, as quoted by bestpractice.bmj.com 3000117).
var kidneyRatio = quantity.MustNumber("1.5")

// risen: the result is the newest, and so many times the last one held.
func (p *pair) risen(m order.Measurement) bool {
	was, now := newest(p.before.Case, "creatinine"), newest(p.after.Case, "creatinine")
	if was == nil || now == nil || now.At.Literal != m.At.Literal {
		return false
	}
	x, okX := arithmetic.CreatinineMgPerDL(was.Quantity)
	y, okY := arithmetic.CreatinineMgPerDL(m.Quantity)
	return okX && okY && x.Sign() > 0 && !y.Quo(x).Less(kidneyRatio)
}

// kidneyCodes are findings that hang on creatinine.
var kidneyCodes = []finding.Code{"dose-kidney-injury", "dose-renal", "dose-renal-replacement"}

// troughMost is the vancomycin trough above which somebody calls: row i8, Am J
// Nephrol 49:133 on injury above 20 mg/L.
var troughMost = quantity.Point(quantity.Int(20), quantity.MustUnit("mg/L"))

func (p *pair) aboveTarget(m order.Measurement) bool {
	if m.Name != "trough" || m.Of != "vancomycin" || drugName(p.now.order) != m.Of && p.now.sheetDrug() != m.Of {
		return false
	}
	in, err := m.Quantity.In(troughMost.Unit)
	return err == nil && troughMost.High.Less(in.Low)
}

// concerns: a laboratory order names this order, or names none.
func (p *pair) concerns(s order.Service) bool {
	return len(s.Basis) == 0 || slices.ContainsFunc(s.Basis, func(ref string) bool { return p.isNamed(ref, true) }) || !slices.ContainsFunc(s.Basis, func(ref string) bool {
		return slices.ContainsFunc(p.pairs, func(q *pair) bool { return q.isNamed(ref, true) })
	})
}

func measures(tests []string) []string {
	var out []string
	for _, t := range tests {
		out = append(out, shownBy[t]...)
		if strings.HasPrefix(t, "drug concentration") {
			out = append(out, levels...)
		}
	}
	return out
}

// resulted: one of the measurements was collected from the day before the
// draw was due on.
func (p *pair) resulted(names []string, due time.Time) bool {
	return slices.ContainsFunc(p.after.Case.Measurements, func(m order.Measurement) bool {
		return slices.Contains(names, m.Name) && !m.At.Time.Before(due.Add(-24*time.Hour)) && !m.At.Time.After(p.night.Now)
	})
}

// lastDue is the last draw that was due up to an instant, and at home: a draw
// before the first home dose is the hospital's.
func (p *pair) lastDue(s order.Service, until time.Time) (time.Time, bool) {
	c := p.planned()
	var last time.Time
	for _, at := range planned(s, c.zone, until) {
		if !at.After(until) && at.After(last) && (c.firstDose.IsZero() || !at.Before(c.firstDose.Add(-12*time.Hour))) {
			last = at
		}
	}
	return last, !last.IsZero()
}

// planned lists the draws of a laboratory order; of one that repeats those up
// to an instant. A date alone is due at noon.
func planned(s order.Service, zone schedule.Zone, until time.Time) []time.Time {
	noon := func(t time.Time) time.Time {
		y, m, d := t.Date()
		at, _, _ := zone.Wall(y, m, d, 12*time.Hour)
		return at
	}
	place := func(i order.Instant) time.Time {
		if i.DateOnly {
			return noon(i.Time)
		}
		return i.Time.In(zone.Location)
	}
	if !zone.Known() {
		return nil
	}
	var list []time.Time
	for _, w := range s.When {
		list = append(list, place(w))
	}
	if len(list) > 0 || s.From.Absent() {
		return list
	}
	t := schedule.Timing{DaysOfWeek: s.DaysOfWeek}
	if len(t.DaysOfWeek) == 0 {
		if s.EveryDays == 0 {
			return nil
		}
		t.Frequency, t.Period = 1, quantity.Point(quantity.Int(int64(s.EveryDays)), quantity.MustUnit("d"))
	}
	to := until.Add(time.Nanosecond)
	if !s.To.Absent() && place(s.To).Add(12*time.Hour).Before(to) {
		to = place(s.To).Add(12 * time.Hour)
	}
	list, _ = schedule.Expand(t, schedule.Span{From: place(s.From), To: to}, zone, 400)
	return list
}

// Draws lists the draws that are planned for a patient up to an instant, by
// the zone of the home: what is due of them hangs on the clock.
func Draws(s Side, until time.Time) []time.Time {
	zone := zoneOf(s)
	var out []time.Time
	for _, x := range s.Case.Services {
		if x.Kind == "laboratory" {
			out = append(out, planned(x, zone, until)...)
		}
	}
	return out
}
