// Package conformance knows the order of the steps: read the document, judge
// whether it is R4, translate it, reconcile the numbers, plan, prepare, ask
// every rule, and write the worksheet. It is pure: seven inputs, hashed into
// every answer, give the same bytes out.
package conformance

// Version of the program: rules are code, so it is one of the inputs.
const Version = "0.1.0"
