package lumen

// Outcome is one of three, and no other.
type Outcome string

// The outcomes. Impossible is a proof; NotDecided is none and never counts as
// either of the others.
const (
	Placed     Outcome = "placed"
	Impossible Outcome = "impossible"
	NotDecided Outcome = "not decided"
)

// Result is the answer to a Problem.
type Result struct {
	Outcome Outcome
	Unknown []string // NotDecided: what is missing, contradictory or too large, in words

	Grid        int  // minutes; every start is a multiple of it
	EveryMinute bool // the grid loses nothing: the answer holds for every start at all
	Nodes       int  // tried in all; never above the limit

	// Placed:
	Blocks     []Block
	Placements []Placement // one for each infusion, then one for each procedure, in the order of the Problem
	Idle       []int       // lumens in which nothing is planned: they need a flush and lock of their own
	Shared     int         // pairs of infusions not known to be compatible that share a lumen, a flush between
	Asleep     int         // handlings that fall into the hours of sleep
	Moved      int         // minutes between scheduled and placed starts, all together
	Best       bool        // no placement has fewer of Shared, then Asleep, then Moved

	// Impossible:
	Conflict Conflict
	Change   *Change // nil: no single change makes a placement, or none was decided
	Tried    string  // what the search for a change covered, in words
}

// Placement is where an infusion or procedure went. Starts are minutes after
// the first midnight, in the order of its times; none when continuous.
type Placement struct {
	Name   string
	Lumen  int
	Starts []int
}

// Block is one stretch of one lumen. To may pass the end of the timetable: it
// then goes on at its beginning.
type Block struct {
	Lumen    int
	Name     string // of the infusion or procedure
	What     string // infusion, flush, draw, pause
	Fluid    string // of a flush
	From, To int
}

// Conflict is a set of items and rules that contradict each other.
type Conflict struct {
	Items   []string // infusions and procedures, in the order of the Problem
	Rules   []Rule
	Minimal bool // without any one item, or any one rule, there is a placement
}

// Change is one change to the order or the line that makes a placement. What
// comes first: another lumen that is there; then the fewest minutes beyond
// what is allowed, one dose before all doses of an infusion; then a draw from
// the lumen of the drug it measures; then one lumen more, then two. Among
// equals the first in the Problem.
type Change struct {
	Kind     ChangeKind
	Name     string // the infusion or procedure
	Dose     int    // MoveDose: index in its times
	Minutes  int    // MoveDose, MoveAll: beyond what is allowed, and no fewer will do
	Lumens   int    // MoreLumens: how many more
	Smallest bool   // every change that comes before it was shown not to be enough
	Blocks   []Block
	Says     string // in words
}

// ChangeKind is what a Change changes.
type ChangeKind string

// The kinds, in the order of Change.
const (
	OtherLumen  ChangeKind = "other-lumen"
	MoveDose    ChangeKind = "move-dose"
	MoveAll     ChangeKind = "move-all-doses"
	DrawFromOwn ChangeKind = "draw-from-lumen-of-drug"
	MoreLumens  ChangeKind = "more-lumens"
)
