package worksheet

// Computation is the answer of the arithmetic alone: the numbers that were
// given and all that follow, what disagrees, what could not be checked, and
// what one more number would add.
type Computation struct {
	Verdict    string              `json:"verdict"` // ready hold block; indeterminate when nothing could be compared
	Quantities map[string]Quantity `json:"quantities"`
	Given      map[string]string   `json:"given,omitempty"` // words, instants and steps that were given
	Findings   []Finding           `json:"findings"`
	NotChecked []NotChecked        `json:"notChecked"`
	Next       []Next              `json:"next"`
	Outside    []Outside           `json:"outside"`
	Cautions   []string            `json:"cautions"`
}

// Next is one more NAME to give and what it would let be worked out.
type Next struct {
	Give  string   `json:"give"`
	Gives []string `json:"gives"`
}

// Outside is an equation asked of values it does not hold for.
type Outside struct {
	Equation string `json:"equation"`
	Name     string `json:"name"`
	Says     string `json:"says"`
}
