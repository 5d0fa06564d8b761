package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/finding"
)

func newExplain(s streams) *cobra.Command {
	var all bool
	var output string
	c := &cobra.Command{
		Use: "explain CODE", Short: "Explain one finding code: what it means, who may pass it, what to do, two examples",
		Example: "  weir explain dose-arithmetic\n  weir explain --all --output markdown",
		Args: func(c *cobra.Command, args []string) error {
			switch {
			case all && len(args) > 0:
				return usageError{fmt.Errorf("explain --all takes no code")}
			case !all && len(args) != 1:
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
			text, err := explained(args, all, output)
			if err != nil {
				return usageError{err}
			}
			_, err = io.WriteString(s.out, text)
			return err
		},
	}
	c.Flags().BoolVar(&all, "all", false, "every code")
	c.Flags().StringVar(&output, "output", "text", "text, or markdown with --all")
	return c
}

func explained(args []string, all bool, output string) (string, error) {
	switch {
	case all && output == "markdown":
		return adapter.RulesMarkdown(), nil
	case output != "text":
		return "", fmt.Errorf("--output %q: need text, or markdown with --all", output)
	case all:
		return adapter.ExplainAll(), nil
	}
	text, known := adapter.Explain(finding.Code(args[0]))
	if !known {
		return "", fmt.Errorf("no finding code %q; nearest: %s", args[0], nearest(args[0]))
	}
	return text, nil
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
