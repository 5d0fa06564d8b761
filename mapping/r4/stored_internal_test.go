package r4

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/element"
)

// What is without the clock is what is written when every text of the clock in
// an element that holds it is empty, wherever it stands.
func TestWithoutTheClockNothingElseIsLeftOut(t *testing.T) {
	const now = "2027-01-12T11:00:00Z"
	at, other := element.Str(now), element.Str("2027-01-12T11:00:01Z")
	for name, v := range map[string][]element.Field{
		"nothing":                 {element.F("a", element.Str("x"))},
		"no member":               {},
		"one":                     {element.F("a", element.Str("x")), element.F("authoredOn", at)},
		"two, and more behind":    {element.F("a", element.Str("x")), element.F("authoredOn", at), element.F("lastModified", at), element.F("b", element.Int(1))},
		"another element":         {element.F("a", element.Str("x")), element.F("end", at), element.F("recorded", at)},
		"another instant":         {element.F("a", element.Str("x")), element.F("created", other)},
		"first of its object":     {element.F("a", element.Obj(element.F("created", at), element.F("b", element.Str("x"))))},
		"alone in its object":     {element.F("a", element.Obj(element.F("created", at))), element.F("b", element.Str("x"))},
		"in a list":               {element.F("recorded", element.List(at, other)), element.F("b", element.Str("x"))},
		"alone in a list":         {element.F("recorded", element.List(at)), element.F("b", element.Str("x"))},
		"in a list of another":    {element.F("event", element.List(other, at)), element.F("created", at)},
		"in words":                {element.F("text", element.Str(`"`+now+`" ,"created":"`+now+`"`)), element.F("created", at)},
		"a longer word behind it": {element.F("text", element.Str(now+"x")), element.F("xcreated", at), element.F("created", at)},
	} {
		t.Run(name, func(t *testing.T) {
			e := entry{kind: "Task", id: "i", fields: v}
			want := string(element.AppendAs(nil, e.resource(), func(name, text string) string {
				if text == now && clocked[name] {
					return ""
				}
				return text
			}))
			s := shelf{stored: func(_, text string) string { return text }, now: now}
			for range 2 {
				m := s.made(e)
				assert.Equal(t, string(element.Compact(e.resource())), string(m.JSON()))
				assert.Equal(t, want, string(s.lasting(m.JSON())))
			}
		})
	}
}
