package main

import (
	"encoding/json"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
)

func newVersion(s streams) *cobra.Command {
	var output string
	c := &cobra.Command{
		Use: "version", Short: "Say which program, tables and FHIR release this is", Args: noArgs,
		RunE: func(*cobra.Command, []string) error {
			v := adapter.About()
			v["go"], v["revision"] = runtime.Version(), revision()
			switch output {
			case "json":
				data, err := json.MarshalIndent(v, "", "  ")
				if err != nil {
					return err
				}
				_, err = fmt.Fprintf(s.out, "%s\n", data)
				return err
			case "text":
				_, err := fmt.Fprintf(s.out, "weir %s (FHIR R4 %s)\n", v["version"], v["fhirVersion"])
				return err
			}
			return usageError{fmt.Errorf("--output %q: need text or json", output)}
		},
	}
	c.Flags().StringVar(&output, "output", "text", "text or json")
	return c
}

func revision() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	for _, setting := range info.Settings {
		if setting.Key == "vcs.revision" {
			return setting.Value
		}
	}
	return ""
}

// noArgs refuses arguments with exit 2 instead of taking them for a command.
func noArgs(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return usageError{fmt.Errorf("%s takes no arguments, got %q", c.CommandPath(), args[0])}
	}
	return nil
}
