// Package reconciliation compares one patient's orders as we hold them with
// what the hospital says tonight, with what was made, sent and lies at home,
// and with what is planned: rows m1 to m23 of the trade's list, one rule and
// one code of the table each (group nightly). Comparing what a patient takes
// with what is ordered, and settling each difference, is asked for by the
// Joint Commission's NPSG.03.06.01 and by the ASHP Guidelines on Home Infusion
// Pharmacy Services (2014); where a single threshold comes from stands beside
// it.
//
// Everything here is pure: the clock, the policy and all facts are given,
// equal input gives equal output, and the order of resources or records does
// not matter. Absence is not a stop, a stop is a call and never a deletion,
// and what cannot be told is listed as not checked.
package reconciliation
