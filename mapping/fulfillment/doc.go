// Package fulfillment works out what is handed over: the kit of supplies
// with its arithmetic shown, and the tasks of everybody who takes part with
// the times they are due. Both are rows of a data file; this package only
// counts and places them. It never sees a finding.
package fulfillment
