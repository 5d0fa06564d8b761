package policy

import (
	"cmp"
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

// Override is the site's own number for one fact of the tables.
type Override struct {
	Fact         string
	Span         `yaml:",inline"`
	Gates        *bool
	Source       string
	Reason       string
	By, On       string
	File         string `yaml:"-"`
	Line, Column int    `yaml:"-"` // of the entry
	keys         places // of the keys in it
}

// Formula is the site's own signed formula for how long a preparation lasts.
type Formula struct {
	Drug, Kind, Container, Diluent, Storage string
	Concentration                           Span
	Limit, Temperature                      Amount
	Source, By, On                          string
}

// Gate is the gate of a rule for this site, given that of the program: the
// site's own where it set one. What a site may set was checked when its file
// was read.
func (p *Policy) Gate(code finding.Code, gate finding.Gate) finding.Gate {
	if own, ok := p.Gates[string(code)]; ok {
		return finding.Gate(own)
	}
	return gate
}

// LockProtocol is the standing protocol in force for a line and a population:
// kinds of line as an order names them; adult, child, neonate, or "" where the
// age is not known, for which only one for all is. There is none for another
// line or population, and none at all unless the site says that its
// protocols stand.
func (p *Policy) LockProtocol(access, population string) (Protocol, bool) {
	i := slices.IndexFunc(p.Lock.Protocols, func(x Protocol) bool {
		return x.Access == access && (x.Population == "all" || x.Population == population && population != "")
	})
	if !p.Lock.StandingProtocol || i < 0 {
		return Protocol{}, false
	}
	return p.Lock.Protocols[i], true
}

// Formula is the site's signed formula for a preparation kept so, nil when
// it has none, or only one dated later than the day of now.
func (p *Policy) Formula(drug string, k compendium.Keeping, now time.Time) *compendium.Lasting {
	for _, f := range p.Stability {
		if future(f.On, now) || f.Drug != drug || f.Kind != string(k.Kind) || f.Container != k.Container || f.Diluent != k.Diluent || f.Storage != k.Storage {
			continue
		}
		band := f.Concentration.Band()
		q, err := band.Quantity()
		have, other := k.Concentration.In(q.Unit)
		limit, ok := f.Limit.in("h")
		if err != nil || other != nil || !ok || have.Low.Less(q.Low) || q.High.Less(have.High) {
			continue
		}
		return &compendium.Lasting{Hours: limit, Layer: compendium.ByFormula, Fact: "site formula, by " + f.By + " on " + f.On, Standing: compendium.LocalStanding, Source: f.Source,
			Temperature: Span{Value: f.Temperature}.Band()}
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

// Count is the size of the site's own file: every choice of its own counts
// as local.
func (p *Policy) Count() compendium.Count {
	n := len(p.Overrides) + len(p.Stability) + len(p.Catalogue) + len(p.Lock.Protocols) + len(p.Hazard.Assessments) + len(p.Gates) +
		len(p.Hazard.BodyFluidHoursByDrug) + len(p.Hazard.WasteByDrug)
	return compendium.Count{Edition: cmp.Or(p.Pharmacy.Name, "defaults of the program"), Rows: n, Standing: map[string]int{compendium.LocalStanding: n}}
}
