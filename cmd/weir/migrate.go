package main

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/spf13/cobra"
)

func newMigrate(s streams) *cobra.Command {
	var dry bool
	var output string
	c := &cobra.Command{
		Use: "migrate", Short: "Bring the schema of the store up to date; a newer one is refused",
		Long: "migrate says which version the schema of the store has and which this program needs, and does the steps\n" +
			"between, each whole or not at all. Two at once wait for each other. Make a backup first (weir backup\n" +
			"takes an SQLite file with an older schema too), and stop servers of the older program.\n" +
			"With --dry-run nothing is changed; exit 1 then says that steps are due.",
		Example: "  weir migrate --dry-run\n  weir migrate --store postgres://weir@localhost/weir",
		Args:    noArgs,
	}
	from := addSettings(c, "migrate")
	c.Flags().BoolVar(&dry, "dry-run", false, "say what would be done, and change nothing")
	c.Flags().StringVar(&output, "output", "text", "text or json")
	c.RunE = func(c *cobra.Command, _ []string) error {
		set, err := from.load(s)
		if err != nil {
			return err
		}
		if err := textOrJSON(output); err != nil {
			return err
		}
		at, err := locate(set.Settings)
		if err != nil {
			return err
		}
		status, err := at.look(c.Context())
		if err != nil {
			return err
		}
		due := status.Due() > 0
		if due && !dry {
			done, err := openStore(c.Context(), set.Settings, opening{migrate: true})
			if err != nil {
				return err
			}
			if err := done.Close(); err != nil {
				return err
			}
			after, err := at.look(c.Context())
			if err != nil {
				return err
			}
			if after.Due() > 0 {
				return errors.New("the schema is not up to date after all steps")
			}
		}
		switch steps := status.Due(); {
		case output == "json":
			data, err := json.Marshal(map[string]any{"have": status.Have, "need": status.Need, "steps": status.Pending, "queueSteps": status.Queue, "done": due && !dry})
			if err != nil {
				return err
			}
			fmt.Fprintf(s.out, "%s\n", data)
		case !due:
			fmt.Fprintf(s.out, "schema %d, as this program needs it: nothing to do\n", status.Have)
		case dry:
			fmt.Fprintf(s.out, "schema %d, this program needs %d: %d to do, nothing was changed\n", status.Have, status.Need, steps)
		default:
			fmt.Fprintf(s.out, "schema %d, now %d: %d done\n", status.Have, status.Need, steps)
		}
		if due && dry {
			return exit{exitFound}
		}
		return nil
	}
	return c
}
