package r4

import (
	_ "embed"
	"encoding/json"
	"slices"
	"strings"
	"sync"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

//go:embed laboratory.json
var laboratoryFile []byte

// laboratoryOrder is one test or panel that may be ordered, and what it
// measures by the names of the drug tables.
type laboratoryOrder struct{ LOINC, Words, Tests []string }

var laboratoryOrders = sync.OnceValue(func() []laboratoryOrder {
	var file struct{ Orders []laboratoryOrder }
	if err := json.Unmarshal(laboratoryFile, &file); err != nil {
		panic("mapping/r4: laboratory.json: " + err.Error())
	}
	return file.Orders
})

// testsOf is what a laboratory order measures: by its LOINC codes, else by
// whole words of its text. What is in neither list measures nothing known.
func testsOf(c order.Concept) []string {
	var out []string
	add := func(l laboratoryOrder) {
		for _, t := range l.Tests {
			if !slices.Contains(out, t) {
				out = append(out, t)
			}
		}
	}
	for _, l := range laboratoryOrders() {
		if slices.ContainsFunc(c.Codings, func(k order.Coding) bool { return k.System == loinc && slices.Contains(l.LOINC, k.Code) }) {
			add(l)
		}
	}
	if len(out) > 0 {
		return out
	}
	text := " " + strings.Join(wordPattern.FindAllString(words(c), -1), " ") + " "
	for _, l := range laboratoryOrders() {
		if slices.ContainsFunc(l.Words, func(w string) bool { return strings.Contains(text, " "+w+" ") }) {
			add(l)
		}
	}
	return out
}

// everySpan is the time from one occurrence to the next on average: of a
// period with so many in it, or with so many days of the week; a month counts
// as 30 days and a year as 365. 0 when the service does not repeat.
func everySpan(repeat element.Node) order.Span {
	unit := map[string]time.Duration{"h": time.Hour, "d": 24 * time.Hour, "wk": 7 * 24 * time.Hour, "mo": 30 * 24 * time.Hour, "a": 365 * 24 * time.Hour}[repeat.Get("periodUnit").Text()]
	period, ok := whole(repeat, "period")
	frequency, known := whole(repeat, "frequency")
	if !ok || !known || period <= 0 {
		return 0
	}
	times := max(frequency, 1)
	if days := len(repeat.Get("dayOfWeek").Each()); repeat.Get("periodUnit").Text() == "wk" {
		times = max(times, days)
	}
	return unit * time.Duration(period) / time.Duration(times)
}

// drawnFrom is where a specimen was drawn, in words: of the result, else of
// its specimen.
func (c *caseScope) drawnFrom(s *resource) string {
	site := concept(s.node.Get("bodySite")).Name()
	if ref := s.node.Get("specimen"); ref.Exists() && site == "" {
		if t := c.touch(ref, s); t != nil && t.kind == "Specimen" {
			at := t.node.Get("collection")
			site = firstText(concept(at.Get("bodySite")).Name(), concept(at.Get("method")).Name())
		}
	}
	return site
}
