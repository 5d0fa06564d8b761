// Package lumen makes the timetable of a vascular line: which infusion, flush,
// lock and blood draw runs through which lumen at what time of day, or the
// proof that no such day exists and the smallest change that makes one. A
// lumen is a machine that does one thing at a time.
//
// The day is a circle. All times are whole minutes after midnight on the
// patient's clock; what begins late in the evening runs on into the morning
// of the same timetable, and so does a timetable of several days. A day on
// which the clocks change is no such day and is planned by elapsed time
// elsewhere.
//
// What a placement must meet is listed by Rules, each with its source or
// "common practice, no source". Rules that look at two things are true or
// false of those two alone, never of what stands between them: an infusion in
// between is no flush. So leaving anything out never makes a day impossible
// that was possible, which the minimal conflict rests on.
//
// # Why the answer is exact
//
// The search (place.go, assign.go) tries every lumen for every item and
// every start on the grid for every dose. It leaves out only
// what cannot be part of a placement: a start that contradicts one already
// chosen (looked up in a table of all distances of the two), a set of items
// on one lumen of which a part was already shown not to fit alone, and, once
// a placement is known, one that cannot be better. Hence "impossible" is said
// only after the search ran to its end; when its budget of nodes is spent
// first the answer is "not decided".
//
// The grid loses nothing when it divides every time and every length of the
// problem, as the grid chosen by default does. With lumens and the order of
// things on each lumen fixed, what is left to meet is a list of differences
// of two starts, each at most or at least a multiple of the grid; when real
// starts meet such a list, so do the same starts rounded down to the grid.
// Result.EveryMinute says whether that holds, and the proof then covers every
// moment of the day, not only those on the grid.
//
// # What is not in the model
//
// One pair of hands (two lumens may be flushed at the same minute), bag
// changes of a continuous infusion, stopping other lumens for a draw, slowing
// or speeding an infusion, and stopping a continuous infusion for another
// drug: a change of lumen or an order is needed for that.
package lumen
