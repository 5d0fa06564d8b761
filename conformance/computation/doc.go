// Package computation is the arithmetic alone: from the numbers a person
// gives by NAME it works out every quantity that follows, says which of them
// cannot all be true, and what one more number would add. It joins the
// network of package arithmetic with the published equations of package
// equation.
//
// It is pure: the clock is given, nothing is read.
package computation
