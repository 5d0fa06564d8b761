package adapter

import (
	"cmp"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"weir.example/weir/conformance"
	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/r4"
)

// Folder is a folder of NDJSON by resource type (FHIR Bulk Data), read: one
// document whose orders are judged patient by patient. It keeps the text of
// every line that could be read, and about 1 kB beside each; it is judged
// without growing beyond that.
type Folder struct {
	Failed []Row         // lines that could not be read, by file and line
	Left   []r4.LeftOver // what no order leads to
	Files  []string      // names that are no part of the layout, and were not read

	lines  [][]byte
	in     []r4.Member
	lost   []string // for each member the line in words, when it failed
	parts  []r4.Part
	hash   string
	unread string
}

// mostFolder bounds the text of one folder in bytes, compressed files as they
// unpack. Our own decision, no source; a larger state is for reconcile.
const mostFolder = 2 << 30

// FolderFault is why a folder as a whole is refused: exit 3, not 2.
type FolderFault struct{ finding.Finding }

func (f FolderFault) Error() string { return f.Detail }

type folderFile struct{ name, kind string }

// OpenFolder reads every file of the layout in a folder, on so many workers.
// An error is a FolderFault, the context's, or of the file system.
func OpenFolder(ctx context.Context, files fs.FS, r Request, workers int) (*Folder, error) {
	f := &Folder{}
	list, err := f.names(files)
	if err != nil {
		return nil, err
	}
	total := 0
	for _, one := range list {
		if err := f.file(ctx, files, one, r.Judges, workers, &total); err != nil {
			return nil, err
		}
	}
	f.settle()
	return f, nil
}

// names lists the files to be read; among them must be one of orders.
func (f *Folder) names(files fs.FS) ([]folderFile, error) {
	found, left, err := Layout(files)
	if err != nil {
		return nil, err
	}
	f.Files = left
	var list []folderFile
	orders := false
	for _, one := range found {
		list = append(list, folderFile{one.Name, one.Type})
		orders = orders || one.Type == "MedicationRequest"
	}
	if !orders {
		return nil, FolderFault{finding.Finding{Code: "document-unsupported", Place: finding.Place{Expression: "MedicationRequest"}, Observed: "no file MedicationRequest.ndjson",
			Expected: "a folder of NDJSON by resource type, Type[.PART].ndjson or Type[.PART].ndjson.gz", Detail: "the folder holds no file of orders, so there is nothing to judge",
			Remedy: "Give the folder of a Bulk Data export, or name the files themselves."}}
	}
	return list, nil
}

// file reads one file. Its lines are checked in parallel and kept in order.
func (f *Folder) file(ctx context.Context, files fs.FS, one folderFile, judges []schema.Judge, workers int, total *int) error {
	stream, err := files.Open(one.name)
	if err != nil {
		return err
	}
	defer stream.Close()
	var in io.Reader = stream
	if strings.HasSuffix(one.name, ".gz") {
		if in, err = gzip.NewReader(stream); err != nil {
			f.broken(one, 1)
			return nil
		}
	}
	lines := NewLineReader(in)
	next := func() (Line, error) {
		line, err := lines.Next()
		if *total += line.Size; *total > mostFolder {
			return line, FolderFault{finding.Finding{Code: "document-limit", Place: finding.Place{Expression: one.kind}, Observed: "more than 2 GiB of text", Expected: "at most 2 GiB in one folder",
				Detail: "the folder is larger than 2 GiB; it was not judged", Remedy: "Export fewer patients, or use reconcile."}}
		}
		return line, err
	}
	type checked struct {
		Line
		member r4.Member
		faults []finding.Finding
	}
	work := func(line Line) checked {
		if line.Overlong() {
			return checked{line, r4.Member{Type: one.kind, Failed: true}, []finding.Finding{element.Overlong(line.Size, line.Number)}}
		}
		m, faults := conformance.Resource(line.Data, line.Number, one.kind, judges)
		return checked{line, m, faults}
	}
	err = Ordered(ctx, workers, next, func(l Line) int { return len(l.Data) }, work, func(c checked) error {
		f.keep(one, c.Line, c.member, c.faults)
		return nil
	})
	var whole FolderFault
	switch {
	case err == nil, ctx.Err() != nil, errors.As(err, &whole):
		return err
	case strings.HasSuffix(one.name, ".gz"):
		f.broken(one, lines.Number()+1)
		return nil
	}
	return fmt.Errorf("%s cannot be read on behind line %d: %w", one.name, lines.Number(), err)
}

