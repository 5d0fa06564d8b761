package verification

import (
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/plan"
	"weir.example/weir/mapping/quantity"
)

// onBody is how the plan says that a dose runs near the body, 31 to 33
// degrees Celsius.
const onBody = "worn"

// shortRun is the run up to which missing data are only noted (common
// practice, no source).
const shortRun = 2 * time.Hour

// runningOf are the deliveries of which the plan tells how their doses run.
func runningOf(f Facts) []plan.Delivery {
	return slices.DeleteFunc(slices.Clone(f.plan().Deliveries), func(d plan.Delivery) bool { return len(d.Use.Doses) == 0 })
}

// oneRun is how long one infusion takes: as ordered or as the device in hand
// is set, and at the slow end of its tolerance. What the step of a pump adds
// to the time ordered, up to the difference that the policy lets pass between
// two statements of one number, is no longer run.
func oneRun(f Facts) (nominal, slowest time.Duration) {
	p := f.plan()
	nominal = max(p.Duration, p.RunTime)
	if part, ok := f.policy().Dose.ArithmeticWarn.Mul(quantity.Int(int64(p.Duration))).Floor(); ok && p.Duration > 0 && nominal-p.Duration <= time.Duration(part) {
		nominal = p.Duration
	}
	return nominal, max(nominal, p.LongestRun)
}

// overrun is a dose that runs longer than its limit allows.
type overrun struct {
	limit      plan.Limit
	start      time.Time
	need, most time.Duration // as set, and at the slowest; with the warm-up where it counts
	warm       time.Duration // of it before the start
}

// overruns are those of one delivery, the first dose of each limit. A unit
// not yet made can be made just before it starts: what its storage would take
// from the same time is not held against it.
func overruns(f Facts, d plan.Delivery) (out []overrun) {
	nominal, slowest := oneRun(f)
	if nominal <= 0 {
		return nil
	}
	for _, dose := range d.Use.Doses {
		for _, l := range dose.Ends {
			if l.Until.IsZero() || slices.ContainsFunc(out, func(o overrun) bool { return o.limit.Of == l.Of }) {
				continue
			}
			x := overrun{limit: l, start: dose.Start, warm: max(0, dose.Start.Sub(l.From))}
			most := l.Until.Sub(l.From)
			if d.Use.Assumed && l.From.Equal(d.Use.Made) {
				x.warm = 0
			}
			x.need, x.most = x.warm+nominal, x.warm+slowest
			if most < x.most {
				out = append(out, x)
			}
		}
	}
	return out
}

func (x overrun) shown(f Facts) string {
	nominal, slowest := oneRun(f)
	text := "the dose begun " + notation.Instant(atHome(x.start, f), "") + " runs " + notation.Duration(nominal)
	if nominal < slowest {
		text += ", at the slowest " + notation.Duration(slowest)
	}
	if x.warm > 0 {
		text += ", and its time counts from " + notation.Duration(x.warm) + " before"
	}
	return text
}

var ofRun = map[string]string{plan.OfHang: " once it hangs", plan.OfAfter: " after its storage"}

// runTime: row f3. Warm-up and run together are held to what is known at the
// temperature at which the dose runs. What only the slow end of the device's
// tolerance passes is a warning, as for the fast end of a rate.
func runTime(f Facts) []finding.Finding {
	for _, slow := range []bool{false, true} {
		for _, d := range runningOf(f) {
			for _, x := range overruns(f, d) {
				limit := x.limit.Until.Sub(x.limit.From)
				if slow != (x.need <= limit) {
					continue
				}
				says := ofRun[x.limit.Of]
				switch {
				case says != "":
				case d.Use.Running == onBody:
					says = " at the temperature of a worn device"
				default:
					says = " at room temperature"
				}
				out := here(f.order().TimingPlace, x.shown(f), "at most "+notation.Duration(limit)+says+" ("+x.limit.Source+")")
				out[0].Standing = x.limit.Standing
				if slow {
					out[0].AtMost = finding.Warn
				}
				return out
			}
		}
	}
	return nil
}

