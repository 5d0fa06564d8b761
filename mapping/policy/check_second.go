package policy

import (
	"fmt"
	"slices"
	"sync"

	"weir.example/weir/mapping/compendium"
)

// kinds are those a drug can have: of the table's rows, and of the defaults.
var kinds = sync.OnceValue(func() []string {
	out := slices.Clone(defaultSecond().Kinds)
	for _, d := range compendium.Embedded().Drugs {
		out = append(out, d.Kinds...)
	}
	slices.Sort(out)
	return slices.Compact(out)
})

// secondCheck: a site adds to the defaults and takes nothing away (see
// SecondCheck). A kind that no drug has would be passed over unseen.
func (c *checker) secondCheck() {
	s := c.p.SecondCheck
	for i, kind := range s.Kinds {
		if key := fmt.Sprintf("secondCheck.kinds[%d]", i); !slices.Contains(kinds(), kind) {
			problem := fmt.Sprintf("is %.40q, which no drug has", kind)
			if near := c.r.near(kind, kinds(), 2); near != "" {
				problem += ", probably " + near + " was meant"
			}
			c.refuse(key, problem, "a kind as in the drug table, such as antineoplastic")
		}
	}
	for i, name := range s.Names {
		if !genericName.MatchString(name) || !printable(name) {
			c.refuse(fmt.Sprintf("secondCheck.names[%d]", i), fmt.Sprintf("is %.40q", name), "words of a generic name, lower case")
		}
	}
	once(c, "secondCheck.kinds", s.Kinds)
	once(c, "secondCheck.names", s.Names)
	if !s.Children {
		c.refuse("secondCheck.children", "is false", "true, or no such key: no site takes the second person from a child")
	}
	if !s.Hazardous {
		c.refuse("secondCheck.hazardous", "is false", "true, or no such key: no site takes the second person from a hazardous drug")
	}
}

// withDefaults are the site's lists behind those of the program.
func (s SecondCheck) withDefaults() SecondCheck {
	d := defaultSecond()
	s.Kinds, s.Names = joined(d.Kinds, s.Kinds), joined(d.Names, s.Names)
	return s
}

func joined(first, more []string) []string {
	out := slices.Clone(first)
	for _, x := range more {
		if !slices.Contains(first, x) {
			out = append(out, x)
		}
	}
	return out
}
