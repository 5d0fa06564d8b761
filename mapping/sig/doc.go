// Package sig reads the free-text directions of an infusion order as
// hospitals write them ("1.25 g IV q12h over 90 min in 250 mL NS") into
// readings: what each number or word is of, and where it stands in the text,
// in Unicode characters. The element read is Dosage.text
// (https://hl7.org/fhir/R4/dosage.html) or a like one; the reading rules are
// those of section 5 of the input map.
//
// Three rules stand above the others. A word that is not known is listed,
// never dropped. A number whose role is not clear is a reading with Field ""
// and Role "unclear", never assigned. Words are a second witness beside the
// coded fields and never override them.
//
// The text is cut into tokens (token.go), tokens into items: amounts, bare
// numbers, dates, clock times, words with a meaning (item.go). Stretches of
// items that speak of something else than the infusion, such as a flush or a
// pre-medication, get a scope (scope.go). Then a small reader per kind of
// item gives it a field from its dimension and from the words around it. All
// looks back and forth are bounded, so the time is linear in the text.
//
// What is said of another drug in the same sentence keeps its field with the
// role "component"; what is said of another drug with a pace of its own, of a
// flush, a pre-medication, monitoring, a titration, a choice ("or", "if"),
// supplies or one of several steps has the scope as its field and what the
// number is as its role ("flush", 10 mL, "volume"). Only readings without such
// a role are stated (Stated). What is doubtful stays unclear: a wrong reading
// is worse than none. testdata/README.md has the figures.
//
// The words are data: words.json and units.json. Spellings such as mcg or
// mL/hr are read here because text is text; in coded fields they are refused.
package sig
