// Command generate writes one invented night of a hospital into a folder:
//
//	go run ./.ci/night/generate --orders 10000 --seed 1 --night 0 FOLDER
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"time"

	"weir.example/weir/adapter/night/nightgen"
)

func main() {
	var h nightgen.Hospital
	var layout nightgen.Layout
	flag.IntVar(&h.Orders, "orders", 1000, "orders of night 0, one a patient")
	flag.Uint64Var(&h.Seed, "seed", 1, "the same seed, the same nights")
	night := flag.Int("night", 0, "which night, from 0")
	flag.IntVar(&h.Churn, "churn", 30, "orders of a thousand to which something happens in a night")
	flag.BoolVar(&h.Noise, "noise", false, "lines twice, other order of keys, blanks, new versions that say the same")
	flag.IntVar(&h.Broken, "broken", 0, "lines that cannot be read")
	flag.IntVar(&layout.Parts, "parts", 4, "files for each type")
	flag.BoolVar(&layout.Packed, "gzip", false, "compress the files")
	truth := flag.Bool("truth", false, "write what the night has to find to standard output, one line an order")
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "generate [flags] FOLDER")
		os.Exit(2)
	}
	if err := run(h, *night, layout, flag.Arg(0), *truth); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(h nightgen.Hospital, night int, layout nightgen.Layout, path string, truth bool) error {
	if err := os.MkdirAll(path, 0o700); err != nil {
		return err
	}
	root, err := os.OpenRoot(path)
	if err != nil {
		return err
	}
	defer root.Close()
	begin := time.Now()
	totals, err := h.Write(night, layout, func(name string) (io.WriteCloser, error) { return root.Create(name) })
	if err != nil {
		return err
	}
	took := time.Since(begin).Seconds()
	fmt.Fprintf(os.Stderr, "%d orders, %d lines, %d MB in %.1f s: %.0f orders/s, %.0f MB/s; judge it at %s\n", totals.Orders, totals.Lines, totals.Bytes>>20,
		took, float64(totals.Orders)/took, float64(totals.Bytes>>20)/took, nightgen.Clock(night).Format(time.RFC3339))
	if truth {
		for t := range h.Truth(night) {
			fmt.Printf("%s\t%s\t%s\t%v\t%v\n", t.Key, t.State, t.Kind, t.Codes, t.OneOf)
		}
	}
	return nil
}
