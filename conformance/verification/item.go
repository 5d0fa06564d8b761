package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

// ItemOf is a concept as the tables are asked: with every code and text it
// carries.
func ItemOf(c order.Concept) compendium.Item {
	i := compendium.Item{Names: []string{c.Text}}
	for _, k := range c.Codings {
		switch k.System {
		case compendium.RxNorm:
			i.RxNorm = append(i.RxNorm, k.Code)
		case compendium.ATC:
			i.ATC = append(i.ATC, k.Code)
		}
		i.Names = append(i.Names, k.Display)
	}
	i.Names = slices.DeleteFunc(i.Names, func(n string) bool { return strings.TrimSpace(n) == "" })
	return i
}
