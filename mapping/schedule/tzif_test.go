package schedule_test

import (
	"archive/zip"
	"encoding/binary"
	"fmt"
	"io"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// offsets is a table of the offsets from UTC of a zone, read from the bytes
// of its file by integer arithmetic alone (RFC 9636), and nothing of package
// time: the other side of the tests of local times.
type offsets struct {
	from   []int64 // Unix seconds at which offset begins
	offset []int64
}

func (o offsets) at(unix int64) int64 {
	k := sort.Search(len(o.from), func(i int) bool { return o.from[i] > unix })
	return o.offset[max(k-1, 0)]
}

// local writes an instant as RFC 3339 in the zone.
func (o offsets) local(unix int64) string {
	offset := o.at(unix)
	y, m, d := civil((unix + offset) / 86400)
	s := (unix + offset) % 86400
	sign, abs := byte('+'), offset
	if offset < 0 {
		sign, abs = '-', -offset
	}
	b := []byte("0000-00-00T00:00:00+00:00")
	put := func(at, width int, n int64) {
		for k := at + width - 1; k >= at; k-- {
			b[k] = byte('0' + n%10)
			n /= 10
		}
	}
	put(0, 4, y)
	put(5, 2, m)
	put(8, 2, d)
	put(11, 2, s/3600)
	put(14, 2, s/60%60)
	put(17, 2, s%60)
	b[19] = sign
	put(20, 2, abs/3600)
	put(23, 2, abs/60%60)
	if offset == 0 {
		return string(b[:19]) + "Z"
	}
	return string(b)
}

// civil is the date of a day since 1970-01-01, for days not before it: the
// usual arithmetic with eras of 400 years and years that begin in March.
func civil(days int64) (y, m, d int64) {
	days += 719468
	era, doe := days/146097, days%146097
	yoe := (doe - doe/1460 + doe/36524 - doe/146096) / 365
	doy := doe - (365*yoe + yoe/4 - yoe/100)
	mp := (5*doy + 2) / 153
	d, m, y = doy-(153*mp+2)/5+1, mp+3, yoe+era*400
	if m > 12 {
		m, y = m-12, y+1
	}
	return y, m, d
}

// dayNumber is the inverse of civil.
func dayNumber(y, m, d int64) int64 {
	if m <= 2 {
		y, m = y-1, m+12
	}
	yoe := y % 400
	return y/400*146097 + yoe*365 + yoe/4 - yoe/100 + (153*(m-3)+2)/5 + d - 1 - 719468
}

// readOffsets reads the 64-bit part of the file, and lays out its rule for
// the years after the last listed change up to 2080.
func readOffsets(t testing.TB, name string) offsets {
	r, err := zip.OpenReader("tz/zoneinfo.zip")
	require.NoError(t, err)
	defer r.Close()
	f, err := r.Open(name)
	require.NoError(t, err)
	data, err := io.ReadAll(f)
	require.NoError(t, err)
	require.Equal(t, "TZif", string(data[:4]))
	be := binary.BigEndian
	size := func(b []byte, time int) int { // of the data after a header
		n := func(k int) int { return int(be.Uint32(b[20+4*k:])) }
		return n(3)*(time+1) + n(4)*6 + n(5) + n(2)*(time+4) + n(1) + n(0)
	}
	second := data[44+size(data, 4):]
	n, types := int(be.Uint32(second[32:])), int(be.Uint32(second[36:]))
	body := second[44:]
	var out offsets
	typeAt := func(k int) int64 { return int64(int32(be.Uint32(body[9*n+6*k:]))) }
	require.Positive(t, types)
	out.from, out.offset = append(out.from, -1<<62), append(out.offset, typeAt(0))
	for k := range n {
		out.from = append(out.from, int64(be.Uint64(body[8*k:])))
		out.offset = append(out.offset, typeAt(int(body[8*n+k])))
	}
	footer := strings.Trim(string(second[44+size(second, 8):]), "\n")
	last := out.from[len(out.from)-1]
	changes := posixRule(t, footer)
	for y := int64(1970); y <= 2080; y++ {
		for _, c := range changes(y) {
			if c[0] > last {
				out.from, out.offset = append(out.from, c[0]), append(out.offset, c[1])
			}
		}
	}
	return out
}

// posixRule reads a footer such as EST5EDT,M3.2.0,M11.1.0 into the changes of
// a year, in order: Unix second and offset from then on.
func posixRule(t testing.TB, rule string) func(year int64) [][2]int64 {
	parts := strings.Split(rule, ",")
	name := func(s string) string { // what follows a zone's abbreviation
		if rest, ok := strings.CutPrefix(s, "<"); ok {
			_, after, _ := strings.Cut(rest, ">")
			return after
		}
		return strings.TrimLeft(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZ")
	}
	rest := name(parts[0])
	end := strings.IndexFunc(rest, func(r rune) bool { return r == '<' || r >= 'A' && r <= 'Z' })
	if end < 0 {
		end = len(rest)
	}
	standard := -clockSeconds(t, rest[:end])
	if len(parts) == 1 {
		return func(int64) [][2]int64 { return nil }
	}
	summer := standard + 3600
	if s := name(rest[end:]); s != "" {
		summer = -clockSeconds(t, s)
	}
	begins, stops := posixDay(t, parts[1]), posixDay(t, parts[2])
	return func(year int64) [][2]int64 {
		a, b := [2]int64{begins(year) - standard, summer}, [2]int64{stops(year) - summer, standard}
		if a[0] > b[0] {
			a, b = b, a
		}
		return [][2]int64{a, b}
	}
}

// posixDay reads Mm.w.d/time: the local second of the change in a year.
func posixDay(t testing.TB, s string) func(year int64) int64 {
	date, clock, ok := strings.Cut(s, "/")
	seconds := int64(7200)
	if ok {
		seconds = clockSeconds(t, clock)
	}
	var m, w, d int64
	_, err := fmt.Sscanf(date, "M%d.%d.%d", &m, &w, &d)
	require.NoError(t, err, s)
	return func(year int64) int64 {
		first := dayNumber(year, m, 1)
		weekday := (first + 4) % 7 // 1 January 1970 was a Thursday
		day := first + (d-weekday+7)%7 + 7*(w-1)
		next := dayNumber(year+m/12, m%12+1, 1)
		if day >= next {
			day -= 7
		}
		return day*86400 + seconds
	}
}

func clockSeconds(t testing.TB, s string) int64 {
	sign := int64(1)
	if strings.HasPrefix(s, "-") {
		sign = -1
	}
	total, unit := int64(0), int64(3600)
	for part := range strings.SplitSeq(strings.TrimLeft(s, "+-"), ":") {
		n, err := strconv.ParseInt(part, 10, 64)
		require.NoError(t, err, s)
		total, unit = total+n*unit, unit/60
	}
	return sign * total
}
