// Package arithmetic says whether the stated numbers of an order can all be
// true, and if not, which one is wrong, what it should be and how it came to
// be typed.
//
// Every equation of an infusion is a product, so all that the numbers can
// say about each other is a finite list of relations: minimal products of
// stated quantities equal to 1 (Rockafellar 1969, The Elementary Vectors of
// a Subspace of R^N). Each is checked with exact interval ends. A violated
// relation is a conflict; the smallest sets of statements which, withdrawn,
// let the rest agree are its explanations (Reiter 1987, A Theory of
// Diagnosis from First Principles; de Kleer and Williams 1987, Diagnosing
// Multiple Faults).
//
// It is pure: no clock, no file, no floating-point number.
package arithmetic
