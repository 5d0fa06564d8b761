package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

func isPump(f Facts) bool {
	k := f.order().Device.Kind
	return k == "electronic-pump" || k == "syringe-pump"
}

// paced is one rate the pump must run at, in mL/h.
type paced struct {
	rate  quantity.Number
	place finding.Place
}

// rates are the rates the pump must run at: those of the steps, the basal
// rate of a patient-controlled infusion, else the one of the order. Ok is
// false when one of them cannot be told as mL/h.
func rates(f Facts) (list []paced, ok bool) {
	o := f.order()
	add := func(s *order.Stated) bool {
		for _, end := range ofRange(s.Quantity) {
			n, known := inFlow(f, end)
			if !known {
				return false
			}
			list = append(list, paced{n, s.Place})
		}
		return true
	}
	ok = true
	for _, s := range o.Steps {
		ok = s.Rate != nil && add(s.Rate) && ok
	}
	if c := o.Controlled; c != nil && c.Basal != nil {
		ok = add(c.Basal) && ok
	}
	if len(list) > 0 || !ok {
		return list, ok
	}
	q, known := f.quantities()["rate"]
	if !known {
		q, known = neededRate(f)
	}
	if !known || q.Disputed || q.Value.Sign() <= 0 {
		return nil, false
	}
	least, most := q.Value, q.Value
	if _, given := f.quantities()["rate"]; given {
		least, most = permitted(f, "rate")
	}
	for _, end := range ofRange(quantity.Range(least, most, q.Unit)) {
		n, known := inFlow(f, end)
		ok = ok && known
		list = append(list, paced{n, q.Place})
	}
	return list, ok
}

// ofRange are the ends of a range, or the one number.
func ofRange(q quantity.Quantity) []quantity.Quantity {
	if q.IsPoint() {
		return []quantity.Quantity{q}
	}
	return []quantity.Quantity{quantity.Point(q.Low, q.Unit), quantity.Point(q.High, q.Unit)}
}

// inFlow is a rate as mL/h; a drug rate is divided by the concentration of
// the container.
func inFlow(f Facts, q quantity.Quantity) (quantity.Number, bool) {
	if in, err := q.In(millilitrePerHour); err == nil {
		return in.Middle(), in.Low.Sign() > 0
	}
	c, known := f.quantities()["concentration"]
	if !known || c.Disputed || c.Value.Sign() <= 0 || q.Unit.Dimension() != c.Unit.Dimension().Times(quantity.Volume).Per(quantity.Time) {
		return quantity.Number{}, false
	}
	return millilitrePerHour.FromBase(q.Unit.ToBase(q.Middle()).Quo(c.Unit.ToBase(c.Value))), true
}

func rateUnknown(f Facts) []Fact {
	if _, ok := rates(f); !ok {
		return []Fact{Rate}
	}
	return nil
}

// pumpRow is the row of the table of devices for the pump: one made for the
// drug and route of the order, else the general one of its class.
func pumpRow(f Facts) compendium.Device {
	var out compendium.Device
	for _, d := range compendium.DevicesOf(f.order().Device.Kind) {
		_, general := d.Values.One("rate", "")
		name, route := f.order().Drug.Name, routeWord(f.order().Route.Name())
		if name != "" && route != "" && strings.Contains(d.Name, name) && strings.Contains(d.Name, route) || general && out.Name == "" {
			out = d
		}
	}
	return out
}

func rateEnds(f Facts) (low, high bound) {
	table, _ := pumpRow(f).Values.One("rate", "")
	return ends(f, millilitrePerHour, "rateMinimum", "rateMaximum", func(c policy.CatalogueDevice) (policy.Amount, policy.Amount) { return c.RateLeast, c.RateMost }, table)
}

// reservoirEnd is the largest volume the pump takes: that of the device as
// ordered, of the one in the catalogue, else the largest in the table.
func reservoirEnd(f Facts) bound {
	if q, ok := nominalVolume(f.order()); ok {
		if in, err := q.In(millilitre); err == nil {
			return bound{in.High, true, "the device as ordered", ""}
		}
	}
	if list := own(f); len(list) == 1 {
		if q, err := list[0].NominalVolume.Quantity(); err == nil {
			return bound{millilitre.FromBase(q.Unit.ToBase(q.High)), true, list[0].Name + " of this site's catalogue", compendium.LocalStanding}
		}
	}
	var out bound
	for _, r := range pumpRow(f).Values.All("reservoir") {
		if q, ok := r.Quantity(); ok {
			if in, err := q.In(millilitre); err == nil && (!out.known || out.at.Less(in.High)) {
				out = bound{in.High, true, "table of devices; " + r.Source, r.Standing}
			}
		}
	}
	return out
}

// overReservoir: the container does not fit. A volume that only follows from
// other numbers is no container: what is too large then is not judged.
func overReservoir(f Facts) (over, judged bool) {
	_, most, _, ok := fillOf(f)
	end := reservoirEnd(f)
	over = ok && end.known && end.at.Less(most)
	q := f.quantities()["volume"]
	return over, !over || q.Stated
}

