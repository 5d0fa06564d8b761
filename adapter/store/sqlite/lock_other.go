//go:build !unix

package sqlite

import "context"

// alone has no lock that goes with its owner on this system: there, whoever
// runs two of these at once is refused by what the first has made.
func alone(context.Context, string) (free func(), err error) { return func() {}, nil }
