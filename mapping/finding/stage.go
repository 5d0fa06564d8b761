package finding

import (
	"cmp"
	"slices"
)

// Stage is a moment in the life of an order. A code gates from its stage on;
// before it the same fact is an open task with a due time.
type Stage string

// The stages in order. Every is for codes that gate at each of them.
const (
	Intake   Stage = "intake"
	Release  Stage = "release"
	Pack     Stage = "pack"
	Dispatch Stage = "dispatch"
	Start    Stage = "start"
	Close    Stage = "close"
	Every    Stage = "every"
)

// Stages lists the stages in order, without Every.
var Stages = []Stage{Intake, Release, Pack, Dispatch, Start, Close}

// Valid reports whether s is a stage at which an order can be judged.
func (s Stage) Valid() bool { return slices.Contains(Stages, s) }

// Compare orders stages from intake to close.
func (s Stage) Compare(other Stage) int {
	return cmp.Compare(slices.Index(Stages, s), slices.Index(Stages, other))
}

// Reached reports whether a code of stage s gates when an order is judged at
// the stage at. Every, and the empty stage of document codes, always do; a
// stage that is not known counts as reached, the safe side.
func (s Stage) Reached(at Stage) bool {
	if !s.Valid() || !at.Valid() {
		return true
	}
	return s.Compare(at) <= 0
}
