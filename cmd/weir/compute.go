package main

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/terminal"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/worksheet"
)

type computeFlags struct {
	policy, output, failOn string
	equations, in          []string
	list, noColor          bool
}

func newCompute(s streams) *cobra.Command {
	var f computeFlags
	c := &cobra.Command{
		Use:   "compute [flags] NAME=QUANTITY…",
		Short: "Work out everything that follows from the numbers you have, and say which disagree",
		Long: "compute takes what you know, each as NAME=QUANTITY with a UCUM unit and no space, and gives\n" +
			"every quantity that follows with its formula and numbers, what disagrees and where the slip\n" +
			"may be, and what one more number would add. It judges numbers, not an order.",
		Example: "  weir compute volume=250mL duration=90min dose=1250mg\n" +
			"  weir compute dose=4390mg volume=92mL duration=46h rate=47.7mL/h\n" +
			"  weir compute drugRatePerKg=5ug/kg/min weight=70kg dose=400mg volume=250mL\n" +
			"  weir compute height=175cm weight=70kg --equation E13",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 && !f.list {
				return usageError{fmt.Errorf("compute needs NAME=QUANTITY, for example volume=250mL; weir compute --list names all")}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error { return compute(s, f, args) },
	}
	flags := c.Flags()
	flags.StringArrayVar(&f.equations, "equation", nil, "published variant to use, by `CODE` such as E13; repeatable")
	flags.StringArrayVar(&f.in, "in", nil, "`NAME=UNIT`: answer a NAME in this unit; repeatable")
	flags.StringVar(&f.output, "output", "", "table or json (default: table)")
	flags.StringVar(&f.failOn, "fail-on", "hold", "exit 1 from this gate up: block, hold, warn or never")
	flags.StringVar(&f.policy, "policy", "", "site policy `FILE`")
	flags.BoolVar(&f.list, "list", false, "list the NAMEs and the equations")
	flags.BoolVar(&f.noColor, "no-color", false, "no colour on a terminal")
	return c
}

func compute(s streams, f computeFlags, args []string) error {
	if f.output == "" {
		f.output = "table"
	}
	if !slices.Contains([]string{"table", "json"}, f.output) {
		return usageError{fmt.Errorf("--output %q: need table or json", f.output)}
	}
	if f.list {
		return listNames(s, f.output)
	}
	ref, err := reference(f.policy)
	if err != nil {
		return usageError{err}
	}
	if !slices.Contains(gates, f.failOn) {
		return usageError{fmt.Errorf("--fail-on %q: need %s", f.failOn, strings.Join(gates, ", "))}
	}
	answer, err := adapter.Compute(adapter.Numbers{Arguments: args, Equations: f.equations, In: f.in, Reference: ref})
	if err != nil {
		return usageError{err}
	}
	data := adapter.ComputationJSON(answer)
	if f.output == "table" {
		data = []byte(terminal.Computation(answer, s.terminal && !f.noColor && os.Getenv("NO_COLOR") == ""))
	}
	if _, err := s.out.Write(data); err != nil {
		return err
	}
	gate := adapter.Gate(worksheet.Worksheet{Findings: answer.Findings, NotChecked: answer.NotChecked})
	if f.failOn != "never" && gate.Weight() >= finding.Gate(f.failOn).Weight() {
		return exit{exitFound}
	}
	return nil
}

func listNames(s streams, output string) error {
	names, equations := adapter.Listing()
	data := []byte(terminal.Listing(names, equations))
	if output == "json" {
		var err error
		if data, err = json.MarshalIndent(map[string][]adapter.Listed{"names": names, "equations": equations}, "", "  "); err != nil {
			return err
		}
		data = append(data, '\n')
	}
	_, err := s.out.Write(data)
	return err
}