// pumpUnknown: the rate is the hospital's to send, the range of the pump
// stands in its instructions and in the site's catalogue.
func pumpUnknown(f Facts) []Fact {
	if lacks := rateUnknown(f); len(lacks) > 0 {
		return lacks
	}
	low, high := rateEnds(f)
	switch _, judged := overReservoir(f); {
	case !judged:
		return []Fact{Container}
	case !low.known || !high.known:
		return []Fact{DeviceRow}
	}
	return nil
}

// pumpRange: row d7, every rate inside the range of the pump, its ends
// included, and a container the pump can take.
func pumpRange(f Facts) []finding.Finding {
	list, _ := rates(f)
	low, high := rateEnds(f)
	say := func(n quantity.Number) string { return notation.Quantity(n, millilitrePerHour) }
	var out []finding.Finding
	add := func(p finding.Place, observed, expected string, b bound) {
		x := here(p, observed, expected+" ("+b.source+")")[0]
		x.Standing, x.Evidence = b.standing, []string{f.order().Device.Place.Expression}
		x.Remedy = "Pharmacist: choose a pump that can run it, or agree another concentration with the prescriber and reckon the rate anew."
		out = append(out, x)
	}
	for _, r := range list {
		rate := notation.About(r.rate, millilitrePerHour, 4)
		switch {
		case r.rate.Sign() <= 0:
		case low.known && r.rate.Less(low.at):
			add(r.place, rate+" with a pump that starts at "+say(low.at), "at least "+say(low.at), low)
		case high.known && high.at.Less(r.rate):
			add(r.place, rate+" with a pump that runs "+say(high.at)+" at the most", "at most "+say(high.at), high)
		}
	}
	if over, judged := overReservoir(f); over && judged {
		_, most, place, _ := fillOf(f)
		end := reservoirEnd(f)
		add(place, "a container of "+notation.Quantity(most, millilitre)+" in a pump that takes "+notation.Quantity(end.at, millilitre)+" at the most",
			"at most "+notation.Quantity(end.at, millilitre)+", or several containers with the time of each change", end)
	}
	return out
}

// pumpStep is the step the pump's rate is set in, in mL/h.
func pumpStep(f Facts) bound {
	take := func(q quantity.Quantity, source, standing string) bound {
		in, err := q.In(millilitrePerHour)
		return bound{in.Low, err == nil && in.Low.Sign() > 0, source, standing}
	}
	if p, ok := f.order().Device.Parameter("rateIncrement"); ok {
		return take(p.Quantity, "the device as ordered", "")
	}
	if list := own(f); len(list) == 1 {
		if q, err := list[0].RateStep.Quantity(); err == nil {
			return take(q, list[0].Name+" of this site's catalogue", compendium.LocalStanding)
		}
	}
	row, _ := pumpRow(f).Values.One("step", "")
	if q, ok := row.Quantity(); ok {
		return take(q, "table of devices; "+row.Source, row.Standing)
	}
	return bound{}
}

func stepUnknown(f Facts) []Fact {
	if lacks := rateUnknown(f); len(lacks) > 0 {
		return lacks
	}
	if !pumpStep(f).known {
		return []Fact{DeviceRow}
	}
	return nil
}

// pumpRounding: row d7, the rate the pump can be set to, half a step up, and
// what it really gives. A difference inside the site's first band for
// disagreeing numbers (1 %) changes nothing anybody could act on.
func pumpRounding(f Facts) []finding.Finding {
	list, _ := rates(f)
	step := pumpStep(f)
	var out []finding.Finding
	for _, r := range list {
		if !step.known || r.rate.Sign() <= 0 {
			continue
		}
		set := r.rate.RoundTo(step.at)
		off := set.Quo(r.rate).Sub(one)
		if !f.policy().Dose.ArithmeticWarn.Less(off.Abs()) {
			continue
		}
		word := "more"
		if off.Sign() < 0 {
			word = "less"
		}
		observed := notation.About(r.rate, millilitrePerHour, 4) + " becomes " + notation.Quantity(set, millilitrePerHour) + " in steps of " +
			notation.Quantity(step.at, millilitrePerHour) + ": " + notation.Rounded(off.Abs().Mul(hundred), 2) + " % " + word + " drug in each hour"
		x := here(r.place, observed, "the true rate on sheet and label: "+trueRate(f, set)+" ("+step.source+")")[0]
		x.Standing = step.standing
		x.Evidence = []string{f.order().Device.Place.Expression}
		out = append(out, x)
	}
	return out
}

