package worklist

import (
	"cmp"
	"fmt"

	"weir.example/weir/mapping/worksheet"
)

// times are the home part of the course in words.
type times struct {
	First, Last, Ends, Earliest, Latest string
	Count                               string
	Zone                                string
	Doses                               []instant
	Complete                            bool
	Says                                []string
	Remaining                           []remaining
}

// remaining is what should be left in a continuous infusion at an instant.
type remaining struct {
	Of                 string
	At                 instant
	Low, High, Planned string
}

func timesOf(w worksheet.Worksheet, h home) times {
	s := w.Schedule
	out := times{First: h.read(s.FirstHomeDose).Words, Last: h.read(s.LastDose).Words, Ends: h.read(s.EndsAt).Words, Earliest: h.read(s.EndsEarliest).Words,
		Latest: h.read(s.EndsLatest).Words, Zone: s.Zone, Complete: s.Complete, Says: s.Says}
	if s.FirstHomeDose == "" && s.FirstHomeEarliest != "" {
		out.First = h.read(s.FirstHomeEarliest).Words
		if s.FirstHomeLatest != s.FirstHomeEarliest {
			out.First += " to " + h.read(s.FirstHomeLatest).Words
		}
	}
	out.Count = fmt.Sprintf("%s at home", count(max(s.DoseCount, s.HomeMost), "dose"))
	if s.HomeMost > s.HomeLeast {
		out.Count = fmt.Sprintf("%d to %s at home", s.HomeLeast, count(s.HomeMost, "dose"))
	}
	for _, d := range s.Doses {
		out.Doses = append(out.Doses, h.read(d))
	}
	for _, e := range s.Remaining {
		out.Remaining = append(out.Remaining, remaining{e.Of, h.read(e.At), value(e.Low, e.Unit), value(e.High, e.Unit), value(e.Value, e.Unit)})
	}
	return out
}

// delivery is one delivery due.
type delivery struct {
	Number                                                  int
	Arrival, First, Last, Start, Finish, IfMade, KnownLimit instant
	Units, Days, Says                                       string
	Use                                                     *use
}

// use is until when the units of a delivery may be started and by when each
// must have run, with every limit that was looked at.
type use struct {
	Kept, Lot, Made string
	Nothing         bool // nothing is made yet
	Limits, InUse   []limit
	Late            []useDose
	Doses           int
	Says            []string
}

type limit struct {
	Of, Kind                             string
	From, Until                          instant
	Hours, Says, Layer, Standing, Source string
	Decides                              bool
}

// useDose is a dose that would start too late, or run too long.
type useDose struct {
	Start, FinishBy, RunsUntil instant
	Why                        string
}

// limitNames are the kinds of limit in words.
var limitNames = map[string]string{"record": "beyond-use time on record", "sterility": "sterility category", "stability": "stability as kept", "component": "expiry of components",
	"run": "run within the stability", "in-use": "while it runs", "after": "after its storage", "hang-time": "hang time"}

var layers = map[string]string{"category": "by its sterility category", "formula": "by its formula", "data": "by data of a study", "label": "by the label of the drug"}

var running = map[string]string{"worn": "runs near the body", "room": "runs at room temperature"}

func deliveries(w worksheet.Worksheet, h home) []delivery {
	var out []delivery
	for i, d := range w.Deliveries {
		one := delivery{Number: i + 1, Arrival: h.read(d.Arrival), First: h.read(d.FirstDose), Last: h.read(d.LastDose), Start: h.read(d.StartBefore), Finish: h.read(d.FinishBy),
			Units: count(d.Units, "unit"), Days: count(d.DaysSupply, "day"), Says: d.Says}
		if u := d.Use; u != nil {
			one.Use = useOf(*u, h)
			if one.Start.Words == "" && u.IfMade {
				one.IfMade = h.read(u.StartBefore)
			}
			for _, l := range u.Limits {
				if one.KnownLimit.Words == "" {
					one.KnownLimit = h.read(l.Until)
				}
			}
		}
		out = append(out, one)
	}
	return out
}

func useOf(u worksheet.Use, h home) *use {
	out := &use{Kept: joinWords(words(u.Kind), words(u.Storage), running[u.Running]), Lot: u.Lot, Made: h.read(u.Made).Words, Nothing: u.IfMade, Says: u.Says, Doses: len(u.Doses)}
	if out.Kept != "" && u.Running != "" && running[u.Running] == "" {
		out.Kept += ", " + words(u.Running)
	}
	list := func(in []worksheet.UseLimit, kind string) (out []limit) {
		for _, l := range in {
			one := limit{Of: cmp.Or(limitNames[l.Of], words(l.Of)), Kind: kind, From: h.read(l.From), Until: h.read(l.Until), Says: l.Says, Layer: cmp.Or(layers[l.Layer], l.Layer),
				Standing: words(l.Standing), Source: l.Source, Decides: l.Of == u.Binding && kind == "start before"}
			if l.Hours != "" {
				one.Hours = value(l.Hours, "h")
			}
			out = append(out, one)
		}
		return out
	}
	out.Limits, out.InUse = list(u.Limits, "start before"), list(u.InUse, "finish by")
	for _, d := range u.Doses {
		why := ""
		switch {
		case d.TooLate && d.TooLong:
			why = "starts too late and runs too long"
		case d.TooLate:
			why = "starts too late"
		case d.TooLong:
			why = "runs too long"
		default:
			continue
		}
		out.Late = append(out.Late, useDose{h.read(d.Start), h.read(d.FinishBy), h.read(d.RunsUntil), why})
	}
	return out
}

func joinWords(list ...string) string {
	text := ""
	for _, s := range list {
		if s != "" {
			if text != "" {
				text += ", "
			}
			text += s
		}
	}
	return text
}

// kit is what goes with one delivery.
type kit struct {
	Delivery int
	Items    []worksheet.KitItem
}

func kits(w worksheet.Worksheet) []kit {
	var out []kit
	for _, k := range w.Kit {
		if len(out) == 0 || out[len(out)-1].Delivery != k.Delivery {
			out = append(out, kit{Delivery: k.Delivery})
		}
		last := &out[len(out)-1]
		last.Items = append(last.Items, k)
	}
	return out
}

// lumens is the day of the patient's line.
type lumens struct {
	Outcome    string
	Names      string
	Placements []placement
	Stretches  []worksheet.LumenStretch
	Says       []string
}

type placement struct{ Name, Lumen, Starts, Ordered string }

func lumensOf(w worksheet.Worksheet) *lumens {
	l := w.Lumens
	if l == nil {
		return nil
	}
	out := &lumens{Outcome: words(l.Outcome), Names: joined(l.Names), Says: l.Says}
	for _, p := range l.Placements {
		out.Placements = append(out.Placements, placement{p.Name, p.Lumen, cmp.Or(joined(p.Starts), "all day"), joined(p.Ordered)})
	}
	for _, s := range l.Stretches {
		s.What, s.Fluid = words(s.What), words(s.Fluid)
		out.Stretches = append(out.Stretches, s)
	}
	return out
}
