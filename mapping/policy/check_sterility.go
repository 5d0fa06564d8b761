package policy

import "weir.example/weir/mapping/compendium"

// sterility: one of the rows of the table of sterility limits, or nothing at
// all.
func (c *checker) sterility() {
	s := c.p.Sterility
	if s.Category == "" {
		for _, x := range []struct{ key, value string }{{"sterility.method", s.Method}, {"sterility.components", s.Components}} {
			if x.value != "" {
				c.refuse(x.key, "stands without a category", "sterility.category: 1, 2 or 3")
			}
		}
		return
	}
	c.word("sterility.category", s.Category, "1", "2", "3")
	c.word("sterility.method", s.Method, "aseptic", "terminal")
	c.word("sterility.components", s.Components, "sterile", "nonsterile")
	c.said("sterility.source", s.Source, from)
	if !c.fine("sterility.category", "sterility.method", "sterility.components") {
		return
	}
	if _, ok := compendium.CategoryLimit(s.Category, s.Method, s.Tested, s.Components, "room"); !ok {
		c.refuse("sterility.category", "is "+s.Category+", for which the table has no limit with this method, test and components", "a row of the table of sterility limits")
	}
}
