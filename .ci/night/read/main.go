// Command read reads and joins a folder as the nightly job does, and measures it:
//
//	go run ./.ci/night/read --workers 2 --temporary EMPTYFOLDER FOLDER
package main

import (
	"context"
	"crypto/sha256"
	"flag"
	"fmt"
	"os"
	"strings"
	"time"

	"weir.example/weir/adapter/night"
)

func main() {
	workers := flag.Int("workers", 2, "scanning at once")
	temporary := flag.String("temporary", "", "an empty folder for temporary files")
	flag.Parse()
	if flag.NArg() != 1 || *temporary == "" {
		fmt.Fprintln(os.Stderr, "read --temporary EMPTYFOLDER FOLDER")
		os.Exit(2)
	}
	if err := run(flag.Arg(0), *temporary, *workers); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(folder, temporary string, workers int) error {
	in, err := os.OpenRoot(folder)
	if err != nil {
		return err
	}
	defer in.Close()
	aside, err := os.OpenRoot(temporary)
	if err != nil {
		return err
	}
	defer aside.Close()
	begin := time.Now()
	f, err := night.Open(context.Background(), in.FS(), aside, workers)
	if err != nil {
		return err
	}
	defer f.Close()
	opened := time.Since(begin)
	lines, size, most := 0, 0, 0
	all := sha256.New()
	for g, err := range f.Groups(context.Background()) {
		if err != nil {
			return err
		}
		all.Write(g.Sum[:])
		lines += len(g.Lines)
		most = max(most, len(g.Lines))
		for _, l := range g.Lines {
			size += len(l.Data)
		}
	}
	took := time.Since(begin).Seconds()
	facts := f.Facts()
	fmt.Printf("%d lines (%d failed), %d groups, %d lines and %d MB handed out, at most %d a group; read and joined in %.1f s, handed out in %.1f s: %.0f lines/s, %.0f MB/s, %.0f groups/s; %s; sum %x\n",
		facts.Lines, facts.Failed, facts.Groups, lines, size>>20, most, opened.Seconds(), took-opened.Seconds(), float64(facts.Lines)/took, float64(size>>20)/took, float64(facts.Groups)/took, peak(), all.Sum(nil)[:4])
	return nil
}

// peak is the most memory the process ever had, as the system counts it.
func peak() string {
	text, _ := os.ReadFile("/proc/self/status")
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "VmHWM") {
			return strings.Join(strings.Fields(line), " ")
		}
	}
	return "peak memory not known"
}
