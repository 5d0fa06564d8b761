// Package slips measures how well the arithmetic finds typing slips: it
// invents correct orders, spoils one number at a time and counts what is
// found and who is blamed. It lives in its tests and shares no reasoning
// with what it measures. RESULT.md holds the table of the last full run.
package slips
