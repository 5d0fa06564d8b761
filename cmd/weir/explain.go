package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"weir.example/weir/mapping/finding"
)

func newExplain(s streams) *cobra.Command {
	return &cobra.Command{
		Use: "explain CODE", Short: "Explain one finding code: what it means, who may pass it, what to do",
		Args: func(c *cobra.Command, args []string) error {
			if len(args) != 1 {
				return usageError{fmt.Errorf("explain needs one finding code, for example: weir explain dose-arithmetic")}
			}
			return nil
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			var codes []string
			for _, row := range finding.Codes() {
				codes = append(codes, string(row.Code))
			}
			return codes, cobra.ShellCompDirectiveNoFileComp
		},
		RunE: func(_ *cobra.Command, args []string) error {
			text, ok := finding.Explain(finding.Code(args[0]))
			if !ok {
				return usageError{fmt.Errorf("no finding code %q; nearest: %s", args[0], nearest(args[0]))}
			}
			_, err := fmt.Fprint(s.out, text)
			return err
		},
	}
}

// nearest lists the codes that share the longest beginning with what was
// typed.
func nearest(typed string) string {
	best, list := -1, ""
	for _, row := range finding.Codes() {
		n := 0
		for n < len(typed) && n < len(row.Code) && typed[n] == row.Code[n] {
			n++
		}
		switch {
		case n > best:
			best, list = n, string(row.Code)
		case n == best && len(list) < 160:
			list += ", " + string(row.Code)
		}
	}
	return list
}
