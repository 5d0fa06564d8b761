package policy

import (
	"maps"
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/schedule"
)

// Reference is everything a judgement rests on besides the document: facts,
// choices, zone data, and who signed them.
type Reference struct {
	Tables     *compendium.Tables
	Policy     *Policy
	Zones      *schedule.Zones
	Signatures Signatures
}

// Hashes are those of every table a pharmacist signs: the shipped ones and
// the site's policy.
func (r Reference) Hashes() map[string]string {
	out := maps.Clone(r.Tables.Hashes)
	out[PolicyTable] = r.Policy.Hash
	return out
}

// Unsigned names the tables without a signature that holds, sorted. While
// there is one, nothing is released.
func (r Reference) Unsigned() []string { return r.Signatures.unsigned(r.Hashes()) }

// Signed reports that every table and the policy are signed as they are.
func (r Reference) Signed() bool { return len(r.Unsigned()) == 0 }

// SignedBy says by whom and when, the newest first; "" while a table is not
// signed.
func (r Reference) SignedBy() string {
	if !r.Signed() {
		return ""
	}
	var says []string
	for table, hash := range r.Hashes() {
		valid, _ := r.Signatures.Of(table, hash)
		says = append(says, valid.On+" "+valid.Name+", "+valid.Role)
	}
	slices.Sort(says)
	says = slices.Compact(says)
	slices.Reverse(says)
	for i, s := range says {
		on, who, _ := strings.Cut(s, " ")
		says[i] = who + " on " + on
	}
	return strings.Join(says, "; ")
}