// trueRate is what a flow in mL/h gives of the drug.
func trueRate(f Facts, set quantity.Number) string {
	flow := notation.Quantity(set, millilitrePerHour)
	c, known := f.quantities()["concentration"]
	if !known || c.Disputed {
		return flow
	}
	amount, _, _ := strings.Cut(c.Unit.Code(), "/")
	unit, err := quantity.ParseUnit(amount + "/h")
	if q, ok := f.quantities()["drugRate"]; ok && q.Unit.Dimension() == unit.Dimension() {
		unit, err = q.Unit, nil
	}
	if err != nil || unit.Dimension() != c.Unit.Dimension().Times(quantity.Volume).Per(quantity.Time) {
		return flow
	}
	return flow + ", " + notation.About(unit.FromBase(millilitrePerHour.ToBase(set).Mul(c.Unit.ToBase(c.Value))), unit, 4)
}

// flagged asks the drug's row for a flag, for this order. Lacks names what
// would have to be known where nobody can tell whether it holds.
func flagged(f Facts, name string) (flag compendium.Flag, answer compendium.Answer, lacks []Fact) {
	flag, answer = f.drug().FlaggedFor(name, circumstance(f))
	if answer == compendium.Unknown {
		rests, _ := f.drug().Fact(flag.Fact)
		_, unknown := rests.Holds(circumstance(f))
		lacks = limit{rests, unknown}.hangsOn()
	}
	return flag, answer, lacks
}

// carries: the drug has the flag, or may have it for this order.
func carries(name string) func(Facts) bool {
	return func(f Facts) bool {
		_, answer, _ := flagged(f, name)
		return answer != compendium.No
	}
}

func flagUnknown(name string) func(Facts) []Fact {
	return func(f Facts) []Fact {
		_, _, lacks := flagged(f, name)
		return lacks
	}
}

// hasSteadyFlow: the device has one built-in flow, or none that is kept.
func hasSteadyFlow(f Facts) bool { return isGravity(f) || hasReservoir(f) }

// needsPump tells why one built-in flow cannot carry the order, with what it
// rests on. By gravity, a drug that the table only advises against belongs to
// rate-gravity.
func needsPump(f Facts) (why, standing string, yes bool) {
	o := f.order()
	taper := slices.ContainsFunc(o.Readings, func(r order.Reading) bool { return r.Field == "taper" || r.Field == "step" && r.Role == "rate" })
	switch {
	case o.Controlled != nil:
		return "doses on demand with a lockout", "", true
	case len(o.Steps) > 1 || taper:
		return "rates that follow each other", "", true
	}
	flag, answer, _ := flagged(f, compendium.ElectronicPump)
	if _, advised := f.drug().Flagged(compendium.NeverGravity); answer != compendium.Yes || isGravity(f) && advised {
		return "", "", false
	}
	return "a rate that is kept (" + flag.Source + ")", flag.Standing, true
}

// deviceUnsuitable: row d6.
func deviceUnsuitable(f Facts) []finding.Finding {
	why, standing, yes := needsPump(f)
	if !yes {
		return nil
	}
	d := f.order().Device
	by := "a fixed-flow device"
	if isGravity(f) {
		by = "gravity"
	}
	x := here(d.Place, f.order().Drug.Name+" by "+by, "an electronic pump: the order needs "+why)
	x[0].Standing = standing
	return x
}

func pumpNeedUnknown(f Facts) []Fact {
	if !f.Has(DrugRow) {
		return []Fact{DrugRow}
	}
	return flagUnknown(compendium.ElectronicPump)(f)
}

// forThis: what is asked for names this order, or nothing while the patient
// has one infusion only: a pump of another infusion is no second one.
func forThis(f Facts, basis []string) bool {
	if len(basis) == 0 {
		return len(f.kase().Orders) <= 1
	}
	return slices.ContainsFunc(basis, func(ref string) bool { return refersTo(ref, f.order()) })
}

// spareWords are how a second pump is named where no code does.
var spareWords = []string{"second pump", "backup pump", "back-up pump", "back up pump", "spare pump", "two pumps"}

// backupMissing: row d7a. Two requests for the pump, a quantity of two, or
// two pumps among the supplies.
func backupMissing(f Facts) []finding.Finding {
	d, two := f.order().Device, quantity.Int(2)
	flag, answer, _ := flagged(f, compendium.SecondPump)
	if answer != compendium.Yes || d.Requests >= 2 {
		return nil
	}
	if n, ok := d.Parameter("quantity"); ok && !n.Quantity.Unit.ToBase(n.Quantity.Low).Less(two) {
		return nil
	}
	for _, s := range f.kase().Supplies {
		words := strings.ToLower(s.Text)
		if !forThis(f, s.Basis) {
			continue
		}
		if s.Item == "infusion-pump" && !s.Quantity.Less(two) || slices.ContainsFunc(spareWords, func(w string) bool { return strings.Contains(words, w) }) {
			return nil
		}
	}
	place := d.Place
	if place.Expression == "" {
		place = f.order().Place
	}
	x := here(place, "one pump on record for "+f.drug().Name, "a second pump with set and batteries beside the first, and who exchanges it ("+flag.Source+")")
	x[0].Standing = flag.Standing
	return x
}
