// Package quantity is exact arithmetic with units. A number without a unit
// cannot leave it: every Quantity carries a UCUM unit, every conversion in
// the table is exact, and nothing here is a floating-point number. The unit
// subset is the one the trade uses; syntax after the UCUM specification,
// https://ucum.org/ucum.
package quantity
