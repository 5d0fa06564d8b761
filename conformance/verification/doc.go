// Package verification holds the practice rules: each is metadata (its code,
// the facts it needs) and a small pure function. A rule answers one of five:
// not applicable, not effective yet, indeterminate (naming the missing
// fact), pass, or finding. Silence is never a pass.
//
// Gate, stage, title, remedy and citation of a rule stand in the one table
// of codes (mapping/finding). The list of rules is explicit and ordered.
package verification
