// Package adapter holds the use cases and their ports. Everything that reads
// a file, a clock or a network stands in this ring or in cmd; what is judged
// and why stands in conformance and mapping.
package adapter
