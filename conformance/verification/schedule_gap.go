package verification

import (
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// intermittentFor: an infusion shorter than this and than its interval is
// given in doses; what runs longer is meant not to stop (as IsContinuous).
var intermittentFor = quantity.Int(12 * 3600)

// runsOn: the order is not known to be given in doses.
func runsOn(f Facts) bool {
	t, okT := f.quantities()["duration"]
	i, okI := f.quantities()["interval"]
	if !okT || !okI || t.Unit.IsZero() || i.Unit.IsZero() {
		return true
	}
	run := t.Unit.ToBase(t.Value)
	return !run.Less(intermittentFor) || !run.Less(i.Unit.ToBase(i.Value))
}

// hospitalEnd is when the infusion in hospital ends: the latest end among the
// doses given. One that still runs ends with the stay. Ok is false when
// nothing tells.
func hospitalEnd(f Facts) (end time.Time, place finding.Place, ok bool) {
	p := f.plan()
	var newest time.Time
	for _, a := range f.kase().Administrations {
		if a.Status != "completed" && a.Status != "in-progress" || a.Start.Absent() || a.Start.DateOnly || a.Start.Time.After(f.now()) || !given(a.Drug, f.order().Drug) {
			continue
		}
		at, known := ranUntil(a, p.Discharge, p.Duration)
		if a.Start.Time.After(newest) {
			newest, ok = a.Start.Time, known
		}
		if known && at.After(end) {
			end, place = at, a.Place
		}
	}
	return end, place, ok && !end.IsZero()
}

func ranUntil(a order.Administration, discharge time.Time, run time.Duration) (time.Time, bool) {
	switch {
	case !a.End.Absent() && !a.End.DateOnly:
		return a.End.Time, true
	case a.Status == "in-progress":
		return discharge, !discharge.IsZero()
	}
	return a.Start.Time.Add(run), run > 0
}

// gapUnknown: without the end in hospital or the start at home nobody can
// tell that nothing lies between. A drug never given before has no end.
func gapUnknown(f Facts) []Fact {
	if !carries(compendium.NeverPause)(f) {
		return nil
	}
	lacks := flagUnknown(compendium.NeverPause)(f)
	if f.order().PriorExposure != "never" {
		if _, _, ok := hospitalEnd(f); !ok {
			lacks = append(lacks, Discharge)
		}
	}
	if f.plan().FirstHomeDose.IsZero() {
		lacks = append(lacks, HomeDoses)
	}
	return lacks
}

// runningGap: time without the infusion, between hospital and home or
// between two containers at home.
func runningGap(f Facts) []finding.Finding {
	flag, answer, _ := flagged(f, compendium.NeverPause)
	if answer != compendium.Yes {
		return nil
	}
	drug := f.drug().Name
	var out []finding.Finding
	first := f.plan().FirstHomeDose
	if end, place, ok := hospitalEnd(f); ok && first.After(end) {
		x := here(f.order().TimingPlace, "the infusion in hospital ends "+notation.Instant(atHome(end, f), "")+" and the one at home begins "+
			notation.Instant(first, "")+": "+notation.Duration(first.Sub(end))+" without "+drug,
			"the home infusion running by "+notation.Instant(atHome(end, f), "")+": "+drug+" may not be stopped suddenly ("+flag.Source+")")[0]
		x.Evidence = []string{place.Expression}
		x.Remedy = "Pharmacist and nurse: plan the handover so that the home pump is connected before the hospital's is taken off; if that cannot be, the prescriber says what bridges the time."
		out = append(out, x)
	}
	t, i := f.quantities()["duration"], f.quantities()["interval"]
	if repeats(f) && t.Unit.ToBase(t.High).Less(i.Unit.ToBase(i.Low)) {
		pause := i.Unit.ToBase(i.Value).Sub(t.Unit.ToBase(t.Value))
		x := here(t.Place, "each container runs "+notation.Quantity(t.Value, t.Unit)+" and the next begins every "+notation.Quantity(i.Value, i.Unit)+": "+inWords(pause)+" without "+drug+" each time",
			"the next container before the last one is empty: "+drug+" may not be stopped suddenly ("+flag.Source+")")[0]
		x.Evidence = []string{i.Place.Expression}
		x.Remedy = "Pharmacist: fill for the whole interval, or bring the next container forward; ask the prescriber only where the pause is meant."
		out = append(out, x)
	}
	for n := range out {
		out[n].Standing = flag.Standing
	}
	return out
}
