package policy

import (
	"maps"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/schedule"
)

// Reference is everything a judgement rests on besides the document: facts,
// choices, zone data, and who signed them.
type Reference struct {
	Tables     *compendium.Tables // with the site's own numbers in them
	Shipped    *compendium.Tables // without them; nil where the site has none
	Policy     *Policy
	Zones      *schedule.Zones
	Signatures Signatures
	Rules      string // hash of the tables of rules, which no lower ring can read; always set where orders are judged for somebody

	later map[string]string // by table: why it does not count as signed on the day of At
}

// At is the reference as it stands on the day of now, by the calendar of its
// zone. A signature dated later does not count. A number of the site's own
// dated later is not in force: the table's own stands (where Shipped is
// given), and the policy counts as unsigned, which says so, until that day or
// until somebody corrects the date. Asked again for the same day it changes
// nothing.
func (r Reference) At(now time.Time) Reference {
	next := r
	next.Signatures, next.later = nil, maps.Clone(r.later)
	if next.later == nil {
		next.later = map[string]string{}
	}
	for _, s := range r.Signatures {
		if !future(s.On, now) {
			next.Signatures = append(next.Signatures, s)
			continue
		}
		for table := range s.Tables {
			next.later[table] = "signed by " + s.Name + " on " + s.On + ", dated in the future"
		}
	}
	own, later := r.Policy.inForce(now)
	if len(later) == 0 {
		return next
	}
	var facts []string
	for _, o := range later {
		facts = append(facts, o.Fact+" on "+o.On)
	}
	next.later[PolicyTable] = "its own number for " + strings.Join(facts, ", ") + ", dated in the future: not in force"
	next.Policy = own
	if r.Shipped != nil {
		if tables, err := own.Overrule(r.Shipped); err == nil { // a part of what was accepted
			next.Tables = tables
		}
	}
	next.Signatures = next.Signatures.without(PolicyTable)
	return next
}

// Later says why a table does not count as signed although somebody signed:
// a date in the future; "" where none is. Only At knows.
func (r Reference) Later(table string) string {
	valid, _ := r.Signatures.Of(table, r.Hashes()[table])
	if valid != nil {
		return ""
	}
	return r.later[table]
}

// RulesTable is the name under which the tables of rules are signed: gates,
// kit, tasks, and how numbers, words and codes are read.
const RulesTable = "rules"

// Hashes are those of every table a pharmacist signs: the shipped ones, the
// rules and the site's policy.
func (r Reference) Hashes() map[string]string {
	out := maps.Clone(r.Tables.Hashes)
	out[PolicyTable] = r.Policy.Hash
	if r.Rules != "" {
		out[RulesTable] = r.Rules
	}
	return out
}

// Unsigned names the tables without a signature that holds, sorted, each with
// what Later says of it in brackets. While there is one, nothing is released.
func (r Reference) Unsigned() []string {
	out := r.Signatures.unsigned(r.Hashes())
	for i, table := range out {
		if why := r.Later(table); why != "" {
			out[i] += " (" + why + ")"
		}
	}
	return out
}

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
