package main

import (
	"fmt"

	"github.com/spf13/cobra"
)

func newRoot(s streams) *cobra.Command {
	root := &cobra.Command{
		Use:   "weir",
		Short: "Check a home-infusion order: recompute every number, name the one that is wrong",
		Long: "weir reads a hospital's home-infusion order (FHIR R4), recomputes dose, rate, volume and time\n" +
			"from two directions, names the number that is wrong and what it should be, and writes the\n" +
			"dispense, tasks, supplies and findings. It computes and explains; a licensed pharmacist decides.",
		SilenceUsage: true, SilenceErrors: true, Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SetIn(s.in)
	root.SetOut(s.out)
	root.SetErr(s.err)
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usageError{fmt.Errorf("%w; see: %s --help", err, c.CommandPath())}
	})
	root.AddCommand(newVerify(s), newCompute(s), newExplain(s), newTables(s), newServe(s), newReconcile(s), newRecall(s), newBackup(s), newRestore(s), newMigrate(s), newDoctor(s), newConfig(s), newPackage(s), newMan(s), newVersion(s))
	root.DisableAutoGenTag = true // the same program gives the same manual
	return root
}
