package policy

import (
	"fmt"
	"slices"
	"sync"

	"weir.example/weir/mapping/compendium"
)

// rows are the names of the drugs that have a row: a key is looked up by
// them, and one by another name would be passed over unseen.
var rows = sync.OnceValue(func() []string {
	var out []string
	for _, d := range compendium.Embedded().Drugs {
		out = append(out, d.Name)
	}
	slices.Sort(out)
	return out
})

// row asks for the exact name of a drug with a row.
func (c *checker) row(key, name string) {
	const need = "the exact name of a drug as `weir tables drug NAME` prints it"
	if slices.Contains(rows(), name) {
		return
	}
	near := c.r.near(name, rows(), 2)
	if d, why := compendium.Embedded().Find(compendium.Named("", name)); why == "" {
		near = d.Name
	}
	if near != "" {
		c.refuse(key, "names a drug that has no row", need+", probably "+near)
		return
	}
	c.refuse(key, "names a drug that has no row, so nothing would follow from it", need)
}

// hazard: hours of precautions and classes of waste by drug. Nobody relaxes
// the precautions to none here; what is shorter than a day is days written
// as hours.
func (c *checker) hazard() {
	h := c.p.Hazard
	for _, drug := range sortedKeys(h.BodyFluidHoursByDrug) {
		key := "hazard.bodyFluidHoursByDrug." + plain(drug)
		c.row(key, drug)
		if n := h.BodyFluidHoursByDrug[drug]; c.fine(key) {
			c.count(key, n, 24, 168)
		}
	}
	for _, drug := range sortedKeys(h.WasteByDrug) {
		key := "hazard.wasteByDrug." + plain(drug)
		c.row(key, drug)
		if c.fine(key) {
			c.word(key, h.WasteByDrug[drug], "listed", "bulk", "trace", "household", "local")
		}
	}
}

// assessments: an assessment of risk names who, why and when; whether it may
// relax is decided against the listing (Relax).
func (c *checker) assessments() {
	seen := map[string]bool{}
	for i, a := range c.p.Hazard.Assessments {
		key := func(k string) string { return fmt.Sprintf("hazard.assessments[%d].%s", i, k) }
		c.drug(key("drug"), a.Drug)
		if seen[a.Drug] && a.Drug != "" {
			c.refuse(key("drug"), fmt.Sprintf("has %.40q for the second time", a.Drug), "each drug once")
		}
		seen[a.Drug] = true
		for _, x := range []struct {
			key, value string
			words      []string
		}{{"closedTransfer", a.ClosedTransfer, []string{"required", "by-policy", "no"}}, {"listed", a.Listed, []string{"yes", "no"}}} {
			if _, given := c.r.at[key(x.key)]; given {
				c.word(key(x.key), x.value, x.words...)
			}
		}
		if a.Listed != "" {
			c.said(key("edition"), a.Edition, "the list that was read, and its edition")
		} else {
			c.oneLine(key("edition"), a.Edition)
		}
		if a.ClosedTransfer == "" && a.Listed == "" && c.fine(key("closedTransfer"), key("listed")) {
			c.refuse(key("closedTransfer"), "is missing, and so is listed", "what was decided")
		}
		c.oneLine(key("handling"), a.Handling)
		c.said(key("reason"), a.Reason, "why, in words")
		c.said(key("role"), a.Role, "the role of who decided, such as pharmacist")
		c.signed(key, a.By, a.On)
	}
}
