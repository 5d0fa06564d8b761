package verification

import (
	"fmt"
	"slices"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

var (
	millilitre        = quantity.MustUnit("mL")
	millilitrePerHour = quantity.MustUnit("mL/h")
	one               = quantity.Int(1)
	hundred           = quantity.Int(100)
)

// hasReservoir: a fixed-flow device is named. Without one, device-missing
// speaks.
func hasReservoir(f Facts) bool {
	d := f.order().Device
	return needsNominal(f) && (d.Kind != "" || len(d.Parameters) > 0)
}

// fillOf is what goes into the reservoir, in mL, at the least and the most
// the order permits.
func fillOf(f Facts) (least, most quantity.Number, place finding.Place, ok bool) {
	for _, name := range []string{"fill", "volume"} {
		q, known := f.quantities()[name]
		if !known {
			continue
		}
		if q.Disputed || q.Value.Sign() <= 0 || q.Unit.Dimension() != quantity.Volume {
			return least, most, q.Place, false
		}
		least, most = permitted(f, name)
		in := func(n quantity.Number) quantity.Number { return millilitre.FromBase(q.Unit.ToBase(n)) }
		return in(least), in(most), q.Place, true
	}
	return least, most, place, false
}

// nominalVolume is the size of the reservoir or syringe: as a parameter of
// the device, else in words.
func nominalVolume(o order.Order) (quantity.Quantity, bool) {
	if p, ok := o.Device.Parameter("nominalVolume"); ok {
		return p.Quantity, true
	}
	for _, r := range o.Readings {
		if r.Field == "volume" && r.Role == "device" {
			if q, err := quantity.Parse(r.Value, r.Unit, quantity.Volume); err == nil {
				return q, true
			}
		}
	}
	return quantity.Quantity{}, false
}

// own are the devices of the site's catalogue that the device of the order
// may be: of its class, with its nominal rate and, where that is stated, its
// nominal volume.
func own(f Facts) []policy.CatalogueDevice {
	d := f.order().Device
	rate, rated := d.Parameter("nominalRate")
	volume, sized := nominalVolume(f.order())
	var out []policy.CatalogueDevice
	for _, c := range f.policy().Catalogue {
		if c.Class != class(d) || rated && !slices.ContainsFunc(c.NominalRates, func(a policy.Amount) bool { return same(a, rate.Quantity) }) ||
			!rated && needsNominal(f) || sized && c.NominalVolume != "" && !same(c.NominalVolume, volume) {
			continue
		}
		out = append(out, c)
	}
	return out
}

// class is the class of the device in the tables: what has a nominal rate
// and no kind has a built-in flow.
func class(d order.InfusionDevice) string {
	if d.Kind == "" {
		return "elastomeric"
	}
	return d.Kind
}

func same(a policy.Amount, q quantity.Quantity) bool {
	x, err := a.Quantity()
	if err != nil {
		return false
	}
	in, err := q.In(x.Unit)
	return err == nil && in.Low.Equal(x.Low) && in.High.Equal(x.High)
}

// listedDevice is the row of the table of devices for a fixed-flow device, by
// its nominal volume and rate.
func listedDevice(f Facts) (compendium.Device, bool) {
	rate, rated := f.order().Device.Parameter("nominalRate")
	volume, sized := nominalVolume(f.order())
	if !rated || !sized {
		return compendium.Device{}, false
	}
	return compendium.DeviceOf(class(f.order().Device), volume, rate.Quantity)
}

// bound is one end of a range of a device, in mL or mL/h, with who says so.
type bound struct {
	at       quantity.Number
	known    bool
	source   string
	standing string
}

// ends looks for the two ends of a range: in the device as ordered, then in
// the one device of the site's catalogue, then in the table of devices. Each
// end is looked for by itself.
func ends(f Facts, unit quantity.Unit, least, most string, site func(policy.CatalogueDevice) (policy.Amount, policy.Amount), table compendium.Figure) (low, high bound) {
	take := func(b *bound, q quantity.Quantity, source, standing string) {
		if in, err := q.In(unit); err == nil && !b.known {
			*b = bound{in.Middle(), true, source, standing}
		}
	}
	for _, x := range []struct {
		name string
		to   *bound
	}{{least, &low}, {most, &high}} {
		if p, ok := f.order().Device.Parameter(x.name); ok {
			take(x.to, p.Quantity, "the device as ordered", "")
		}
	}
	if list := own(f); len(list) == 1 {
		a, z := site(list[0])
		for i, amount := range []policy.Amount{a, z} {
			if q, err := amount.Quantity(); err == nil {
				take([]*bound{&low, &high}[i], q, list[0].Name+" of this site's catalogue", compendium.LocalStanding)
			}
		}
	}
	if q, ok := table.Quantity(); ok {
		take(&low, quantity.Point(q.Low, q.Unit), "table of devices; "+table.Source, table.Standing)
		take(&high, quantity.Point(q.High, q.Unit), "table of devices; "+table.Source, table.Standing)
	}
	return low, high
}

func fillEnds(f Facts) (low, high bound) {
	var table compendium.Figure
	if d, ok := listedDevice(f); ok {
		table, _ = d.Values.One("fill", "")
	}
	return ends(f, millilitre, "minimumFill", "maximumFill", func(c policy.CatalogueDevice) (policy.Amount, policy.Amount) { return c.FillLeast, c.FillMost }, table)
}

// fillUnknown: the volume is the hospital's to send, the range of the
// reservoir stands in its instructions and in the site's catalogue.
func fillUnknown(f Facts) []Fact {
	if _, _, _, ok := fillOf(f); !ok {
		return []Fact{Container}
	}
	if low, high := fillEnds(f); !low.known || !high.known {
		return []Fact{DeviceRow}
	}
	return nil
}

// deviceFill: row d4, the volume against the range the reservoir is made for,
// both ends included.
func deviceFill(f Facts) []finding.Finding {
	least, most, place, ok := fillOf(f)
	low, high := fillEnds(f)
	say := func(n quantity.Number) string { return notation.Quantity(n, millilitre) }
	var out []finding.Finding
	var from bound
	switch {
	case !ok:
		return nil
	case low.known && least.Less(low.at):
		from = low
		out = here(place, say(least)+" for a reservoir that takes "+say(low.at)+" at the least: underfilled, it runs fast", "at least "+say(low.at)+" ("+low.source+")")
	case high.known && high.at.Less(most):
		from = high
		out = here(place, say(most)+" for a reservoir that takes "+say(high.at)+" at the most: overfilled, it runs slow", "at most "+say(high.at)+" ("+high.source+")")
	default:
		return nil
	}
	out[0].Standing = from.standing
	out[0].Evidence = []string{f.order().Device.Place.Expression}
	out[0].Remedy = "Pharmacist: choose a reservoir that takes " + say(least) + ", or change the volume of diluent with the prescriber and reckon concentration and rate anew."
	return out
}

// emitted is the share of the fill that leaves the device, at the least and
// the most: (fill − residual) ÷ fill (E35).
type emitted struct {
	fill           quantity.Number // mL
	least, most    quantity.Number
	stays          quantity.Quantity // mL
	source         string
	standing       string
	place, deviceP finding.Place
}

func emission(f Facts) (emitted, bool) {
	fill, _, place, ok := fillOf(f)
	if !ok {
		return emitted{}, false
	}
	e := emitted{fill: fill, place: place, deviceP: f.order().Device.Place}
	if q, known := f.quantities()["residual"]; known && !q.Disputed && q.Unit.Dimension() == quantity.Volume {
		in := func(n quantity.Number) quantity.Number { return millilitre.FromBase(q.Unit.ToBase(n)) }
		e.stays, e.source = quantity.Range(in(q.Low), in(q.High), millilitre), "as stated for the device"
		if !q.Stated && len(q.Derivation) > 0 {
			e.source, e.standing = q.Derivation[0].Citation, compendium.LocalStanding
		}
	} else {
		d, listed := listedDevice(f)
		row, has := d.Values.One("residual", "")
		band, number := row.Quantity()
		in, err := band.In(millilitre)
		if !listed || !has || !number || err != nil {
			return emitted{}, false
		}
		e.stays, e.source, e.standing = in, "table of devices; "+row.Source, row.Standing
	}
	e.least, e.most = one.Sub(e.stays.High.Quo(fill)), one.Sub(e.stays.Low.Quo(fill))
	return e, true
}

// leastDelivered is the share below which a loss is told: for a drug nobody
// knows it is the stricter one.
func leastDelivered(f Facts) quantity.Number {
	if isAntiInfective(f) {
		return f.policy().Device.DeliveredLeastAntiInfective.Number
	}
	return f.policy().Device.DeliveredLeast.Number
}

// undecided: what stays is not known, or only as a range on both sides of a
// limit.
func undecided(limits func(Facts) []quantity.Number) func(Facts) []Fact {
	return func(f Facts) []Fact {
		asked := limits(f)
		if len(asked) == 0 {
			return nil
		}
		if _, _, _, ok := fillOf(f); !ok {
			return []Fact{Container}
		}
		e, ok := emission(f)
		for _, l := range asked {
			ok = ok && e.least.Less(l) == e.most.Less(l)
		}
		if !ok {
			return []Fact{Residual}
		}
		return nil
	}
}

func deliveredLimit(f Facts) []quantity.Number { return []quantity.Number{leastDelivered(f)} }

func minorLimits(f Facts) []quantity.Number {
	if !isAntiInfective(f) {
		return nil
	}
	return []quantity.Number{leastDelivered(f), f.policy().Device.DeliveredLeast.Number}
}

// deviceDelivered: row d4, the share of the dose that leaves the device.
func deviceDelivered(f Facts) []finding.Finding {
	e, ok := emission(f)
	limit := leastDelivered(f)
	if !ok || !e.most.Less(limit) {
		return nil
	}
	return e.finding(f, limit)
}

// deviceDeliveredMinor: for an anti-infective alone, between its own limit and
// the usual one.
func deviceDeliveredMinor(f Facts) []finding.Finding {
	e, ok := emission(f)
	usual := f.policy().Device.DeliveredLeast.Number
	if !ok || !isAntiInfective(f) || e.least.Less(leastDelivered(f)) || !e.most.Less(usual) {
		return nil
	}
	return e.finding(f, usual)
}

func percent(share quantity.Number) string { return notation.Rounded(share.Mul(hundred), 3) + " %" }

func (e emitted) finding(f Facts, limit quantity.Number) []finding.Finding {
	leaves := percent(e.least)
	if !e.least.Equal(e.most) {
		leaves += " to " + percent(e.most)
	}
	observed := fmt.Sprintf("%s of %s stay in the device (%s): %s of the dose is delivered", span(e.stays), notation.Quantity(e.fill, millilitre), e.source, leaves)
	if q, ok := f.quantities()["dose"]; ok && !q.Disputed && e.least.Sign() > 0 {
		observed += ", " + notation.About(q.Value.Mul(e.least), q.Unit, 4) + " of " + notation.Quantity(q.Value, q.Unit)
	}
	x := here(e.deviceP, observed, "at least "+percent(limit)+" of the dose")
	x[0].Evidence, x[0].Standing = []string{e.place.Expression}, e.standing
	x[0].Remedy = "Pharmacist: by the site's policy on overfill, fill " + notation.Quantity(e.fill.Add(e.stays.High), millilitre) +
		" at the same concentration if the reservoir takes it; or acknowledge the loss and print the share delivered."
	return x
}

// span writes a quantity that may be a range.
func span(q quantity.Quantity) string {
	if q.IsPoint() {
		return notation.Quantity(q.Low, q.Unit)
	}
	return notation.Number(q.Low) + " to " + notation.Quantity(q.High, q.Unit)
}
