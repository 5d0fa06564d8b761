package main

import (
	"fmt"
	"os"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"weir.example/weir/conformance"
)

func newMan(s streams) *cobra.Command {
	var folder string
	c := &cobra.Command{
		Use: "man [COMMAND…]", Short: "Write the manual page of a command, or with --folder all pages",
		Example: "  weir man verify | man -l -\n  weir man --folder /usr/local/share/man/man1",
		RunE: func(c *cobra.Command, args []string) error {
			built := buildDay(s.now())
			head := &doc.GenManHeader{Section: "1", Date: &built, Source: "weir " + conformance.Version, Manual: "Weir"}
			if folder != "" {
				if len(args) > 0 {
					return usageError{fmt.Errorf("man --folder writes all pages and takes no command")}
				}
				if info, err := os.Stat(folder); err != nil || !info.IsDir() {
					return usageError{fmt.Errorf("--folder %s: there is no such folder", folder)}
				}
				return doc.GenManTree(c.Root(), head, folder)
			}
			of, rest, err := c.Root().Find(args)
			if err != nil || len(rest) > 0 {
				return usageError{fmt.Errorf("there is no command %q; weir --help names all", args)}
			}
			return doc.GenMan(of, head, s.out)
		},
	}
	c.Flags().StringVar(&folder, "folder", "", "write one page for each command into this `FOLDER`")
	return c
}

// buildDay is when the program was made, as far as it knows.
func buildDay(now time.Time) time.Time {
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, setting := range info.Settings {
			if t, err := time.Parse(time.RFC3339, setting.Value); setting.Key == "vcs.time" && err == nil {
				return t
			}
		}
	}
	return now
}
