package quantity

import (
	"fmt"
	"strings"
)

// part is a unit, or a piece of one on the way to it.
type part struct {
	factor      Number
	dim         Dimension
	over, under int8 // grams multiplied and divided by, before they cancel
}

type unitParser struct{ rest string }

// MaxPower bounds the exponent of one dimension in a whole unit. No unit of
// the trade needs more than 3; beyond it a sum of exponents could come round
// to that of another dimension.
const MaxPower = 20

func (p *unitParser) term(depth int) (part, error) {
	if depth > 8 {
		return part{}, fmt.Errorf("is nested too deep")
	}
	whole := number(Int(1))
	divide := p.take('/')
	for {
		f, err := p.component(depth)
		if err != nil {
			return part{}, err
		}
		if divide {
			f = f.inverse()
		}
		whole = whole.times(f)
		for i, n := range whole.dim {
			if max(n, -n) > MaxPower || whole.over > MaxPower || whole.under > MaxPower {
				return part{}, fmt.Errorf("has %s to a power above %d", dimensionNames[i], MaxPower)
			}
		}
		switch {
		case p.take('.'):
			divide = false
		case p.take('/'):
			divide = true
		default:
			return whole, nil
		}
	}
}

func number(n Number) part { return part{factor: n} }

func (a part) times(b part) part {
	return part{a.factor.Mul(b.factor), a.dim.Times(b.dim), a.over + b.over, a.under + b.under}
}

func (a part) inverse() part {
	return part{Int(1).Quo(a.factor), None.Per(a.dim), a.under, a.over}
}

func (p *unitParser) take(c byte) bool {
	if p.rest != "" && p.rest[0] == c {
		p.rest = p.rest[1:]
		return true
	}
	return false
}

func (p *unitParser) component(depth int) (part, error) {
	if p.take('(') {
		f, err := p.term(depth + 1)
		if err == nil && !p.take(')') {
			err = fmt.Errorf("lacks a closing bracket")
		}
		return f, err
	}
	if strings.HasPrefix(p.rest, "{") {
		return number(Int(1)), p.annotation()
	}
	f, err := p.symbol()
	if err == nil && strings.HasPrefix(p.rest, "{") {
		err = p.annotation()
	}
	return f, err
}

func (p *unitParser) annotation() error {
	end := strings.IndexByte(p.rest, '}')
	if end < 0 {
		return fmt.Errorf("lacks a closing brace")
	}
	for _, c := range p.rest[1:end] {
		if c < 33 || c > 126 || c == '{' {
			return fmt.Errorf("has an annotation with a character outside ASCII or a blank")
		}
	}
	p.rest = p.rest[end+1:]
	return nil
}

// symbol reads a number, or an atom with prefix and exponent. Square
// brackets belong to atom names, so "[iU]" is one symbol.
func (p *unitParser) symbol() (part, error) {
	if strings.HasPrefix(p.rest, "10*") || strings.HasPrefix(p.rest, "10^") {
		p.rest = p.rest[3:]
		e, ok := p.exponent()
		if !ok || e > MaxExponent || e < -MaxExponent {
			return part{}, fmt.Errorf("needs a whole exponent within ±%d after 10*", MaxExponent)
		}
		return number(fromRat(pow10(e))), nil
	}
	if digits := leading(p.rest, "0123456789"); digits != "" {
		p.rest = p.rest[len(digits):]
		n, err := ParseNumber(digits)
		if err == nil && n.Sign() == 0 {
			err = fmt.Errorf("has a factor of zero")
		}
		return number(n), err
	}
	name := p.name()
	if name == "" {
		return part{}, fmt.Errorf("is not UCUM at %.20q", p.rest)
	}
	f, d, ok := lookup(name)
	if !ok {
		return part{}, fmt.Errorf("has no unit %q in the subset read here", name)
	}
	one := part{factor: f, dim: d, over: d[mass]}
	e, ok := p.exponent()
	if !ok {
		return one, nil
	}
	if e == 0 || e > 6 || e < -6 {
		return part{}, fmt.Errorf("has an exponent outside 1 to 6")
	}
	power := number(Int(1))
	for range max(e, -e) {
		power = power.times(one)
	}
	if e < 0 {
		return power.inverse(), nil
	}
	return power, nil
}

// name cuts an atom symbol: letters, %, ', _ and whatever stands in square
// brackets.
func (p *unitParser) name() string {
	i := 0
	for i < len(p.rest) {
		c := p.rest[i]
		switch {
		case c == '[':
			end := strings.IndexByte(p.rest[i:], ']')
			if end < 0 {
				return ""
			}
			i += end + 1
			continue
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c == '%', c == '\'', c == '_':
			i++
			continue
		}
		break
	}
	name := p.rest[:i]
	p.rest = p.rest[i:]
	return name
}

func (p *unitParser) exponent() (int, bool) {
	s := p.rest
	sign := ""
	if s != "" && (s[0] == '-' || s[0] == '+') {
		sign, s = s[:1], s[1:]
	}
	digits := leading(s, "0123456789")
	if digits == "" {
		return 0, false
	}
	v, err := smallInt(sign + digits)
	if err != nil {
		return 0, false
	}
	p.rest = s[len(digits):]
	return v, true
}

func leading(s, set string) string {
	return s[:len(s)-len(strings.TrimLeft(s, set))]
}
