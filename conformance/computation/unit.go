package computation

import (
	"strings"

	"weir.example/weir/mapping/quantity"
)

// ParseUnits reads NAME=UNIT: the unit somebody wants a NAME answered in.
func ParseUnits(list []string) (map[string]quantity.Unit, error) {
	out := map[string]quantity.Unit{}
	for _, text := range list {
		name, code, ok := strings.Cut(text, "=")
		n, known := lookup(name)
		if !ok || !known || n.Unit == "" {
			return nil, &ArgumentError{text, "is not NAME=UNIT", "for example rate=mL/min; weir compute --list names all"}
		}
		u, err := quantity.ParseUnit(code)
		if err != nil {
			return nil, &ArgumentError{text, err.Error(), "give a UCUM unit"}
		}
		if !n.fits(u) {
			return nil, &ArgumentError{text, "asks for a unit of " + u.Dimension().String(), "give a unit such as " + n.example()}
		}
		out[name] = u
	}
	return out, nil
}

// fits reports whether a NAME can be answered in the unit for any drug.
func (n Name) fits(u quantity.Unit) bool {
	for _, a := range amounts {
		if own, ok := n.InUnit(a.dimension); ok {
			if _, ok := u.As(own.Dimension()); ok {
				return true
			}
		}
	}
	return false
}

func (n Name) example() string {
	u, _ := n.InUnit(quantity.Mass)
	return u.Code()
}
