package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/profile"
)

// newPackage writes the conformance resources as one FHIR package. A package
// is no text, so it goes to a file, or to stdout when asked for by name.
func newPackage(s streams) *cobra.Command {
	return &cobra.Command{
		Use: "package FILE", Short: "Write our profiles, extensions, terminology and exchange as one FHIR package",
		Example: "  weir package weir-r4.tgz\n  weir package - | tar tz",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usageError{fmt.Errorf("package needs one file to write, or - for stdout, for example: weir package weir-r4.tgz")}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			if args[0] == "-" {
				return profile.Pack(s.out, conformance.Version)
			}
			f, err := os.Create(args[0])
			if err != nil {
				return usageError{err}
			}
			if err := profile.Pack(f, conformance.Version); err != nil {
				_ = f.Close()
				return err
			}
			return f.Close()
		},
	}
}
