// Package alertload measures whom the checks call for nothing: it invents
// orders that are right and complete, judges them from their FHIR documents,
// and counts the findings a person would have to act on (block, hold, warn).
// Then it takes one thing out of each and asks for exactly that thing. It
// lives in its tests and shares no number with what it measures: the
// regimens in card_test.go were written as a pharmacist writes them.
package alertload
