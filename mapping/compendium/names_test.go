package compendium_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
)

// A wrong code or a name of another substance brings up the facts of another
// drug. So the tables are held against two published lists, of which
// testdata/names/extract.tsv has the lines about them: an ATC code must bear
// an exact name of the row it finds, the names of a row must be names of its
// own substances, and a name kept apart must not be. Where the tables differ
// knowingly, testdata/names/differences.tsv says why.
func TestCodesAndNamesAreThoseOfThePublishedLists(t *testing.T) {
	p := published(t)
	tables := compendium.Embedded()
	codes, names, hazards := 0, 0, 0
	own := map[string]string{} // substance to the row that it is
	for _, d := range tables.Drugs {
		for _, c := range d.Codes.ATC {
			if name, listed := p.atc[c]; listed {
				codes++
				if found, _ := tables.Find(compendium.Named("", name)); found.Name != d.Name {
					p.differs("drug", d.Name, c, name)
				}
			}
		}
		for _, n := range append([]string{d.Name}, d.Also...) {
			for _, substance := range p.substances[compendium.Fold(n)] {
				names++
				if other, taken := own[substance]; taken && other != d.Name {
					p.differs("name", d.Name, substance, n)
				}
				own[substance] = d.Name
			}
		}
	}
	for _, d := range tables.Drugs {
		for _, n := range d.NotThis {
			for _, substance := range p.substances[compendium.Fold(n)] {
				if own[substance] == d.Name {
					p.differs("not this", d.Name, substance, n)
				}
			}
		}
	}
	for _, h := range tables.Hazards {
		if name, listed := p.atc[h.ATC]; listed {
			hazards++
			if name != compendium.Fold(h.Name) {
				p.differs("hazard", h.Name, h.ATC, name)
			}
		}
		for _, substance := range p.substances[compendium.Fold(h.Name)] {
			if row := own[substance]; row != "" {
				sameCodes(t, tables, row, h)
			}
		}
	}
	for difference, met := range p.explained {
		assert.True(t, met, "differs no longer: %s", difference)
	}
	assert.GreaterOrEqual(t, codes, 45, "codes of drugs compared")
	assert.GreaterOrEqual(t, names, 120, "names of drugs compared")
	assert.GreaterOrEqual(t, hazards, 60, "codes of hazardous drugs compared")
}

// lists are the two published lists, and the differences from them with
// whether they were met.
type lists struct {
	*testing.T
	atc        map[string]string   // code to its name
	substances map[string][]string // name to the substances that it names
	explained  map[string]bool
}

func published(t *testing.T) lists {
	p := lists{t, map[string]string{}, map[string][]string{}, map[string]bool{}}
	for _, row := range rowsOf(t, "extract.tsv", 3) {
		switch kind, code, name := row[0], row[1], row[2]; kind {
		case "atc":
			p.atc[code] = name
		case "substance":
			p.substances[name] = append(p.substances[name], code)
		default:
			t.Errorf("extract.tsv: no such kind: %q", kind)
		}
	}
	for _, row := range rowsOf(t, "differences.tsv", 5) {
		assert.NotEmpty(t, row[4], "a difference without a reason: %q", row)
		p.explained[strings.Join(row[:4], "\t")] = false
	}
	return p
}

func rowsOf(t *testing.T, file string, cells int) (out [][]string) {
	data, err := os.ReadFile("testdata/names/" + file)
	require.NoError(t, err)
	for line := range strings.Lines(string(data)) {
		if line = strings.TrimSuffix(line, "\n"); !strings.HasPrefix(line, "#") {
			row := strings.Split(line, "\t")
			require.Len(t, row, cells, "%s: %s", file, line)
			out = append(out, row)
		}
	}
	return out
}

// differs takes note of a difference. One that is not explained fails.
func (p lists) differs(kind, row, code, name string) {
	difference := strings.Join([]string{kind, row, code, name}, "\t")
	_, explained := p.explained[difference]
	assert.True(p, explained, "not in differences.tsv: %s", difference)
	p.explained[difference] = true
}

// sameCodes demands that the hazard row of a drug has no code that the drug's
// own row lacks: one order would be two drugs.
func sameCodes(t *testing.T, tables *compendium.Tables, name string, h compendium.Hazard) {
	d, why := tables.Find(compendium.Named("", name))
	require.Empty(t, why)
	if h.RxNorm != "" {
		assert.Contains(t, d.Codes.RxNorm, h.RxNorm, "hazard row %s and drug row %s", h.Name, d.Name)
	}
	if h.ATC != "" {
		assert.Contains(t, d.Codes.ATC, h.ATC, "hazard row %s and drug row %s", h.Name, d.Name)
	}
}
