// Package sig reads the free-text directions of an infusion order as
// hospitals write them ("1.25 g IV q12h over 90 min in 250 mL NS") into
// readings: what each number or word is, and where it stands in the text, in
// Unicode characters. A word it does not know is listed, never dropped; a
// number whose role is not clear is given as unclear and never assigned.
//
// The words it knows are data (words.json). Spellings such as mcg or mL/hr
// are read here because text is text; in coded fields they are refused.
package sig
