package policy_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// One protocol is for one kind of line and one population, and for nobody
// while the site does not say that its protocols stand.
func TestAStandingProtocolIsForItsLineAndPopulation(t *testing.T) {
	const protocols = "  protocols:\n" +
		"    - {access: picc, population: adult, solution: sodium chloride 0.9 %, volume: 10 mL, source: site protocol 3}\n" +
		"    - {access: port, population: child, solution: heparin, strength: \"10 [USP'U]/mL\", volume: 3 mL, source: site protocol 3}\n" +
		"    - {access: midline, population: all, solution: sodium chloride 0.9 %, volume: 3 mL, source: site protocol 3}\n"
	p := load(t, "lock:\n  standingProtocol: true\n"+protocols)
	for _, c := range []struct {
		access, population, solution string
	}{
		{"picc", "adult", "sodium chloride 0.9 %"}, {"picc", "child", ""}, {"picc", "neonate", ""}, {"picc", "", ""},
		{"port", "child", "heparin"}, {"port", "adult", ""}, {"port", "neonate", ""}, {"port", "", ""},
		{"midline", "adult", "sodium chloride 0.9 %"}, {"midline", "neonate", "sodium chloride 0.9 %"}, {"midline", "", "sodium chloride 0.9 %"},
		{"tunnelled", "adult", ""}, {"", "adult", ""}, {"central", "adult", ""},
	} {
		have, ok := p.LockProtocol(c.access, c.population)
		assert.Equal(t, c.solution, have.Solution, "%s of %s", c.access, c.population)
		assert.Equal(t, c.solution != "", ok)
	}
	_, ok := load(t, "lock:\n"+protocols).LockProtocol("picc", "adult")
	assert.False(t, ok, "written, and not in force")
}
