package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/terminal"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/policy"
)

func newTables(s streams) *cobra.Command {
	c := &cobra.Command{
		Use: "tables", Short: "The reference tables: list them, read a drug, check a site's file, sign them",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(newTablesList(s), newTablesDrug(s), newTablesShow(s), newTablesReport(s), newTablesCheck(s), newTablesSign(s))
	return c
}

// exactly refuses another number of arguments and shows how it is done.
func exactly(least, most int, want string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) < least || len(args) > most {
			return usageError{errors.New(want)}
		}
		return nil
	}
}

func newTablesList(s streams) *cobra.Command {
	var file, output string
	var noColor bool
	c := &cobra.Command{
		Use: "list", Short: "List the tables with edition, rows, values by standing, and signature",
		Example: "  weir tables list\n  weir tables list --policy site.yaml --output json",
		Args:    exactly(0, 0, "tables list takes no argument"),
		RunE: func(*cobra.Command, []string) error {
			ref, err := reference(file)
			if err != nil {
				return usageError{err}
			}
			list := adapter.Tables(ref.At(s.now()))
			switch output {
			case "json":
				_, err = s.out.Write(adapter.TablesJSON(list))
			case "table":
				_, err = fmt.Fprint(s.out, terminal.Tables(list, colored(s, noColor)))
			default:
				return usageError{fmt.Errorf("--output %q: need table or json", output)}
			}
			return err
		},
	}
	c.Flags().StringVar(&file, "policy", "", "site policy `FILE`, with its signatures beside it")
	c.Flags().StringVar(&output, "output", "table", "table or json")
	c.Flags().BoolVar(&noColor, "no-color", false, "no colour on a terminal")
	return c
}

func colored(s streams, never bool) bool { return s.terminal && !never && os.Getenv("NO_COLOR") == "" }

func newTablesDrug(s streams) *cobra.Command {
	var file string
	var noColor bool
	c := &cobra.Command{
		Use: "drug NAME|CODE", Short: "Show one drug: names, hazard, every fact with its source, standing and gate",
		Example: "  weir tables drug vancomycin\n  weir tables drug 4492\n  weir tables drug J01DB04",
		Args:    exactly(1, 1, "tables drug needs one exact generic name, RxNorm ingredient or ATC code; put a name of several words in quotation marks"),
		RunE: func(_ *cobra.Command, args []string) error {
			ref, err := reference(file)
			if err != nil {
				return usageError{err}
			}
			asked := compendium.Asked{Item: compendium.Item{RxNorm: args, ATC: []string{strings.ToUpper(args[0])}, Names: args}}
			d, why := ref.Tables.Find(asked)
			if why != "" {
				l := ref.Tables.Hazard(asked)
				fmt.Fprintf(s.err, "weir: %q: %s.\nHazard: %s (%s). %s\n", args[0], why, l.Listed, l.Edition, l.Says)
				return exit{exitFound}
			}
			_, err = fmt.Fprint(s.out, terminal.Drug(d, ref.Tables.Hazard(asked), colored(s, noColor)))
			return err
		},
	}
	c.Flags().StringVar(&file, "policy", "", "site policy `FILE`: its own numbers stand in place of the table's")
	c.Flags().BoolVar(&noColor, "no-color", false, "no colour on a terminal")
	return c
}

func newTablesShow(s streams) *cobra.Command {
	shown := strings.Join(adapter.Shown(), ", ")
	return &cobra.Command{
		Use: "show TABLE", Short: "Show every row of a table other than drugs, with sources and standing",
		Long:    "show writes every row of a table: " + shown + ". Drugs are read one by one (weir tables drug NAME).",
		Example: "  weir tables show sterility\n  weir tables show pairs | less",
		Args:    exactly(1, 1, "tables show needs one of "+shown),
		RunE: func(_ *cobra.Command, args []string) error {
			files, ok := adapter.TableFiles(args[0])
			if !ok {
				return usageError{fmt.Errorf("%q: need one of %s; for drugs: weir tables drug NAME", args[0], shown)}
			}
			for _, f := range files {
				if _, err := fmt.Fprint(s.out, terminal.Rows(f.Name, f.Data)); err != nil {
					return err
				}
			}
			return nil
		},
	}
}

