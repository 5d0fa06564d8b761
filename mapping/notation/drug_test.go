package notation_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"weir.example/weir/mapping/notation"
)

func TestTallManLettersForDisplay(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"small letters", "cefazolin", "ceFAZolin"},
		{"case of the sender does not matter", "CEFAZOLIN", "ceFAZolin"},
		{"a salt stays", "ceftriaxone sodium", "cefTRIAXone sodium"},
		{"a word before stays", "liposomal doxorubicin", "liposomal DOXOrubicin"},
		{"both names of a mixture", "cisplatin/carboplatin", "CISplatin/CARBOplatin"},
		{"part of a longer word is no name", "pseudoephedrine", "pseudoephedrine"},
		{"a name on no list stays as sent", "Vancomycin", "Vancomycin"},
		{"blanks round it go", "  daptomycin ", "DAPTOmycin"},
		{"nothing", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.want, notation.DrugName(c.in)) })
	}
}

func TestTheDisplayTableChangesNothingButCase(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range notation.TallMen() {
		low := strings.ToLower(r.Show)
		assert.False(t, seen[low], "%s stands twice", r.Show)
		seen[low] = true
		assert.NotEqual(t, low, r.Show, "%s has no tall letters", r.Show)
		assert.True(t, strings.EqualFold(r.Show, notation.DrugName(low)))
		assert.Contains(t, []string{"sourced", "memory"}, r.Standing)
		assert.NotEmpty(t, r.Source)
	}
	assert.GreaterOrEqual(t, len(seen), 33)
}