func (f *Folder) keep(one folderFile, line Line, m r4.Member, faults []finding.Finding) {
	data, words := line.Data, ""
	if len(faults) > 0 {
		words = fmt.Sprintf("line %d of %s", line.Number, one.name)
		data = nil
		f.Failed = append(f.Failed, Row{Answer: Answer{Faults: faults}, File: one.name, Line: line.Number, Folder: true})
	}
	f.lines, f.in, f.lost = append(f.lines, data), append(f.in, m), append(f.lost, words)
}

// broken is a compressed file that ends or fails inside.
func (f *Folder) broken(one folderFile, line int) {
	f.keep(one, Line{Number: line}, r4.Member{Type: one.kind, Failed: true}, []finding.Finding{{Code: "document-json",
		Place: finding.Place{Expression: one.kind, Line: line, Column: 1}, Observed: "a compressed file that is broken from here on", Expected: "a whole gzip file",
		Detail: "the compressed file cannot be unpacked to its end", Remedy: "Send the file again, whole."}})
}

// settle groups the lines once all are there.
func (f *Folder) settle() {
	f.parts, f.Left = r4.Group(f.in)
	slices.SortFunc(f.Failed, func(a, b Row) int { return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line)) })
	sums := make([][]byte, 0, len(f.in))
	for _, m := range f.in {
		sums = append(sums, m.Sum[:])
	}
	slices.SortFunc(sums, slices.Compare)
	h := sha256.New()
	for _, s := range sums {
		h.Write(s)
	}
	f.hash = hex.EncodeToString(h.Sum(nil))
	nobodys := 0
	for i, m := range f.in {
		if f.lost[i] != "" && !m.Owned() {
			nobodys++
		}
	}
	if nobodys > 0 {
		f.unread = fmt.Sprintf("not used: lines of the folder that could not be read and do not say whose they are: %d; a fact of this patient may be in them", nobodys)
	}
}

// Jobs gives the lines that failed, then the orders of each patient. Of a
// folder without an order for infusion it says so at the end. A job whose row
// stays empty has nothing to say: the patient has no order for infusion.
func (f *Folder) Jobs(at Row, r Request) Jobs {
	at.Folder = true
	signed := r.Reference.At(r.Now).Signed()
	failed, part, ended := 0, 0, false
	var orders atomic.Int64
	var running sync.WaitGroup
	return func() (Job, error) {
		job := Job{Row: at}
		switch {
		case failed < len(f.Failed):
			row := f.Failed[failed]
			failed++
			job.Row.File, job.Row.Line = row.File, row.Line
			job.Work = func() Answer { return row.Answer }
		case part < len(f.parts):
			p := f.parts[part]
			part++
			for _, i := range p.Members {
				job.Size += len(f.lines[i])
			}
			running.Add(1)
			job.Work = func() Answer {
				defer running.Done()
				list := conformance.JudgeSet(f.set(p, r))
				orders.Add(int64(len(list)))
				return Answer{Worksheets: list, Signed: signed}
			}
		case !ended && len(f.Failed) == 0:
			ended = true
			job.Work = func() Answer { // the parts before it are taken in order, so all of them are at work
				if running.Wait(); orders.Load() > 0 {
					return Answer{}
				}
				return Answer{Faults: []finding.Finding{r4.NoOrder()}}
			}
		default:
			return job, io.EOF
		}
		return job, nil
	}
}

func (f *Folder) set(p r4.Part, r Request) conformance.Set {
	in := conformance.Set{Unread: f.unread, Document: f.hash, Reference: r.Reference, Now: r.Now, Stage: r.Stage, Lenient: r.Lenient}
	for k, i := range p.Members {
		m := f.in[i]
		several := k > 0 && same(m, f.in[p.Members[k-1]]) || k+1 < len(p.Members) && same(m, f.in[p.Members[k+1]])
		in.Resources, in.Names = append(in.Resources, f.lines[i]), append(in.Names, r4.Named(m, several))
	}
	for _, i := range p.Lost {
		in.Lost = append(in.Lost, f.lost[i])
	}
	slices.Sort(in.Lost)
	return in
}

func same(a, b r4.Member) bool { return a.Type == b.Type && a.ID == b.ID }
