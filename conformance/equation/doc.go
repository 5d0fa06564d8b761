// Package equation holds the published equations of infusion arithmetic,
// E01 to E40: body size, kidney function, solutions, nutrition, drops,
// patient-controlled infusions, vials and flow devices. Each names its
// formula, units, limits and source. Products of rate, time, volume, dose
// and concentration (E01 to E09) are the network of package arithmetic and
// are not repeated here.
//
// It is pure and exact: roots and powers alone are rounded, outward.
package equation