func newTablesReport(s streams) *cobra.Command {
	return &cobra.Command{
		Use: "report", Short: "Count what was read into the table of drugs, and name what it does not know",
		Args: exactly(0, 0, "tables report takes no argument"),
		RunE: func(*cobra.Command, []string) error {
			_, err := fmt.Fprint(s.out, terminal.Report(compendium.Embedded().Report()))
			return err
		},
	}
}

type checkFlags struct {
	tables, against, now string
	orders               []string
}

func newTablesCheck(s streams) *cobra.Command {
	var f checkFlags
	c := &cobra.Command{
		Use: "check [flags] [FILE]", Short: "Validate a site's own file, and list what it changes for given orders",
		Long: "check reads a site's policy and refuses an unknown key, a wrong unit, a relaxed block or a number\n" +
			"that cannot be meant, each with file, line, column and reason. With --orders it judges those\n" +
			"orders by the shipped tables (or by --against) and by FILE, and lists every answer that differs.\n" +
			"With --tables the drugs and the hazardous list come from another edition of the tables in a folder.\n" +
			"The folder holds every table and nothing else; what differs in the other tables is listed, and\n" +
			"orders are still judged by those of this program.",
		Example: "  weir tables check site.yaml\n  weir tables check --orders held.json site.yaml\n  weir tables check --tables edition-2027-02/ --orders held.json site.yaml",
		Args:    exactly(0, 1, "tables check needs one site file, or --tables FOLDER"),
		RunE:    func(_ *cobra.Command, args []string) error { return checkTables(s, f, args) },
	}
	c.Flags().StringVar(&f.tables, "tables", "", "another edition: `FOLDER` with edition.json, drugs/NAME.json and one file for each other table")
	c.Flags().StringVar(&f.against, "against", "", "compare with this site `FILE` instead of the shipped defaults")
	c.Flags().StringArrayVar(&f.orders, "orders", nil, "orders held: a `FILE` as verify reads it; repeatable")
	c.Flags().StringVar(&f.now, "now", "", "the clock, RFC 3339 with zone (default: the machine's)")
	return c
}

func checkTables(s streams, f checkFlags, args []string) error {
	if len(args) == 0 && f.tables == "" {
		return usageError{errors.New("tables check needs one site file, or --tables FOLDER")}
	}
	site := ""
	if len(args) == 1 {
		site = args[0]
	}
	after, err := reference(site)
	if err != nil {
		return usageError{err}
	}
	before, err := reference(f.against)
	if err != nil {
		return usageError{err}
	}
	if f.against == "" && f.tables != "" {
		before = after // the same site, another edition
	}
	if f.tables != "" {
		files, err := edition(f.tables)
		if err != nil {
			return usageError{err}
		}
		tables, err := compendium.Load(files)
		if err != nil {
			return usageError{fmt.Errorf("%s: %w", f.tables, err)}
		}
		if after, err = adapter.Reference(after.Policy, tables, nil); err != nil {
			return usageError{err}
		}
	}
	request, err := verifyFlags{now: f.now, stage: "release", failOn: "never"}.request(s)
	if err != nil {
		return usageError{err}
	}
	var documents []adapter.Document
	for _, name := range f.orders {
		data, err := read(s.in, name)
		if err != nil {
			return usageError{err}
		}
		documents = append(documents, adapter.Document{Name: name, Data: data})
	}
	if site != "" {
		fmt.Fprintf(s.err, "weir: %s fits: every key is known and every number makes sense.\n", site)
	}
	if len(documents) == 0 && f.tables == "" {
		return nil
	}
	changes := adapter.Compare(documents, before, after, request)
	if _, err = fmt.Fprint(s.out, terminal.Edition(changes)); err != nil {
		return err
	}
	switch refused := len(changes.Refused); {
	case refused == 0:
		return nil
	case refused == len(documents):
		return exit{exitUnreadable}
	}
	return exit{exitSomeFailed}
}

// mostTable bounds one file of an edition, in bytes.
const mostTable = 4 << 20

