package schedule

import (
	_ "embed"
	"encoding/json"
	"strings"
	"sync"
)

//go:embed states.json
var statesFile []byte

var states = sync.OnceValue(func() map[string]string {
	var file struct{ Zones map[string][]string }
	if err := json.Unmarshal(statesFile, &file); err != nil || len(file.Zones) == 0 {
		panic("the table of states and zones cannot be read") // a fault of this build, caught by the first test
	}
	m := map[string]string{}
	for zone, list := range file.Zones {
		for _, s := range list {
			m[s] = zone
		}
	}
	return m
})

// OfState is the IANA zone of a state of the United States that lies wholly
// in one zone, "" for any other. Country must be US, USA or absent.
func OfState(state, country string) string {
	switch strings.ToUpper(strings.TrimSpace(country)) {
	case "", "US", "USA":
		return states()[strings.ToUpper(strings.TrimSpace(state))]
	}
	return ""
}
