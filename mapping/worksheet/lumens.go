package worksheet

// Lumens is the day of the patient's line: every infusion that runs through
// it in the days of this order, with flushes, locks and blood draws.
type Lumens struct {
	Outcome    string           `json:"outcome"` // placed, impossible, not decided
	Names      []string         `json:"names"`   // of the lumens
	Placements []LumenPlacement `json:"placements"`
	Stretches  []LumenStretch   `json:"stretches"`
	Says       []string         `json:"says,omitempty"`
}

// LumenPlacement is one infusion or blood draw in its lumen. Starts and
// Ordered are local clock times, 09:00; none when it runs all day.
type LumenPlacement struct {
	Name    string   `json:"name"`
	Lumen   string   `json:"lumen"`
	Starts  []string `json:"starts"`
	Ordered []string `json:"ordered,omitempty"` // where they differ
}

// LumenStretch is one stretch of one lumen, by local clock. Until is on the
// next day when it is not after From.
type LumenStretch struct {
	Lumen string `json:"lumen"`
	From  string `json:"from"`
	Until string `json:"until"`
	What  string `json:"what"` // infusion, flush, draw, pause
	Name  string `json:"name"`
	Fluid string `json:"fluid,omitempty"` // of a flush; withdraw: what is in the lumen is drawn back
}
