package quantity

import "strconv"

// The paths for numbers that fit two int64s: printing is most of the work of
// a worksheet. Each answers false when it would overflow, and the exact path
// over big.Rat takes over.

var powersOfTen = func() (p [19]int64) {
	p[0] = 1
	for i := 1; i < len(p); i++ {
		p[i] = 10 * p[i-1]
	}
	return p
}()

// fastExact writes a when its decimal expansion ends within most places.
func (a Number) fastExact(most int) (string, bool) {
	if a.r != nil || a.n == -1<<63 {
		return "", false
	}
	d, places := a.den(), 0
	twos, fives := 0, 0
	for ; d%2 == 0; d /= 2 {
		twos++
	}
	for ; d%5 == 0; d /= 5 {
		fives++
	}
	places = max(twos, fives)
	if d != 1 || places > most || places >= len(powersOfTen) {
		return "", false
	}
	scaled, ok := mul64(a.n, powersOfTen[places]/a.den())
	if !ok {
		return "", false
	}
	return point(scaled, places), true
}

// fastPlaces writes a rounded half away from zero to n places.
func (a Number) fastPlaces(n int) (string, bool) {
	if a.r != nil || n < 0 || n >= len(powersOfTen) {
		return "", false
	}
	abs := a.Abs()
	top, ok := mul64(abs.n, powersOfTen[n])
	if !ok || abs.n < 0 {
		return "", false
	}
	q, r := top/abs.den(), top%abs.den()
	if r >= abs.den()-r {
		q++
	}
	if a.n < 0 {
		q = -q
	}
	return point(q, n), true
}

// fastMagnitude is magnitude for two int64s.
func (a Number) fastMagnitude() (int, bool) {
	n, d := a.Abs().n, a.den()
	if a.r != nil || n <= 0 {
		return 0, false
	}
	m := 0
	for n/d >= 1 {
		if d > (1<<63-1)/10 {
			return 0, false
		}
		d, m = d*10, m+1
	}
	for {
		up, ok := mul64(n, 10)
		if !ok {
			return 0, false
		}
		if up >= d {
			return m, true
		}
		n, m = up, m-1
	}
}

// point writes n with the decimal point before the last places digits,
// trailing zeros cut.
func point(n int64, places int) string {
	s := strconv.FormatInt(max(n, -n), 10)
	for len(s) <= places {
		s = "0" + s
	}
	if places > 0 {
		s = s[:len(s)-places] + "." + s[len(s)-places:]
	}
	if n < 0 {
		s = "-" + s
	}
	return trim(s)
}
