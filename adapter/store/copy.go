package store

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"maps"
	"slices"
	"strings"

	"weir.example/weir/adapter"
)

// A copy is lines of JSON: a head, one line for each row, and an end with the
// number of rows and the SHA-256 of all lines before it. Rows stand in the
// order of tables and of their keys, so two stores with one content give the
// same bytes. What is compressed stays as it is; bytes are base64.

const (
	copyFormat  = "weir store"
	copyVersion = 1
	longestLine = 256 << 20
)

type copyHead struct {
	Format  string `json:"format"`
	Version int    `json:"version"`
	Schema  int64  `json:"schema"`
}

type copyRow struct {
	Table string `json:"t"`
	Row   []any  `json:"r"`
}

type copyEnd struct {
	End map[string]int64 `json:"end"`
	SHA string           `json:"sha256"`
}

// Export writes the whole store as of one moment.
func (s *Store) Export(ctx context.Context, w io.Writer) error {
	buffer := bufio.NewWriterSize(w, 1<<20)
	sum := sha256.New()
	out := json.NewEncoder(io.MultiWriter(buffer, sum))
	out.SetEscapeHTML(false)
	if err := out.Encode(copyHead{copyFormat, copyVersion, s.b.Schema()}); err != nil {
		return err
	}
	counts := map[string]int64{}
	err := s.b.Snapshot(ctx, func(tx Tx) error {
		for _, t := range tables {
			err := each(ctx, tx.Query, func(r Rows) error {
				row, err := scanRow(r, t)
				if err != nil {
					return err
				}
				counts[t.name]++
				return out.Encode(copyRow{t.name, row})
			}, t.selectAll())
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	end, err := json.Marshal(copyEnd{counts, hex.EncodeToString(sum.Sum(nil))})
	if err != nil {
		return err
	}
	if _, err := buffer.Write(append(end, '\n')); err != nil {
		return err
	}
	return buffer.Flush()
}

func (t table) names() []string {
	var out []string
	for _, c := range t.columns {
		out = append(out, c.name)
	}
	return out
}

// selectAll reads a table in the order of its primary key. Shelves count in
// the order of what they are for: their own numbers say only who was first.
func (t table) selectAll() string {
	join := ""
	names := t.names()
	for i, c := range t.columns {
		if names[i] = "t." + c.name; c.kind == ordinal {
			join = " JOIN (SELECT n, ROW_NUMBER() OVER (ORDER BY patient, label, part) AS turn FROM shelf) s ON s.n = t." + c.name
			names[i] = "s.turn"
		}
	}
	return "SELECT " + strings.Join(names, ", ") + " FROM " + t.name + " t" + join + " ORDER BY " + strings.Join(names[:t.key], ", ")
}

func scanRow(r Rows, t table) ([]any, error) {
	to := make([]any, len(t.columns))
	for i, c := range t.columns {
		switch c.kind {
		case count, ordinal:
			to[i] = new(int64)
		case octets:
			to[i] = new([]byte)
		case maybe:
			to[i] = new(*string)
		default:
			to[i] = new(string)
		}
	}
	if err := r.Scan(to...); err != nil {
		return nil, err
	}
	for i := range to {
		switch v := to[i].(type) {
		case *int64:
			to[i] = *v
		case *[]byte:
			to[i] = base64.StdEncoding.EncodeToString(*v)
		case **string:
			to[i] = *v
		case *string:
			to[i] = *v
		}
	}
	return to, nil
}

// Import reads a copy into an empty store. It reads it twice: what is not a
// whole copy never reaches the database.
func (s *Store) Import(ctx context.Context, r io.ReadSeeker) error {
	if err := s.readCopy(ctx, r, nil); err != nil {
		return err
	}
	return s.write(ctx, nil, func(tx Tx) error {
		for _, t := range slices.Concat(tables, made) {
			n, err := countRows(ctx, tx.Query, t.name)
			if err != nil {
				return err
			}
			if n > 0 {
				return &adapter.Invalid{What: "a copy is read into an empty store only"}
			}
		}
		if err := s.readCopy(ctx, r, tx); err != nil {
			return err
		}
		if err := s.b.Imported(ctx, tx); err != nil {
			return err
		}
		return s.placesAgain(ctx, tx)
	})
}

// readCopy reads a copy from its beginning to its end, and writes it when tx
// is given.
func (s *Store) readCopy(ctx context.Context, r io.ReadSeeker, tx Tx) error {
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return &adapter.Invalid{What: "the copy cannot be read from its beginning"}
	}
	in := &copyReader{in: bufio.NewReaderSize(r, 1<<20), hash: sha256.New()}
	line, err := in.line()
	if err != nil {
		return err
	}
	var head copyHead
	if json.Unmarshal(line, &head) != nil || head.Format != copyFormat || head.Version != copyVersion {
		return &adapter.Foreign{What: "the copy does not begin as one of a store"}
	}
	if head.Schema > s.b.Schema() {
		return &adapter.SchemaNewer{What: "copy", Have: head.Schema, Know: s.b.Schema()}
	}
	if head.Schema < s.b.Schema() {
		return &adapter.SchemaOlder{Have: head.Schema, Need: s.b.Schema(), Copy: true}
	}
	return in.rows(ctx, tx)
}

func countRows(ctx context.Context, query func(context.Context, string, ...any) (Rows, error), name string) (n int64, err error) {
	err = each(ctx, query, func(r Rows) error { return r.Scan(&n) }, "SELECT COUNT(*) FROM "+name)
	return n, err
}

type copyReader struct {
	in     *bufio.Reader
	number int
	before [32]byte  // hash of the lines before this one
	hash   hash.Hash // of the lines so far
}

// line reads one line and adds it to the hash.
func (c *copyReader) line() ([]byte, error) {
	c.before = [32]byte(c.hash.Sum(nil))
	c.number++
	var out []byte
	for {
		part, err := c.in.ReadSlice('\n')
		out = append(out, part...)
		if err == nil {
			break
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return nil, &adapter.Invalid{What: fmt.Sprintf("the copy ends inside or before line %d", c.number)}
		}
		if len(out) > longestLine {
			return nil, c.fault("is too long")
		}
	}
	_, _ = c.hash.Write(out)
	return out, nil
}

func (c *copyReader) fault(what string) error {
	return &adapter.Invalid{What: fmt.Sprintf("line %d of the copy %s", c.number, what)}
}

// rows reads rows up to the end and compares what the end says.
func (c *copyReader) rows(ctx context.Context, tx Tx) error {
	byName := map[string]table{}
	for _, t := range tables {
		byName[t.name] = t
	}
	counts := map[string]int64{}
	load := loader{tx: tx}
	for {
		if err := ctx.Err(); err != nil {
			return &adapter.Unavailable{Code: "interrupted", Cause: err}
		}
		line, err := c.line()
		if err != nil {
			return err
		}
		if bytes.HasPrefix(line, []byte(`{"end":`)) {
			if err := load.run(ctx); err != nil {
				return err
			}
			return c.end(line, counts)
		}
		var row copyRow
		d := json.NewDecoder(bytes.NewReader(line))
		d.UseNumber()
		t, known := table{}, false
		if d.Decode(&row) == nil {
			t, known = byName[row.Table]
		}
		if !known || len(row.Row) != len(t.columns) {
			return c.fault("is no row of a store")
		}
		args, err := rowArguments(t, row.Row)
		if err != nil {
			return c.fault("holds a value of another kind than its column")
		}
		counts[t.name]++
		if err := load.add(ctx, t, args, c.number, len(line)); err != nil {
			return err
		}
	}
}

// Rows of one table go many to a statement, always as many, so that a
// database prepares two statements for a table.
const (
	rowsTogether  = 64
	batchRows     = 1024
	batchBytes    = 8 << 20
	largestInsert = 1 << 20 // a row beyond it goes alone
)

// loader writes the rows of a copy.
type loader struct {
	tx      Tx // nil: nothing is written
	table   table
	rows    []any // arguments of rows of one table that wait
	lines   []int // and their lines
	batch   []Statement
	waiting int // rows
	size    int // bytes
}

func (l *loader) add(ctx context.Context, t table, args []any, line, size int) error {
	if l.tx == nil {
		return nil
	}
	if t.name != l.table.name || size > largestInsert {
		l.single()
	}
	l.table = t
	l.rows, l.lines = append(l.rows, args...), append(l.lines, line)
	if size > largestInsert {
		l.single()
	} else if len(l.lines) == rowsTogether {
		l.queue(t, l.rows, l.lines)
		l.rows, l.lines = nil, nil
	}
	l.waiting++
	if l.size += size; l.waiting >= batchRows || l.size > batchBytes {
		return l.run(ctx)
	}
	return nil
}

// single queues what waits one row to a statement.
func (l *loader) single() {
	n := len(l.table.columns)
	for i := range l.lines {
		l.queue(l.table, l.rows[i*n:(i+1)*n], l.lines[i:i+1])
	}
	l.rows, l.lines = nil, nil
}

func (l *loader) queue(t table, args []any, lines []int) {
	what := fmt.Sprintf("line %d of the copy does not fit the rows before it", lines[0])
	if len(lines) > 1 {
		what = fmt.Sprintf("one of the lines %d to %d of the copy does not fit the rows before it", lines[0], lines[len(lines)-1])
	}
	l.batch = append(l.batch, Statement{Name: t.name, SQL: t.insert(len(lines)), Args: args, Rows: int64(len(lines)), Fail: &adapter.Invalid{What: what}})
}

func (l *loader) run(ctx context.Context) error {
	if l.tx == nil {
		return nil
	}
	l.single()
	batch := l.batch
	l.batch, l.waiting, l.size = nil, 0, 0
	return l.tx.Run(ctx, batch)
}

func (c *copyReader) end(line []byte, counts map[string]int64) error {
	before := c.before
	var end copyEnd
	if json.Unmarshal(line, &end) != nil || end.SHA != hex.EncodeToString(before[:]) || !maps.Equal(end.End, counts) {
		return &adapter.Damaged{Kind: "copy"}
	}
	if _, err := c.in.ReadByte(); err != io.EOF {
		return &adapter.Invalid{What: "the copy goes on after its end"}
	}
	return nil
}

// insert is a statement for so many rows.
func (t table) insert(rows int) string {
	var b strings.Builder
	b.WriteString("INSERT INTO " + t.name + "(" + strings.Join(t.names(), ",") + ") VALUES ")
	for r := range rows {
		for i := range t.columns {
			switch {
			case i > 0:
				b.WriteByte(',')
			case r > 0:
				b.WriteString(",(")
			default:
				b.WriteByte('(')
			}
			fmt.Fprintf(&b, "$%d", r*len(t.columns)+i+1)
		}
		b.WriteString(")")
	}
	return b.String() + unlessThere
}

func rowArguments(t table, row []any) ([]any, error) {
	out := make([]any, len(row))
	for i, c := range t.columns {
		var err error
		switch v := row[i].(type) {
		case json.Number:
			if c.kind != count && c.kind != ordinal {
				return nil, errors.New("number")
			}
			out[i], err = v.Int64()
		case string:
			if c.kind == count || c.kind == ordinal {
				return nil, errors.New("text")
			}
			if out[i] = v; c.kind == octets {
				out[i], err = base64.StdEncoding.DecodeString(v)
			}
		case nil:
			if c.kind != maybe {
				return nil, errors.New("null")
			}
		default:
			return nil, errors.New("kind")
		}
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}
