package policy

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
)

// Protocol is the site's standing order for flushing and locking one kind of
// line in one population.
type Protocol struct {
	Access, Population string // peripheral midline picc non-tunnelled tunnelled port dialysis; adult child neonate all
	Solution           string
	Strength           Amount // 10 [USP'U]/mL, 4 %; empty: none
	Volume, Flush      Amount
	Source             string
}

// CatalogueDevice is one device the site hands out, by its generic name.
type CatalogueDevice struct {
	Name, Class   string   // class: elastomeric electronic-pump syringe-pump gravity
	NominalVolume Amount   `yaml:"nominalVolume"`
	FillLeast     Amount   `yaml:"fillLeast"`
	FillMost      Amount   `yaml:"fillMost"`
	Residual      Amount   // volume left at the end
	NominalRates  []Amount `yaml:"nominalRates"`
	RateLeast     Amount   `yaml:"rateLeast"`
	RateMost      Amount   `yaml:"rateMost"`
	RateStep      Amount   `yaml:"rateStep"`
	Tolerance     *Fraction
	DropFactor    int `yaml:"dropFactor"` // drops per mL
	Source        string
}

// Assessment is the site's assessment of risk for one hazardous drug. It
// holds for 12 months.
type Assessment struct {
	Drug           string // exact generic name, lower case
	ClosedTransfer string `yaml:"closedTransfer"` // required by-policy no
	Listed         string // yes or no: only for a drug the list has not assessed
	Edition        string // of the list that was read
	DosageForm     string `yaml:"dosageForm"`
	Handling       string
	Reason         string
	By, Role, On   string
}

// Override is the site's own number for one fact of the tables.
type Override struct {
	Fact         string
	Span         `yaml:",inline"`
	Gates        *bool
	Source       string
	Reason       string
	By, On       string
	File         string `yaml:"-"`
	Line, Column int    `yaml:"-"`
}

// Formula is the site's own signed formula for how long a preparation lasts.
type Formula struct {
	Drug, Kind, Container, Diluent, Storage string
	Concentration                           Span
	Limit, Temperature                      Amount
	Source, By, On                          string
}

// Gate is the gate of a rule for this site, given that of the program.
func (p *Policy) Gate(code finding.Code, gate finding.Gate) finding.Gate {
	if own, ok := p.Gates[string(code)]; ok {
		return finding.Gate(own)
	}
	return gate
}

// Overrule puts the site's own numbers into the tables.
func (p *Policy) Overrule(t *compendium.Tables) (*compendium.Tables, error) {
	if len(p.Overrides) == 0 {
		return t, nil
	}
	var list []compendium.Override
	for _, o := range p.Overrides {
		list = append(list, compendium.Override{Fact: o.Fact, Band: o.Span.Band(), Gates: o.Gates, Source: o.Source, Reason: o.Reason, By: o.By, On: o.On})
	}
	own, refused := t.Overrule(list)
	if len(refused) == 0 {
		return own, nil
	}
	var faults Faults
	for _, r := range refused {
		o := p.Overrides[r.Index]
		faults = append(faults, Fault{File: o.File, Line: o.Line, Column: o.Column, Key: fmt.Sprintf("overrides[%d].%s", r.Index, r.Key), Problem: r.Problem, Expected: r.Expected})
	}
	return t, faults.sorted()
}

// Formula is the site's signed formula for a preparation kept so, nil when
// it has none.
func (p *Policy) Formula(drug string, k compendium.Keeping) *compendium.Lasting {
	for _, f := range p.Stability {
		if f.Drug != drug || f.Kind != string(k.Kind) || f.Container != k.Container || f.Diluent != k.Diluent || f.Storage != k.Storage {
			continue
		}
		band := f.Concentration.Band()
		q, err := band.Quantity()
		have, other := k.Concentration.In(q.Unit)
		limit, ok := f.Limit.in("h")
		if err != nil || other != nil || !ok || have.Low.Less(q.Low) || q.High.Less(have.High) {
			continue
		}
		return &compendium.Lasting{Hours: limit, Layer: compendium.ByFormula, Fact: "site formula, by " + f.By + " on " + f.On, Standing: compendium.LocalStanding, Source: f.Source}
	}
	return nil
}

// BodyFluid is how long after the end of a drug precautions with body fluids
// last.
func (p *Policy) BodyFluid(drug string) time.Duration {
	hours, own := p.Hazard.BodyFluidHoursByDrug[drug]
	if !own {
		hours = p.Hazard.BodyFluidHours
	}
	return time.Duration(hours) * time.Hour
}

// strictness of closed transfer, the larger the stricter.
var strictness = map[string]int{"no": 0, "by-policy": 1, "required": 2}

// Assess applies the site's assessment of risk to the listing of a drug. It
// may always tighten. It may relax only where USP <800> leaves it to the
// site: a drug of Table 2, or one of Table 1 that is no antineoplastic. A
// drug nobody assessed becomes "not listed" only by an assessment that says
// which list was read. After 12 months an assessment only tightens.
func (p *Policy) Assess(drug string, l compendium.Listing, now time.Time) compendium.Listing {
	i := slices.IndexFunc(p.Hazard.Assessments, func(a Assessment) bool { return a.Drug == drug })
	if i < 0 || drug == "" {
		return l
	}
	a := p.Hazard.Assessments[i]
	on, err := time.Parse(time.DateOnly, a.On)
	said := "this site's assessment by " + a.By + " of " + a.On
	current := err == nil && !now.Before(on) && now.Before(on.AddDate(1, 0, 0))
	says := func(text string) { l.Says = cmp.Or(join(l.Says, text), text) }
	if l.Listed == "unassessed" {
		switch {
		case a.Listed == "yes":
			l.Listed, l.ClosedTransfer, l.Edition = "yes", "by-policy", a.Edition
			says("listed by " + said)
		case a.Listed == "no" && current:
			l.Listed, l.ClosedTransfer, l.Antineoplastic, l.Edition = "no", "no", "no", a.Edition
			l.Standing, l.Source, l.Says = compendium.LocalStanding, a.Reason, "not listed: "+said
		case a.Listed == "no":
			says("the " + said + " has lapsed after 12 months")
			return l
		default:
			return l
		}
	}
	switch have, want := strictness[l.ClosedTransfer], strictness[a.ClosedTransfer]; {
	case a.ClosedTransfer == "" || want == have:
	case want > have:
		l.ClosedTransfer = a.ClosedTransfer
		says("closed transfer by " + said)
	case !current:
		says("the " + said + " has lapsed after 12 months and relaxes nothing")
	case l.Table == "2" || l.Table == "1" && l.Antineoplastic == "no":
		l.ClosedTransfer = a.ClosedTransfer
		says("closed transfer relaxed by " + said)
	default:
		says("the " + said + " may not relax closed transfer for this drug (USP <800>)")
	}
	return l
}

func join(a, b string) string {
	if a == "" {
		return b
	}
	return a + "; " + b
}

// Count is the size of the site's own file: every choice of its own counts
// as local.
func (p *Policy) Count() compendium.Count {
	n := len(p.Overrides) + len(p.Stability) + len(p.Catalogue) + len(p.Lock.Protocols) + len(p.Hazard.Assessments) + len(p.Gates) +
		len(p.Hazard.BodyFluidHoursByDrug) + len(p.Hazard.WasteByDrug)
	return compendium.Count{Edition: cmp.Or(p.Pharmacy.Name, "defaults of the program"), Rows: n, Standing: map[string]int{compendium.LocalStanding: n}}
}
