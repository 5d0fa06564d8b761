package plan

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// Component is one thing a unit is made from, and when it expires.
type Component struct {
	Name    string
	Expires time.Time
}

// chemistry adds the candidates of sterility and stability, in the order of
// compendium.Date. It reports whether the category is known and which
// statement on the drug counts.
func (p *Plan) chemistry(d dates, u *Use) (category bool, kept *compendium.Lasting, stability Limit) {
	sterility, byCategory := p.sterility(d, u.Made)
	u.Starts = append(u.Starts, sterility)
	stability, kept = p.stability(d, u.Made)
	u.Starts = append(u.Starts, stability)
	u.Keep = d.keep
	u.Formula, u.Data, u.Label = d.statements(d.keep)
	if byCategory == nil {
		return false, kept, stability
	}
	u.Dated = compendium.Date(byCategory, u.Formula, u.Data, u.Label)
	return true, kept, stability
}

// sterility is the category limit of USP <797> (revision official 1 November
// 2023, as public rules restate it): the latest start, counted from the end
// of making.
func (p *Plan) sterility(d dates, made time.Time) (Limit, *compendium.Lasting) {
	l, s := Limit{Of: OfSterility, From: made}, d.Sterility
	var missing []string
	for _, x := range []struct{ have, name string }{{s.Category, "the sterility category in which the pharmacy makes it"}, {d.keep.Storage, "how it is stored"}} {
		if x.have == "" {
			missing = append(missing, x.name)
		}
	}
	if made.IsZero() {
		missing = append(missing, "when it was made")
	}
	if len(missing) > 0 {
		l.Says = "no category limit: not known " + strings.Join(missing, ", ")
		return l, nil
	}
	f, ok := compendium.CategoryLimit(s.Category, s.Method, s.Tested, s.Components, d.keep.Storage)
	q, number := f.Quantity()
	if !ok || !number {
		l.Says = "no category limit: the table has none for this category, method, test, components and storage"
		return l, nil
	}
	hours, err := q.In(hour)
	l.Until, l.Lasts, ok = p.lastsFrom(made, q, q.Unit.Code() != "h")
	if err != nil || !ok {
		l.Until, l.Says = time.Time{}, "no category limit: its number cannot be read"
		return l, nil
	}
	l.Layer, l.Source, l.Standing = compendium.ByCategory, f.Source, f.Standing
	if f.Check {
		l.Says = "seen in one weak source: look it up in the chapter before it is used"
	}
	return l, &compendium.Lasting{Hours: hours.Low, Layer: compendium.ByCategory, Source: f.Source, Standing: f.Standing}
}

// statements are what formula, data and label say of a dose kept so.
func (d dates) statements(k compendium.Keeping) (formula, data, label *compendium.Lasting) {
	if !d.DrugKnown {
		return nil, nil, nil
	}
	if d.Site != nil {
		formula = d.Site.Formula(d.Drug.Name, k, d.now)
	}
	label, data = d.Drug.Stability(k)
	return formula, data, label
}

// counts is the statement that counts: signed local formula, else data for
// the same container and strength, else label. Nil is not known.
func (d dates) counts(k compendium.Keeping) *compendium.Lasting {
	formula, data, label := d.statements(k)
	return cmp.Or(formula, data, label)
}

func (p *Plan) stability(d dates, made time.Time) (Limit, *compendium.Lasting) {
	l := Limit{Of: OfStability, From: made}
	x := d.counts(d.keep)
	switch {
	case !d.DrugKnown:
		l.Says = "no data: the tables have no row for the drug"
		return l, nil
	case x == nil:
		l.Says = "no data for this drug " + inWords(d.keep)
		return l, nil
	case made.IsZero():
		l.Says = "when it was made is not known"
		return l, nil
	}
	return p.lasting(d, OfStability, made, x), x
}

// lasting is a statement on stability as a limit from an instant on.
func (p *Plan) lasting(d dates, of string, from time.Time, x *compendium.Lasting) Limit {
	l := Limit{Of: of, From: from, Layer: x.Layer, Source: x.Source, Standing: x.Standing}
	if x.Layer == compendium.ByFormula {
		l.Says = x.Fact
	}
	var ok bool
	if l.Until, l.Lasts, ok = p.lastsFrom(from, quantity.Point(x.Hours, hour), d.inDays(x)); !ok {
		l.Until, l.Says = time.Time{}, "its number cannot be read"
	}
	return l
}

// inDays: the statement is in days. A formula carries hours alone, and whole
// days of it are read as days, which is never later.
func (d dates) inDays(x *compendium.Lasting) bool {
	if f, ok := d.Drug.Fact(x.Fact); ok && f.Value.Duration != nil {
		return slices.Contains([]string{"d", "wk", "mo"}, f.Value.Duration.Unit)
	}
	return true
}

var hour = quantity.MustUnit("h")

