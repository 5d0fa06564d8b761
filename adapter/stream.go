package adapter

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"

	"weir.example/weir/conformance"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// Row is the answer to one document, and where the document stood.
type Row struct {
	Answer
	Document int    // among the arguments, from 1
	File     string // base name, "" when the document is the only argument's
	Line     int    // of an NDJSON file, from 1; 0 for a whole file
	Folder   bool   // a part of a folder, or one of its lines that failed
	Text     []byte // the answer as Prepare encoded it; nil when it did not
}

// Job is one document that waits to be judged.
type Job struct {
	Row  Row
	Size int // bytes
	Work func() Answer
}

// Do judges the document.
func (j Job) Do() Row {
	j.Row.Answer = j.Work()
	return j.Row
}

// Jobs gives one document after the other, then io.EOF.
type Jobs func() (Job, error)

// JudgeAll judges documents on so many workers, prepares the answers there for
// writing, and writes them in the order of the documents, see Ordered. Seen is
// told of each before it is written.
func JudgeAll(ctx context.Context, workers int, next Jobs, out Writer, seen func(Row)) error {
	work := func(j Job) Row {
		r := j.Do()
		r.Text = out.Prepare(r)
		return r
	}
	return Ordered(ctx, workers, next, func(j Job) int { return j.Size }, work, func(r Row) error {
		seen(r)
		return out.Write(r)
	})
}

// DocumentJob is one file as one document.
func DocumentJob(data []byte, at Row, r Request) Job {
	return Job{Row: at, Size: len(data), Work: func() Answer { return Verify(data, r) }}
}

// LineJobs gives each line of an NDJSON file as a document. A file without
// any gives one that is refused as empty. An error is the stream's, with the
// line it broke off at.
func LineJobs(in io.Reader, at Row, r Request) Jobs {
	lines, some := NewLineReader(in), false
	return func() (Job, error) {
		line, err := lines.Next()
		job := Job{Row: at}
		switch {
		case errors.Is(err, io.EOF) && !some:
			some = true
			job.Row.Line = 1
			job.Work = func() Answer { return verifyLine(nil, 1, r) }
			return job, nil
		case errors.Is(err, io.EOF):
			return job, err
		case err != nil:
			return job, fmt.Errorf("%s cannot be read on behind line %d: %w", at.File, lines.Number(), err)
		}
		some = true
		job.Row.Line, job.Size = line.Number, len(line.Data)
		job.Work = func() Answer {
			if line.Overlong() {
				return Answer{Faults: []finding.Finding{element.Overlong(line.Size, line.Number)}}
			}
			return verifyLine(line.Data, line.Number, r)
		}
		return job, nil
	}
}

func verifyLine(data []byte, line int, r Request) Answer {
	j := conformance.Judge(conformance.Input{Document: data, Reference: r.Reference, Judges: r.Judges, Now: r.Now, Stage: r.Stage, Lenient: r.Lenient, Line: line})
	return Answer{Faults: j.Faults, Worksheets: j.Worksheets, Signed: r.Reference.At(r.Now).Signed()}
}

// Follow gives what each of the lists gives, one after the other.
func Follow(lists ...Jobs) Jobs {
	return func() (Job, error) {
		for len(lists) > 0 {
			job, err := lists[0]()
			if !errors.Is(err, io.EOF) {
				return job, err
			}
			lists = lists[1:]
		}
		return Job{}, io.EOF
	}
}

// Line is one line of an NDJSON file, without its end.
type Line struct {
	Number int // from 1; empty lines count
	Data   []byte
	Size   int // bytes of the line; more than len(Data) when it is longer than MostLine and was not kept
}

// Overlong reports whether the line was too long to be kept.
func (l Line) Overlong() bool { return l.Size > len(l.Data) }

// LineReader splits a stream into lines. It never holds more than one line,
// and no line longer than element.MostLine.
type LineReader struct {
	in     *bufio.Reader
	number int
}

// NewLineReader reads lines from a stream.
func NewLineReader(in io.Reader) *LineReader { return &LineReader{in: bufio.NewReaderSize(in, 64<<10)} }

// Next gives the next line that is not empty: LF ends a line, a CR before it
// belongs to the end, blanks and tabs alone are empty, and the last line may
// lack its end. io.EOF says that there is none; any other error is the
// stream's, and the line it broke off in is not given.
func (r *LineReader) Next() (Line, error) {
	for {
		line, err := r.line()
		if err != nil {
			return Line{}, err
		}
		if line.Overlong() || !blank(line.Data) {
			return line, nil
		}
	}
}

// Number is the number of the line read last.
func (r *LineReader) Number() int { return r.number }

func (r *LineReader) line() (Line, error) {
	var data []byte
	size := 0
	for {
		piece, err := r.in.ReadSlice('\n')
		if size == 0 && len(piece) > 0 {
			r.number++
		}
		size += len(piece)
		if size <= element.MostLine+2 { // its end may be CR LF
			data = append(data, piece...)
		} else {
			data = nil
		}
		switch {
		case err == nil:
			return trim(r.number, data, size, 1), nil
		case errors.Is(err, bufio.ErrBufferFull):
		case errors.Is(err, io.EOF) && size > 0:
			return trim(r.number, data, size, 0), nil
		default:
			return Line{}, err
		}
	}
}

// trim takes the end off a line: LF where there is one, and a CR before it.
func trim(number int, data []byte, size, end int) Line {
	if data == nil {
		return Line{Number: number, Size: size - end}
	}
	data = data[:len(data)-end]
	if n := len(data); end == 1 && n > 0 && data[n-1] == '\r' {
		data = data[:n-1]
	}
	line := Line{Number: number, Data: data, Size: len(data)}
	if len(data) > element.MostLine {
		line.Data = nil
	}
	return line
}

func blank(data []byte) bool {
	for _, c := range data {
		if c != ' ' && c != '\t' && c != '\r' {
			return false
		}
	}
	return true
}
