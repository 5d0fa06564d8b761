// Package intake takes in what a hospital sends: it finds out what is new,
// stores it, judges every order of the patients it speaks of, and stores
// what follows from that, all in one effect. Nothing is accepted that is not
// on the disk, nothing is taken in twice, and a changed dose or a stop that
// could not be applied becomes a task.
package intake
