package slips_test

import (
	"math/big"
	"math/rand/v2"
	"strings"
	"time"

	"weir.example/weir/conformance/arithmetic"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// fieldSet is what an order states: which fields are coded, which the
// directions repeat, and whether an earlier weight is on record.
type fieldSet struct {
	name    string
	coded   []string // nil: all the order has
	text    []string
	earlier bool
}

// letters of the fields: D dose, d per kg, a per m², w weight, s surface,
// C concentration, V volume, Q rate, R drug rate, r per kg, T time,
// I interval, n doses per day, E dose of a day, N doses, L length.
var letters = map[rune]string{'D': "dose", 'd': "dosePerKg", 'a': "dosePerArea", 'w': "dosingWeight", 's': "bodySurfaceArea",
	'C': "concentration", 'V': "volume", 'Q': "rate", 'R': "drugRate", 'r': "drugRatePerKg", 'T': "duration", 'I': "interval",
	'n': "dosesPerDay", 'E': "dailyDose", 'N': "doseCount", 'L': "courseLength"}

func spelled(s string) []string {
	var out []string
	for _, c := range strings.ReplaceAll(s, " ", "") {
		out = append(out, letters[c])
	}
	return out
}

// set reads "D V T + D T + w": coded fields, fields repeated in words, and
// an earlier weight.
func set(name string) fieldSet {
	parts := strings.Split(name, " + ")
	f := fieldSet{name: name}
	if parts[0] != "all" {
		f.coded = spelled(parts[0])
	}
	for _, part := range parts[1:] {
		if part == "earlier weight" {
			f.earlier = true
			continue
		}
		f.text = spelled(strings.TrimPrefix(part, "words "))
	}
	return f
}

var sets = func() []fieldSet {
	var out []fieldSet
	for _, name := range []string{
		"D V T", "D Q", "r w C", "r w Q", "D V I N L", "D V Q T", "D C V T", "D d w", "R C Q", "r w C Q", "D C V Q T",
		"D C V Q T n E", "D a s", "D a s C V Q T R", "V Q T", "V Q T I n", "D C V", "C V Q T R", "D V T I E", "D d w V T",
		"D d w C V Q T", "r w R C Q", "D r w R C V Q T", "r w C V Q T", "D a s V Q T", "R C Q E", "D V T R I n", "D V Q T I n E N L",
		"D d w C V I E", "D d w C V T R I n E N L", "R C Q + words R", "D V T + words D T", "D V Q T + words Q T", "r w C Q + words R",
		"D C V Q T + words D Q", "D d w + earlier weight", "r w C Q + earlier weight", "D d w C V Q T + earlier weight",
		"all", "all + words D Q T", "all + words D Q T + earlier weight",
	} {
		out = append(out, set(name))
	}
	return out
}()

// stated picks the set's statements out of an order. It fails when the order
// lacks one of the coded fields.
func (f fieldSet) stated(p plan, all []written) ([]written, bool) {
	var out []written
	if f.coded == nil {
		out = append(out, all...)
	}
	for _, name := range f.coded {
		w, ok := find(all, name)
		if !ok {
			return nil, false
		}
		out = append(out, w)
	}
	words := 0
	for i, name := range f.text {
		if w, ok := find(all, name); ok {
			words++
			out = append(out, inWords(w, p.coin(30+i)))
		}
	}
	if len(f.text) > 0 && words == 0 {
		return nil, false
	}
	if f.earlier {
		w, ok := find(all, "dosingWeight")
		if !ok {
			return nil, false
		}
		out = append(out, earlierWeight(p, w))
	}
	return out, true
}

// inWords is the same number as the directions say it, sometimes in another
// unit.
func inWords(w written, other bool) written {
	w.witness, w.place = order.Text, "words:"+w.name
	unit := map[string]string{"g": "mg", "min": "h", "h": "min", "mg/h": "mg/min"}[w.unit]
	if other && unit != "" {
		in := over(w.value(), worth(unit))
		if digits := digitsOf(in); len(digits) <= 5 && rat(digits).Cmp(in) == 0 {
			w.digits, w.unit = digits, unit
		}
	}
	return w
}

// earlierWeight was taken weeks before: within 8 % of today's.
func earlierWeight(p plan, w written) written {
	r := rand.New(rand.NewPCG(p.coins, 3))
	part := 1 + 0.03*max(-2.6, min(2.6, r.NormFloat64()))
	step := rat("0.1")
	then := nearest(times(p.weight, new(big.Rat).SetFloat64(part)), step)
	w.digits, w.unit, w.half = digitsOf(then), "kg", halved(step)
	w.witness, w.place = order.Record, "earlier:dosingWeight"
	return w
}

var drugDimension = map[string]quantity.Dimension{"": quantity.Mass, "mg": quantity.Mass, "[iU]": quantity.International, "meq": quantity.Equivalent}

// unitsRead holds every unit the orders use, read once: name and unit code.
var unitsRead = map[[2]string]quantity.Unit{}

func init() {
	for amount, dimension := range drugDimension {
		amounts := []string{amount}
		if amount == "mg" {
			amounts = []string{"mg", "g", "ug", "ng"}
		}
		for _, name := range letters {
			want, _ := arithmetic.Dimension(name, dimension)
			try := func(code string) {
				if u, err := quantity.ParseUnit(code); err == nil {
					if v, ok := u.As(want); ok {
						unitsRead[[2]string{name, code}] = v
					}
				}
			}
			for _, code := range []string{"mL", "L", "mL/h", "mL/min", "mL/d", "h", "min", "d", "wk", "kg", "[lb_av]", "m2", "/d", "1"} {
				try(code)
			}
			for _, a := range amounts {
				for _, per := range []string{"", "/kg", "/m2", "/mL", "/h", "/min", "/d", "/kg/h", "/kg/min", "/kg/d"} {
					try(a + per)
				}
			}
		}
	}
}

// handed is the list as the checker takes it.
func handed(list []written) []order.Stated {
	out := make([]order.Stated, 0, len(list))
	for _, w := range list {
		u, ok := unitsRead[[2]string{w.name, w.unit}]
		if !ok {
			panic(w.name + " in " + w.unit)
		}
		s := order.Stated{Name: w.name, Quantity: quantity.Point(quantity.MustNumber(w.digits), u), Literal: w.digits, Witness: w.witness,
			Place: finding.Place{Expression: w.place}}
		if w.witness == order.Record {
			s.Label, s.Age = "earlier body weight", 30*24*time.Hour
		}
		out = append(out, s)
	}
	return out
}