// edition reads a folder of tables. A file of another kind is named too: it
// may be a table that was saved under a wrong name.
func edition(folder string) (compendium.Files, error) {
	out := compendium.Files{}
	err := filepath.WalkDir(folder, func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		if filepath.Ext(name) != ".json" {
			below, err := filepath.Rel(folder, name)
			out[filepath.ToSlash(below)] = nil
			return err
		}
		if info, err := entry.Info(); err != nil || info.Size() > mostTable {
			return fmt.Errorf("%s cannot be read or is larger than 4 MiB", name)
		}
		data, err := os.ReadFile(name)
		if err != nil {
			return err
		}
		below, err := filepath.Rel(folder, name)
		out[filepath.ToSlash(below)] = data
		return err
	})
	return out, err
}

type signFlags struct {
	policy, name, role, license, on string
	tables                          []string
}

func newTablesSign(s streams) *cobra.Command {
	var f signFlags
	c := &cobra.Command{
		Use: "sign", Short: "Record a pharmacist's signature under the tables as they are",
		Long: "sign writes who has read the tables, in which role, on whose license and when, with the hash of\n" +
			"what was signed, into a file beside the site's policy (FILE.signatures.json). A changed byte in a\n" +
			"table voids the signature for that table; until it is signed again nothing is released.",
		Example: "  weir tables sign --policy site.yaml --name \"J. Example\" --role pharmacist --license \"EX 000000\"\n" +
			"  weir tables sign --policy site.yaml --name \"J. Example\" --role pharmacist --license \"EX 000000\" --table drugs --table hazards",
		Args: exactly(0, 0, "tables sign takes flags only: --policy, --name, --role, --license"),
		RunE: func(*cobra.Command, []string) error { return sign(s, f) },
	}
	flags := c.Flags()
	flags.StringVar(&f.policy, "policy", "", "site policy `FILE` the signature stands beside")
	flags.StringVar(&f.name, "name", "", "who signs")
	flags.StringVar(&f.role, "role", "", "in which role, such as pharmacist")
	flags.StringVar(&f.license, "license", "", "license, as its board writes it")
	flags.StringVar(&f.on, "on", "", "the `DAY`, 2026-11-25 (default: today, where the program runs)")
	flags.StringArrayVar(&f.tables, "table", nil, "sign this table only; repeatable (default: all)")
	return c
}

func sign(s streams, f signFlags) error {
	if f.policy == "" {
		return usageError{errors.New("tables sign needs --policy FILE: a signature belongs to a site")}
	}
	ref, err := reference(f.policy)
	if err != nil {
		return usageError{err}
	}
	hashes := ref.Hashes()
	if len(f.tables) > 0 {
		chosen := map[string]string{}
		for _, t := range f.tables {
			hash, known := hashes[t]
			if !known {
				return usageError{fmt.Errorf("--table %q: there is no such table; weir tables list names them", t)}
			}
			chosen[t] = hash
		}
		hashes = chosen
	}
	if f.on == "" {
		f.on = s.now().Format(time.DateOnly)
	}
	next, err := policy.NewSignature(f.name, f.role, f.license, f.on, hashes)
	if err != nil {
		return usageError{err}
	}
	if today := s.now().Format(time.DateOnly); today < next.On {
		return usageError{fmt.Errorf("--on %s: dated in the future; today is %s", next.On, today)}
	}
	if err := addSignature(f.policy, next); err != nil {
		return err
	}
	var signed []string
	for t := range hashes {
		signed = append(signed, t)
	}
	slices.Sort(signed)
	fmt.Fprintf(s.err, "weir: %s signed %s on %s in %s\n", next.Name, strings.Join(signed, ", "), next.On, signaturesOf(f.policy))
	return nil
}

// signaturesOf is where the signatures of a site's policy stand.
func signaturesOf(policyFile string) string { return policyFile + ".signatures.json" }

// readSignatures reads the file beside a policy; none is no signature.
func readSignatures(policyFile string) (policy.Signatures, error) {
	name := signaturesOf(policyFile)
	data, err := readPolicy(name)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	list, err := policy.ReadSignatures(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return list, nil
}
