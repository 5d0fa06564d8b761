package plan

import (
	"slices"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// How warm a dose runs.
const (
	atRoom = "room"
	worn   = "worn" // near the body: 31 to 33 degrees Celsius
)

// runsAt is how warm a dose runs in a device. An elastomeric reservoir is
// worn, and so is a pump that runs 12 hours or more; a bag on a stand and a
// syringe pump stand in the room. Without a device it is not known.
func runsAt(device string, continuous bool) string {
	switch {
	case device == "elastomeric", device == "electronic-pump" && continuous:
		return worn
	case device == "":
		return ""
	}
	return atRoom
}

// runsAsKept: the run comes out of the same stability as the storage.
func (p *Plan) runsAsKept(d dates, kept *compendium.Lasting) bool {
	return kept != nil && d.keep.Kind != compendium.MixedAtUse && d.running == atRoom && d.keep.Storage == atRoom
}

// finish adds the doses to a use: when each must have run, against the in-use
// limit at the temperature at which it runs. Warm-up counts: what comes out
// of the cold is warm from the start less the warm-up on.
func (p *Plan) finish(d dates, u *Use, doses []time.Time) {
	inUse, hang := d.inUse(), d.hang()
	mixed := d.keep.Kind == compendium.MixedAtUse
	// What follows the first storage counts only behind that storage.
	kept := d.counts(d.keep)
	for _, at := range doses {
		x := DoseUse{Start: at, TooLate: !u.StartBefore.IsZero() && at.After(u.StartBefore)}
		if run := max(p.Duration, p.RunTime, p.LongestRun); run > 0 {
			x.RunsUntil = at.Add(run).In(p.Zone.Location)
		}
		warm := at
		if !mixed && (d.keep.Storage == "refrigerated" || d.keep.Storage == "frozen") {
			warm = at.Add(-d.rules.WarmUp)
		}
		switch {
		case inUse == nil:
		case p.runsAsKept(d, kept) && u.Made.IsZero():
			x.Ends = append(x.Ends, Limit{Of: OfInUse, Says: "when it was made is not known, and the run comes out of the same time"})
		case p.runsAsKept(d, kept):
			x.Ends = append(x.Ends, p.lasting(d, OfInUse, u.Made, inUse))
		default:
			l := p.lasting(d, OfInUse, warm, inUse)
			if !mixed && l.Says == "" && (kept == nil || kept.Then == nil) {
				l.Says = "counted by itself: nothing says how long it keeps so after its storage"
			}
			x.Ends = append(x.Ends, l)
		}
		if !mixed && kept != nil {
			x.Ends = append(x.Ends, p.afterwards(d, kept, inUse != nil, u.Made, warm)...)
		}
		known := slices.ContainsFunc(x.Ends, func(l Limit) bool { return !l.Until.IsZero() })
		u.NoData = u.NoData || !known
		x.Ends = append(x.Ends, p.hung(hang, at)...)
		for _, l := range x.Ends {
			if !l.Until.IsZero() && (x.FinishBy.IsZero() || l.Until.Before(x.FinishBy)) {
				x.FinishBy = l.Until
			}
		}
		x.Over = !x.FinishBy.IsZero() && x.RunsUntil.After(x.FinishBy)
		u.Doses = append(u.Doses, x)
	}
	if u.NoData {
		u.Says = append(u.Says, d.noData())
	}
	for _, x := range u.Doses {
		if x.Over {
			u.Says = append(u.Says, "the dose begun "+notation.Instant(x.Start, "")+" may run until "+notation.Instant(x.RunsUntil, "")+", past its limit in use, "+notation.Instant(x.FinishBy, ""))
			break
		}
	}
}

// noData says what is missing: never that it is well.
func (d dates) noData() string {
	switch {
	case d.running == "":
		return "no data on how long it keeps while it runs: the device, and so the temperature, is not known"
	case !d.DrugKnown:
		return "no data on how long it keeps while it runs: the tables have no row for the drug"
	}
	k := d.keep
	k.Storage = d.running
	return "no data on how long it keeps while it runs: " + inWords(k)
}

// inUse is the statement that counts at the temperature at which a dose
// runs. Data for a worn device must be from a worn device's temperature;
// what was measured colder says nothing of it. Nil: no data.
func (d dates) inUse() *compendium.Lasting {
	if d.running == "" {
		return nil
	}
	k := d.keep
	k.Storage = d.running
	formula, data, label := d.statements(k)
	for _, x := range []*compendium.Lasting{formula, data, label} {
		if x != nil && (d.running != worn || warmEnough(x.Temperature)) {
			return x
		}
	}
	return nil
}

// warmEnough: the temperature is at least that at which worn devices are
// tested (table of devices). A statement that names none but is on worn
// devices stands.
func warmEnough(t *compendium.Band) bool {
	if t == nil {
		return true
	}
	text := t.Value.String()
	if text == "" {
		text = t.Low.String()
	}
	have, err := quantity.ParseNumber(text)
	for _, dev := range compendium.DevicesOf("elastomeric") {
		f, ok := dev.Values.One("worn", "")
		least, bad := quantity.ParseNumber(f.Low)
		if ok && bad == nil {
			return err == nil && t.Unit == f.Unit && !have.Less(least)
		}
	}
	return false
}

// afterwards is what the statement on the storage says of the time after it:
// at the temperature of the run, for the infusion, or in all from the making.
// A time in the room only shortens one for a worn dose, and is none by itself:
// warmer it keeps no longer.
func (p *Plan) afterwards(d dates, kept *compendium.Lasting, known bool, made, warm time.Time) []Limit {
	then := kept.Then
	if then == nil || then.Duration == nil || d.keep.Storage == d.running {
		return nil
	}
	q, err := then.Duration.Quantity()
	if err != nil {
		return nil
	}
	from := warm
	switch {
	case then.Storage == "total":
		from = made
	case then.Storage == worn && d.running == worn && !warmEnough(then.Temperature):
		return nil
	case then.Storage == atRoom && d.running == worn && known:
	case then.Storage != d.running && then.Storage != "infusion" || d.running == "":
		return nil
	}
	l := Limit{Of: OfAfter, From: from, Layer: kept.Layer, Source: kept.Source, Standing: kept.Standing}
	if from.IsZero() {
		l.Says = "when it was made is not known"
		return []Limit{l}
	}
	var ok bool
	if l.Until, l.Lasts, ok = p.lastsFrom(from, q, slices.Contains([]string{"d", "wk", "mo"}, q.Unit.Code())); !ok {
		l.Until, l.Says = time.Time{}, "its number cannot be read"
	}
	return []Limit{l}
}

// hang are the facts on the longest time one container may hang.
func (d dates) hang() (out []compendium.Fact) {
	if !d.DrugKnown {
		return nil
	}
	for _, f := range d.Drug.About("hang_time_max", "all") {
		if answer, _ := f.Holds(compendium.Circumstance{}); f.Gates && answer != compendium.No {
			out = append(out, f)
		}
	}
	return out
}

// hung counts a hang time from the start.
func (p *Plan) hung(facts []compendium.Fact, start time.Time) (out []Limit) {
	for _, f := range facts {
		l := Limit{Of: OfHang, From: start, Source: f.Source, Standing: f.Standing}
		q, err := f.Value.Band.Quantity()
		ok := err == nil
		if ok {
			l.Until, l.Lasts, ok = p.lastsFrom(start, q, q.Unit.Code() != "h")
		}
		if !ok {
			l.Until, l.Says = time.Time{}, "its number cannot be read"
		}
		out = append(out, l)
	}
	return out
}
