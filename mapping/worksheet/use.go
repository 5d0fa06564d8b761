package worksheet

// Use is until when the units of a delivery may be started and by when each
// must have run, with every limit that was looked at. Instants are RFC 3339
// in the zone of the patient's home, "" where there are no data.
type Use struct {
	Lot         string     `json:"lot,omitempty"`
	Made        string     `json:"made,omitempty"`
	IfMade      bool       `json:"ifMade"`            // nothing is made yet: all of this holds if it is made at Made
	Kind        string     `json:"kind"`              // prepared mixed-at-use syringe-push premix
	Storage     string     `json:"storage,omitempty"` // room refrigerated frozen
	Running     string     `json:"running,omitempty"` // how warm it runs: room, worn
	StartBefore string     `json:"startBefore,omitempty"`
	Binding     string     `json:"binding,omitempty"` // of of the limit that decides
	Limits      []UseLimit `json:"limits"`            // until when it may be started: earliest first, those without data last
	InUse       []UseLimit `json:"inUse,omitempty"`   // by when the first dose must have run
	Doses       []UseDose  `json:"doses,omitempty"`
	Says        []string   `json:"says,omitempty"`
}

// UseLimit is one limit. Until is "" where there are no data: Says tells
// what is missing. Of is record sterility stability component run in-use
// after hang-time; Layer category formula data label.
type UseLimit struct {
	Of       string `json:"of"`
	From     string `json:"from,omitempty"`
	Until    string `json:"until,omitempty"`
	Hours    string `json:"hours,omitempty"` // decimal
	Layer    string `json:"layer,omitempty"`
	Source   string `json:"source,omitempty"`
	Standing string `json:"standing,omitempty"`
	Says     string `json:"says,omitempty"`
}

// UseDose is one planned dose. TooLate: it starts after StartBefore. TooLong:
// at the slowest it runs past FinishBy.
type UseDose struct {
	Start     string `json:"start"`
	FinishBy  string `json:"finishBy,omitempty"`
	RunsUntil string `json:"runsUntil,omitempty"`
	TooLate   bool   `json:"tooLate,omitempty"`
	TooLong   bool   `json:"tooLong,omitempty"`
}

// Expected is the volume that should be left at an instant, at the nominal
// flow and between the fastest and the slowest the device may have.
type Expected struct {
	Of    string `json:"of"` // half-way, earliest end, end
	At    string `json:"at"`
	Low   string `json:"low"`
	Value string `json:"value"`
	High  string `json:"high"`
	Unit  string `json:"unit"`
}