// inWords tells how a dose is kept, with what is not known.
func inWords(k compendium.Keeping) string {
	known := func(s, what string) string { return cmp.Or(s, what+" not known") }
	fluid := known(k.Diluent, "fluid")
	if k.Diluent != "" && k.Diluent != compendium.Undiluted {
		fluid = compendium.DiluentName(k.Diluent)
	}
	strength := "strength not known"
	if !k.Concentration.Absent() {
		strength = "this strength"
	}
	return strings.Join([]string{string(k.Kind), known(k.Container, "container"), fluid, strength, known(k.Storage, "storage")}, ", ")
}

// keepingOf is how a dose of the order is kept: by its device and words, its
// carrier fluids and its settled strength. A pump takes bags and reservoirs,
// so its container is known only where the drug is named with it.
func keepingOf(o order.Order, q order.Quantities) compendium.Keeping {
	k := compendium.Keeping{Kind: compendium.Prepared, Container: map[string]string{"elastomeric": "elastomeric", "syringe-pump": "syringe", "gravity": "bag"}[o.Device.Kind]}
	if c, ok := q["concentration"]; ok && !c.Disputed && !c.Unit.IsZero() {
		k.Concentration = quantity.Range(c.Low, c.High, c.Unit)
	}
	k.Diluent = fluidOf(o.Drug)
	if k.Container == "" {
		k.Container = containerIn(o.Drug.Concept.Name() + " " + o.Drug.Form)
	}
	for _, d := range o.Directions {
		k.Kind = kindIn(d.Text, k.Kind)
	}
	k.Kind = kindIn(o.Drug.Concept.Name(), k.Kind)
	if k.Kind == compendium.SyringePush {
		k.Container = "syringe"
	}
	return k
}

// containerIn reads the container from the name under which the drug was
// sent; "" where it names none, or two.
func containerIn(name string) string {
	text, found := compendium.Fold(name), ""
	for _, x := range []struct{ word, container string }{{"elastomeric", "elastomeric"}, {"pump reservoir", "pump-reservoir"}, {"syringe", "syringe"}, {"bag", "bag"}, {"vial", "vial"}} {
		if strings.Contains(text, x.word) {
			if found != "" {
				return ""
			}
			found = x.container
		}
	}
	return found
}

// kindIn reads how a dose is made ready from words that can mean nothing
// else. A line that forbids something tells nothing.
func kindIn(line string, kind compendium.Kind) compendium.Kind {
	text := " " + compendium.Fold(line) + " "
	if strings.Contains(text, " not ") || strings.Contains(text, " never ") {
		return kind
	}
	for _, x := range []struct {
		kind  compendium.Kind
		words []string
	}{{compendium.SyringePush, []string{"intravenous push", "iv push", "by push"}},
		{compendium.MixedAtUse, []string{"mix just before", "mixed just before", "mix at home", "mixed at home", "mix immediately before", "mixed immediately before"}},
		{compendium.Premix, []string{"premix"}}} {
		if slices.ContainsFunc(x.words, func(w string) bool { return strings.Contains(text, w) }) {
			return x.kind
		}
	}
	return kind
}

// fluidOf is the code of the one carrier fluid of a drug; "" where there is
// none, there are two, or something else is in it that is not the drug.
func fluidOf(drug order.Drug) string {
	var codes []string
	unsaid := 0
	for _, i := range drug.Ingredients {
		code, carrier := compendium.Diluent(i.Concept.Name())
		switch {
		case i.Active != nil && *i.Active:
		case carrier:
			codes = append(codes, code)
		case i.Active != nil:
			return ""
		default:
			unsaid++
		}
	}
	slices.Sort(codes)
	if codes = slices.Compact(codes); len(codes) != 1 || unsaid > 1 {
		return ""
	}
	return codes[0]
}

// keptAs is how units that were made are kept: by their own record where one
// was sent, in the device of the order.
func keptAs(made order.Drug, k compendium.Keeping) compendium.Keeping {
	if len(made.Ingredients) > 0 {
		k.Diluent = fluidOf(made)
		if strength, ok := strengthOf(made); ok {
			k.Concentration = strength
		}
	}
	k.Container = cmp.Or(containerIn(made.Concept.Name()), k.Container)
	return k
}

// strengthOf is the mass of the one active ingredient per volume.
func strengthOf(drug order.Drug) (quantity.Quantity, bool) {
	var found []order.Strength
	for _, i := range drug.Ingredients {
		if s := i.Strength; i.Active != nil && *i.Active && s != nil && s.Denominator.Unit.Dimension() == quantity.Volume && s.Numerator.Unit.Dimension() == quantity.Mass {
			found = append(found, *s)
		}
	}
	if len(found) != 1 || !found[0].Numerator.IsPoint() || !found[0].Denominator.IsPoint() {
		return quantity.Quantity{}, false
	}
	mass, _ := found[0].Numerator.Base()
	volume, _ := found[0].Denominator.Base()
	if volume.Sign() <= 0 {
		return quantity.Quantity{}, false
	}
	return quantity.Point(perMillilitre.FromBase(mass.Quo(volume)), perMillilitre), true
}

var perMillilitre = quantity.MustUnit("mg/mL")
