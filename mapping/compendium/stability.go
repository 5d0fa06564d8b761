package compendium

import (
	"slices"

	"weir.example/weir/mapping/quantity"
)

// Kind is how a dose is kept before it is given. Each has its own data: what
// a label says of a bag says nothing of a syringe, and a dose mixed just
// before use is never stored.
type Kind string

// The kinds.
const (
	Prepared    Kind = "prepared"     // made in the pharmacy, kept, then given
	MixedAtUse  Kind = "mixed-at-use" // mixed at home just before it runs
	SyringePush Kind = "syringe-push" // drawn up and pushed
	Premix      Kind = "premix"       // frozen by its maker, thawed
)

// topicsOf are the topics a kind may rest on.
var topicsOf = map[Kind][]string{
	Prepared:    {"stability_diluted", "stability_undiluted"},
	MixedAtUse:  {"stability_diluted", "stability_reconstituted"},
	SyringePush: {"stability_syringe", "stability_reconstituted"},
	Premix:      {"stability_premix"},
}

// Undiluted stands in place of a carrier fluid where there is none.
const Undiluted = "undiluted"

// Keeping is how a dose is kept: container (bag, elastomeric, pump-reservoir,
// syringe, vial, glass), code of the carrier fluid or Undiluted, storage
// (room, refrigerated, frozen, worn) and strength. Empty is unknown. Order is
// what the order tells, for statements on one product or regimen.
type Keeping struct {
	Kind                        Kind
	Container, Diluent, Storage string
	Concentration               quantity.Quantity // mass per volume
	Order                       Circumstance
}

// The layers of a statement on stability, in the order in which they count
// after the category of sterility.
const (
	ByCategory = "category" // USP <797>: nothing dates beyond it
	ByFormula  = "formula"  // the site's own signed formula
	ByData     = "data"     // a study of the same container, fluid and strength
	ByLabel    = "label"
)

// Lasting is one statement of how long a dose lasts.
type Lasting struct {
	Hours       quantity.Number
	Layer       string
	Fact        string // id of the fact, or the name of the formula
	Standing    string
	Source      string
	Temperature *Band
	Then        *Period // what may follow it
}

// Stability gives what the label and what data say of a dose kept so: the
// shortest of each that holds. What is no label counts as data, and data
// count only for their own container, fluid and strength; a label also where
// it names none, for a container that is not known too, but then for no
// syringe. Facts that never gate are left out.
// A statement of which nobody can tell whether it holds (another product,
// another regimen) can only shorten.
func (d Drug) Stability(k Keeping) (label, data *Lasting) {
	var open []Lasting
	count := func(x Lasting, yes bool) {
		at := &label
		if x.Layer == ByData {
			at = &data
		}
		if *at == nil && yes || *at != nil && x.Hours.Less((*at).Hours) {
			*at = &x
		}
	}
	for _, topic := range topicsOf[k.Kind] {
		for i := range d.Facts {
			f := &d.Facts[i]
			if !f.about(topic, "all") {
				continue
			}
			switch x, answer := f.lasts(k); answer {
			case Yes:
				count(x, true)
			case Unknown:
				open = append(open, x)
			}
		}
	}
	for _, x := range open {
		count(x, false)
	}
	return label, data
}

// lasts is how long the fact says that a dose kept so lasts, and whether it
// holds for it.
func (f *Fact) lasts(k Keeping) (Lasting, Answer) {
	v := &f.Value
	// A total counts from the making, warm or cold. What is frozen is another
	// dose, and what is worn has a time of its own.
	total := v.Storage == "total" && (k.Storage == "room" || k.Storage == "refrigerated")
	if !f.Gates || v.Duration == nil || v.Storage == "" || v.Storage != k.Storage && !total || !f.isOf(k) {
		return Lasting{}, No
	}
	answer, _ := f.Holds(k.Order)
	q, err := v.Duration.Quantity()
	if err != nil {
		return Lasting{}, No
	}
	in, err := q.In(hour)
	if err != nil {
		return Lasting{}, No
	}
	x := Lasting{Hours: in.Low, Layer: ByData, Fact: f.ID, Standing: f.Standing, Source: f.Source, Temperature: v.Temperature, Then: v.FollowedBy}
	if f.Basis == basisLabel {
		x.Layer = ByLabel
	}
	return x, answer
}

// isOf reports that the fact is about this container, fluid and strength.
func (f *Fact) isOf(k Keeping) bool {
	v, label := &f.Value, f.Basis == basisLabel
	named := slices.Contains(v.Containers, k.Container)
	syringe := k.Container == "syringe" || k.Kind == SyringePush
	switch {
	case !named && (!label || len(v.Containers) > 0): // of an unknown container only a label that names none
		return false
	case !named && syringe && f.Topic != "stability_syringe": // the label of a bag
		return false
	case (k.Diluent == Undiluted) != (f.Topic == "stability_undiluted"):
		return false
	case len(v.Diluent) == 0 && len(v.Others) > 0: // its fluid has no code: it is none of ours
		return false
	case len(v.Diluent) > 0 && !slices.Contains(v.Diluent, k.Diluent):
		return false
	case v.Concentration == nil:
		return label
	}
	return v.Concentration.covers(k.Concentration) == Yes
}

var hour = quantity.MustUnit("h")

// Dated is how long a dose may be kept, and on what that rests.
type Dated struct {
	Known       bool
	Lasting              // the statement that decides
	BeyondLabel bool     // longer than the label, or no label to compare with
	Supported   bool     // beyond the label on a signed formula: a warning; without one it holds
	Cut         *Lasting // what would have dated longer, when the category cut it
}

// Date puts the statements in their order: a signed local formula before
// data for the same container and strength before the label; and whatever
// they say, the category of sterility ends it. Nil is not known. Without a
// category, or without any statement on the drug, nothing is dated.
func Date(category, formula, data, label *Lasting) Dated {
	var chosen *Lasting
	for _, x := range []*Lasting{label, data, formula} {
		if x != nil {
			chosen = x
		}
	}
	if category == nil || chosen == nil {
		return Dated{}
	}
	d := Dated{Known: true, Lasting: *chosen}
	if category.Hours.Less(chosen.Hours) {
		d.Lasting, d.Cut = *category, chosen
	}
	d.BeyondLabel = label == nil || label.Hours.Less(d.Hours)
	d.Supported = d.BeyondLabel && chosen == formula
	return d
}
