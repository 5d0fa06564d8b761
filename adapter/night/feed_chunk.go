package night

import (
	"bytes"
	"context"
	"errors"
	"io"

	"weir.example/weir/mapping/element"
)

// chunk is some whole lines of a file.
type chunk struct {
	file  int
	first int // number of its first line
	data  []byte
	open  bool // its last line has no end: it is the file's last
	size  int  // of a line too long to be kept, and then the chunk is that line
}

// chunkSize is what is read at once, in bytes.
const chunkSize = 256 << 10

// chunker cuts a stream into chunks. It holds one, and no line longer than
// element.MostLine.
type chunker struct {
	file, line int
	give       func(chunk) error
	buffer     func() []byte
	carry      []byte
	skipped    int // bytes of an overlong line that were read so far
}

// run reads the stream to its end. line is then the number of lines that were
// given; an error is the stream's, and what stands behind the last whole line
// is not given then, or that of give.
func (c *chunker) run(ctx context.Context, in io.Reader) error {
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		buf := c.buffer()
		if need := len(c.carry) + chunkSize/2; cap(buf) < need || cap(buf) > 2*chunkSize+4*need {
			buf = make([]byte, 0, max(chunkSize, 2*need))
		}
		buf = append(buf[:0], c.carry...)
		c.carry = nil
		buf, err := fill(in, buf)
		ended := errors.Is(err, io.EOF)
		if err != nil && !ended {
			return errors.Join(c.lines(buf, false), err)
		}
		if bad := c.lines(buf, ended); bad != nil || ended {
			return bad
		}
	}
}

// fill reads until the buffer is full.
func fill(in io.Reader, buf []byte) ([]byte, error) {
	for idle := 0; len(buf) < cap(buf); {
		n, err := in.Read(buf[len(buf):cap(buf)])
		buf = buf[:len(buf)+n]
		if idle++; n > 0 {
			idle = 0
		}
		if err == nil && idle == mostIdle {
			err = io.ErrNoProgress
		}
		if err != nil {
			return buf, err
		}
	}
	return buf, nil
}

const mostIdle = 100

// lines gives the whole lines of what was read, and keeps the rest.
func (c *chunker) lines(buf []byte, ended bool) error {
	if c.skipped > 0 {
		end := bytes.IndexByte(buf, '\n')
		if end < 0 && !ended {
			c.skipped += len(buf)
			return nil
		}
		if end < 0 {
			end = len(buf)
		}
		c.line++
		err := c.give(chunk{file: c.file, first: c.line, size: c.skipped + end, open: end == len(buf)})
		c.skipped = 0
		if err != nil {
			return err
		}
		buf = buf[min(end+1, len(buf)):]
	}
	last := bytes.LastIndexByte(buf, '\n') + 1
	if ended {
		last = len(buf)
	}
	if last > 0 {
		whole := chunk{file: c.file, first: c.line + 1, data: buf[:last], open: buf[last-1] != '\n'}
		c.line += bytes.Count(whole.data, []byte{'\n'})
		if whole.open {
			c.line++
		}
		rest := append([]byte(nil), buf[last:]...)
		if err := c.give(whole); err != nil {
			return err
		}
		buf = rest
	}
	if len(buf) > element.MostLine+2 {
		c.skipped, buf = len(buf), nil
	}
	c.carry = buf
	return nil
}

// each splits the chunk into the lines that are not empty, as
// adapter.LineReader does: without their ends, which are LF or CR LF.
func (c *chunk) each(do func(line []byte, number int, open bool) error) error {
	number, data := c.first, c.data
	for ; len(data) > 0; number++ {
		end := bytes.IndexByte(data, '\n')
		open := end < 0
		if open {
			end = len(data)
		}
		line := data[:end]
		if !open && end > 0 && line[end-1] == '\r' {
			line = line[:end-1]
		}
		if len(line) > element.MostLine || len(bytes.TrimLeft(line, " \t\r")) > 0 {
			if err := do(line, number, open); err != nil {
				return err
			}
		}
		data = data[min(end+1, len(data)):]
	}
	return nil
}
