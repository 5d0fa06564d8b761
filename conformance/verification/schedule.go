package verification

import (
	"fmt"
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

func zoneUnknown(f Facts) []finding.Finding {
	if f.Has(Zone) {
		return nil
	}
	return here(below(f.kase().Patient.Place, "address"), "no time zone for the home", "the IANA zone of the patient's home; never the server's")
}

// home is how many doses are due at home, and whether that is known.
func home(f Facts) (int, bool) {
	p := f.plan()
	return len(p.HomeDoses), p.Complete && !p.FirstHomeDose.IsZero()
}

func homeUnknown(f Facts) []Fact {
	if _, ok := home(f); !ok {
		return []Fact{HomeDoses}
	}
	return nil
}

func quantityOrdered(f Facts) bool { return f.order().Ordered.Doses > 0 }

// quantityDiffers tells the ordered quantity from the home count. The
// surplus is explained when it is just the doses of the hospital; for a
// controlled drug never.
func quantityDiffers(f Facts) (ordered, due, hospital int, explained, differs bool) {
	ordered, hospital = f.order().Ordered.Doses, f.plan().HospitalCount
	due, _ = home(f)
	controlled := f.drug().Is("opioid") || f.order().Controlled != nil
	return ordered, due, hospital, !controlled && hospital > 0 && ordered-due == hospital, ordered != due
}

func quantityFinding(f Facts, want bool) []finding.Finding {
	ordered, due, hospital, explained, differs := quantityDiffers(f)
	if spare := ordered - due; !differs || explained != want || !explained && spare > 0 && spare <= f.policy().Delivery.SpareLeast {
		return nil // a spare or two beyond the count is policy, not a miscount
	}
	expected := fmt.Sprintf("%d doses at home", due)
	if explained {
		expected = fmt.Sprintf("%d doses at home; %d is the whole course, with %d given or scheduled in hospital", due, ordered, hospital)
	}
	x := here(f.order().Ordered.Place, fmt.Sprintf("%d doses ordered", ordered), expected)
	x[0].Remedy = fmt.Sprintf("Ask the prescriber: %d starts were counted from the first home dose to the end of the course.", due)
	if explained {
		x[0].Remedy = fmt.Sprintf("Dispense for %d doses, and tell the prescriber how they were counted.", due)
	}
	return x
}

func scheduleQuantity(f Facts) []finding.Finding          { return quantityFinding(f, false) }
func scheduleQuantityExplained(f Facts) []finding.Finding { return quantityFinding(f, true) }

func quantityAbsent(f Facts) []finding.Finding {
	if quantityOrdered(f) {
		return nil
	}
	return here(below(f.order().Place, "dispenseRequest.quantity"), "no quantity ordered", "nothing: the home doses are counted from the schedule")
}

func startPassed(f Facts) []finding.Finding {
	p := f.plan()
	if !p.StartPassed {
		return nil
	}
	return here(f.order().TimingPlace, "the first home dose was due "+notation.Instant(p.FirstHomeDose, "")+" and no record says it was given",
		"a record of that dose, or a new plan from the dose given last")
}

// firstDoseGap: rule a10, the first home dose against the interval since the
// last dose given; doses scheduled in hospital until discharge are not a gap.
func firstDoseGap(f Facts) []finding.Finding {
	p := f.plan()
	if !hasGap(f) {
		return nil
	}
	gap := p.Gap
	if p.Discharge.After(p.FirstHomeDose.Add(-p.Gap)) {
		for gap > p.Interval && p.FirstHomeDose.Add(-gap).Add(p.Interval).Before(p.Discharge) {
			gap -= p.Interval
		}
	}
	times := quantity.Ratio(int64(gap), int64(p.Interval))
	if !times.Less(f.policy().Dose.FirstDoseEarly.Number) && !f.policy().Dose.FirstDoseLate.Less(times) {
		return nil
	}
	return here(f.order().TimingPlace, notation.Duration(p.Gap)+" between the last dose given and the first home dose",
		"about "+notation.Duration(p.Interval)+", the ordered interval")
}

// hasGap: a dose given is on record and doses follow evenly. Without one,
// record-last-dose-unknown speaks.
func hasGap(f Facts) bool { return f.plan().Gap != 0 && f.plan().Interval > 0 }

// clockChange shows both times of the first place where elapsed time and the
// wall clock part: the end of an infusion before doses that move.
func clockChange(f Facts) []finding.Finding {
	p := f.plan()
	if len(p.Changes) == 0 {
		return nil
	}
	c := p.Changes[0]
	for _, x := range p.Changes {
		if x.Of == "infusion-end" {
			c = x
			break
		}
	}
	what := map[string]string{"infusion-end": "the infusion would end", "dose-times": "the doses would fall at", "dose-in-gap": "a dose would fall at", "dose-in-overlap": "a dose would fall at"}[c.Of]
	x := here(f.order().TimingPlace, "by the wall clock "+what+" "+notation.Instant(c.Wall, ""), "by elapsed time it is "+notation.Instant(c.Elapsed, p.Zone.Name))
	for _, s := range f.kase().Services {
		for _, w := range s.When {
			if s.Kind == "visit" && !w.DateOnly && w.Time.Equal(c.Wall) {
				x[0].Remedy = "Move the booked visit from " + notation.Instant(c.Wall, "") + " to " + notation.Instant(c.Elapsed, "") + "."
				x[0].Evidence = append(x[0].Evidence, w.Place.Expression)
			}
		}
	}
	return x
}

// replacementStart: a changed order must say when its first dose falls after
// the last one of the order it replaces.
func replacementStart(f Facts) []finding.Finding {
	if !f.plan().Replacement {
		return nil
	}
	return here(f.order().TimingPlace, "it replaces an order and names no start", "when the first dose falls after the last one of the old order")
}

// doseAfterDiscard: units already made whose doses would start after their
// beyond-use instant.
func doseAfterDiscard(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, b := range f.plan().Prepared {
		if len(b.TooLate) == 0 {
			continue
		}
		place, until := f.order().Place, b.BeyondUse
		if until.IsZero() { // not dated, and still held to what is known
			until = b.Until
		}
		for _, made := range f.kase().Held.Prepared {
			if made.Lot == b.Lot && made.Place.Expression != "" {
				place = made.Place
			}
		}
		out = append(out, here(place, fmt.Sprintf("%d of %d prepared units would be started after %s, the first at %s", len(b.TooLate), b.Units,
			notation.Instant(atHome(until, f), ""), notation.Instant(b.TooLate[0], "")),
			fmt.Sprintf("%d units made again; the others can be used", len(b.TooLate)))...)
	}
	return out
}

// atHome is the instant on the clock of the home, where that is known.
func atHome(t time.Time, f Facts) time.Time {
	if z := f.plan().Zone; z.Known() {
		return t.In(z.Location)
	}
	return t
}

func unitsMade(f Facts) bool { return len(f.plan().Prepared) > 0 }

// deliveryLate: no delivery can serve a dose. What is observed is the proof,
// what is expected the changes that would make one possible.
func deliveryLate(f Facts) []finding.Finding {
	for _, d := range f.plan().Deliveries {
		if !d.Late {
			continue
		}
		observed := "the delivery for the dose of " + notation.Instant(d.FirstDose, "") + " would have to arrive by " + notation.Instant(d.Arrival, "") + ", which has passed"
		expected := "arrival " + notation.Duration(d.FirstDose.Sub(d.Arrival)) + " before the dose, or a later start agreed with the prescriber"
		if proof := d.Impossible; proof != nil {
			observed = proof.Says
			var ways []string
			for _, r := range proof.Remedies {
				ways = append(ways, r.Says)
			}
			expected = strings.Join(ways, "; or ")
			if len(ways) == 0 {
				expected = "no single change makes a delivery possible: ask the prescriber when the course can start"
			}
		}
		return here(f.order().TimingPlace, observed, expected)
	}
	return nil
}

func deliveryMoved(f Facts) []finding.Finding {
	for _, d := range f.plan().Deliveries {
		if d.Moved && !d.Late {
			return here(f.order().TimingPlace, "a delivery falls on a day without delivery", "arrival "+notation.Instant(d.Arrival, ""))
		}
	}
	return nil
}

func hasDeliveries(f Facts) bool { return len(f.plan().Deliveries) > 0 }
