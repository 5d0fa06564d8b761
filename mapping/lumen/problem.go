package lumen

// DefaultLimit is the budget of nodes when a Problem names none. A node is
// one start or one lumen tried; among more than 4096 starts it counts as
// several.
const DefaultLimit = 200_000

// Problem is one day of one patient's line, or a few days that repeat. All
// numbers are whole minutes. Names are shown to people as they are: write
// them as people read them, and without patient data.
type Problem struct {
	Lumens     []Lumen     // 1 to 3
	Infusions  []Infusion  // with Procedures at most 16
	Procedures []Procedure // blood draws, and flushes and locks of their own
	Pairs      []Pair      // what is known of two infusions; a pair that is not here is Unknown
	Sleep      []Span      // a wish, never a rule: as few handlings as possible in these hours
	Days       int         // until the timetable repeats, 1 to 7; 0 is 1
	Grid       int         // starts are multiples of it after midnight; 0: the largest that loses nothing
	Limit      int         // of nodes; 0: DefaultLimit
}

// Lumen is one lumen of the line.
type Lumen struct {
	Name  string // "red lumen"
	Draws bool   // blood may be drawn from it
}

// Infusion is one drug or fluid: all its doses in the timetable. Every dose
// runs through the same lumen, and two doses of it never overlap.
type Infusion struct {
	Name  string
	Times []int // scheduled starts, minutes after the first midnight; none when continuous
	// Each dose may start so much earlier or later than its time.
	Early, Late int
	// All doses together may be moved so much before that, keeping their
	// distances: "every 12 hours, at whatever hour" is 0 and 710 on a grid of
	// 10. Early, Late and these together stay below the length of the timetable.
	AnchorEarly, AnchorLate int
	// At least so much from start to start of two of its doses. 0 is not "no
	// rule": then it is three quarters of the smallest distance between its
	// times, up to the next 5 minutes. Common practice, no source.
	Least         int
	Duration      int   // of one dose, the longest of its window; 0 when continuous
	Continuous    bool  // runs all day
	Pause         int   // continuous: the longest stop for a draw; 0: never paused
	Before, After Steps // flushes and lock of each dose, in their order; none when continuous
	// Fluids of flushes and locks it may not meet, by name or code; compared by
	// what they are made of, in any spelling and strength. One that cannot be
	// read leaves the problem not decided.
	Avoids  []string
	OwnLine bool  // nothing else in that lumen
	NoBolus bool  // nothing may push what is in the lumen ahead of it
	Lumens  []int // indices of Problem.Lumens it may use; none: any
}

// Steps are flushes and locks that follow each other without a gap.
type Steps []Flush

// Flush is one flush or lock: the fluid by its name or code, see Infusion.Avoids, and
// how long it takes, at least 1 minute. Withdraw as fluid injects nothing.
type Flush struct {
	Fluid   string
	Minutes int
}

// Withdraw is the step that draws back what is in the lumen.
const Withdraw = "withdraw"

// Procedure is a blood draw, or a flush or lock for its own sake, as of a
// lumen that nothing else uses that day.
type Procedure struct {
	Name        string
	Times       []int // as for an infusion
	Early, Late int
	Blood       bool  // needs a lumen that allows draws, and After
	Minutes     int   // of the draw itself; 0 for a flush
	After       Steps // flush and lock
	Stop        int   // nothing runs in that lumen for so long before it
	Measures    []string
	Trough      *Trough
	Lumens      []int // as for an infusion
}

// Trough ties a draw to a dose: it starts Least to Most minutes before some
// dose of the infusion starts.
type Trough struct {
	Of          string
	Least, Most int
}

// Span is from one time of day until another, 0 to 1440; From after Until
// runs over midnight.
type Span struct{ From, Until int }

// Meeting is what two infusions may do in one lumen.
type Meeting int

// The meetings. Only a test of the two at the Y-site makes them Compatible:
// a conditional row is Apart until its condition is shown to hold.
const (
	Unknown         Meeting = iota // no row: never at the same time; one after the other with a flush between
	Compatible                     // tested at the Y-site: may run at the same time
	Apart                          // never at the same time; one after the other with a flush between
	Separate                       // never through one lumen
	Contraindicated                // never in this patient, at no time and through no lumen
)

// Pair is what is known of two infusions, in either order.
type Pair struct {
	A, B    string
	Meeting Meeting
}

func (s Steps) minutes() int {
	n := 0
	for _, f := range s {
		n += f.Minutes
	}
	return n
}

func (p *Problem) cycle() int { return 1440 * max(p.Days, 1) }

// least is the least distance between two doses on a circle of minutes. Doses
// as scheduled always keep the one that is not stated.
func (a *Infusion) least(circle int) int {
	if a.Least > 0 || len(a.Times) < 2 {
		return a.Least
	}
	smallest := circle
	for i, s := range a.Times {
		for j, t := range a.Times {
			if i != j {
				smallest = min(smallest, mod(t-s, circle))
			}
		}
	}
	return min(smallest, ceilTo((3*smallest+3)/4, 5))
}
