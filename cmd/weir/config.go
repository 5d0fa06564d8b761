package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter/settings"
)

func newConfig(s streams) *cobra.Command {
	c := &cobra.Command{
		Use: "config", Short: "The settings: show what is in force and who said so, check a file",
		Args: noArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newConfigShow(s), newConfigCheck(s))
	return c
}

// shownSetting is a setting as config show gives it to programs.
type shownSetting struct {
	Name        string   `json:"name"`
	Value       any      `json:"value"` // a text, or a list of texts
	Source      string   `json:"source"`
	Default     string   `json:"default"`
	Flag        string   `json:"flag"`
	Environment string   `json:"environment"`
	Text        string   `json:"text"`
	Commands    []string `json:"commands"`
}

func newConfigShow(s streams) *cobra.Command {
	var source bool
	var output string
	c := &cobra.Command{
		Use: "show", Short: "Show every setting as it is in force, with --source also who said so",
		Example: "  weir config show --source\n  weir config show --config site.yaml --output json",
		Args:    noArgs,
	}
	from := addSettings(c, everySetting)
	c.Flags().BoolVar(&source, "source", false, "say where each value comes from: flag, environment, file with line and column, or default")
	c.Flags().StringVar(&output, "output", "table", "table or json")
	c.RunE = func(*cobra.Command, []string) error {
		set, err := from.load(s)
		if err != nil {
			return err
		}
		switch output {
		case "json":
			list := []shownSetting{}
			for _, v := range set.Values {
				x := shownSetting{v.Name, nil, v.Source, v.Default, "--" + v.Flag(), v.Environment(), v.Text, v.Commands}
				if x.Value = v.Given; v.Kind != settings.Many {
					x.Value = v.Given[0]
				} else if v.Given == nil {
					x.Value = []string{}
				}
				list = append(list, x)
			}
			data, err := json.MarshalIndent(list, "", "  ")
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(s.out, "%s\n", data)
			return err
		case "table":
			for _, v := range set.Values {
				value := strings.Join(v.Given, " ")
				if value == "" {
					value = "(empty)"
				}
				if source {
					value = fmt.Sprintf("%-36s  %s", value, v.Source)
				}
				if _, err := fmt.Fprintf(s.out, "%-18s  %s\n", v.Name, value); err != nil {
					return err
				}
			}
			return nil
		}
		return usageError{fmt.Errorf("--output %q: need table or json", output)}
	}
	return c
}

func newConfigCheck(s streams) *cobra.Command {
	return &cobra.Command{
		Use: "check FILE", Short: "Read a settings file and name every fault with line, column and what is needed",
		Example: "  weir config check site.yaml",
		Args:    exactly(1, 1, "config check needs one settings FILE"),
		RunE: func(_ *cobra.Command, args []string) error {
			data, err := readPolicy(args[0])
			if err != nil {
				return usageError{err}
			}
			if _, err := settings.ReadFile(args[0], data); err != nil {
				return usageError{err}
			}
			fmt.Fprintf(s.err, "weir: %s fits: every name is known and every value makes sense.\n", args[0])
			return nil
		},
	}
}