// noData: nothing tells how long the dose keeps while it runs, nor how long it
// may hang.
func noData(d plan.Delivery) bool {
	return slices.ContainsFunc(d.Use.Doses, func(x plan.DoseUse) bool {
		return !slices.ContainsFunc(x.Ends, func(l plan.Limit) bool { return !l.Until.IsZero() })
	})
}

func runLacks(f Facts) []Fact {
	list := runningOf(f)
	if len(list) == 0 {
		if len(f.plan().HomeDoses) == 0 {
			return []Fact{HomeDoses}
		}
		return []Fact{Dating} // delivered before now, or given: nothing is left to date
	}
	var out []Fact
	for _, d := range list {
		if warmthOpen(d) {
			out = append(out, Warmth)
		}
	}
	return unique(out)
}

// notTimed: how long one infusion takes is not known.
func notTimed(f Facts) []Fact {
	if nominal, _ := oneRun(f); nominal <= 0 {
		return []Fact{RunTime}
	}
	return nil
}

// runUnknown: without data there is no limit to hold the run to. Which of the
// two rules below says so hangs on how long it runs.
func runUnknown(f Facts) []Fact {
	out := runLacks(f)
	for _, d := range runningOf(f) {
		if noData(d) {
			out = append(out, TableLimit)
		} else {
			out = append(out, notTimed(f)...)
		}
	}
	return unique(out)
}

// noDataUnknown: which of the two rules speaks hangs on how long it runs.
func noDataUnknown(f Facts) []Fact {
	out := runLacks(f)
	if slices.ContainsFunc(runningOf(f), func(d plan.Delivery) bool { return d.Use.Running == onBody && noData(d) }) {
		out = append(out, notTimed(f)...)
	}
	return out
}

// warmthOpen: the device is not known. A push has none, and is over in minutes.
func warmthOpen(d plan.Delivery) bool {
	return d.Use.Running == "" && d.Use.Kind != compendium.SyringePush
}

// wornDoses: a dose runs near the body, or nobody can tell.
func wornDoses(f Facts) bool {
	list := runningOf(f)
	return len(list) == 0 || slices.ContainsFunc(list, func(d plan.Delivery) bool { return d.Use.Running == onBody || warmthOpen(d) })
}

// noDataFound: row f3, a worn dose without data, apart for short and long
// runs. A room where people sit is what labels mean by room temperature; a
// worn device is warmer, and what was measured colder says nothing of it.
func noDataFound(long bool) func(Facts) []finding.Finding {
	return func(f Facts) []finding.Finding {
		nominal, _ := oneRun(f)
		if nominal <= 0 || long != (nominal > shortRun) {
			return nil
		}
		for _, d := range runningOf(f) {
			if d.Use.Running != onBody || !noData(d) {
				continue
			}
			says := noDataSays
			if i := slices.IndexFunc(d.Use.Says, func(t string) bool { return strings.HasPrefix(t, noDataSays) }); i >= 0 {
				says = d.Use.Says[i]
			}
			return here(f.order().TimingPlace, "it runs "+notation.Duration(nominal)+" near the body: "+says,
				"how long it keeps"+bodyWarmth()+" in this container, fluid and strength, from a study or the site's own signed formula")
		}
		return nil
	}
}

// noDataSays is how the plan begins the words on what has no data.
const noDataSays = "no data on how long it keeps while it runs"

// bodyWarmth is what a worn device is tested at, as the table of devices says.
func bodyWarmth() string {
	for _, d := range compendium.DevicesOf("elastomeric") {
		if x, ok := d.Values.One("worn", ""); ok {
			return " at " + x.Low + " to " + x.High + " degrees Celsius"
		}
	}
	return " near the body"
}
