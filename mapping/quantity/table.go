package quantity

// atom is one row of our own unit table, made from physical definitions, not
// from a copy of another table. Factors are exact: the avoirdupois pound is
// 0.45359237 kg and the inch 2.54 cm by international agreement (1959); the
// month and year are UCUM's mean Julian ones (30.4375 d, 365.25 d).
type atom struct {
	factor Number
	dim    Dimension
	metric bool // takes a prefix
}

var atoms = map[string]atom{
	"g": {Int(1), Mass, true},
	"m": {Int(1), Length, true},
	"s": {Int(1), Time, true},
	"L": {Ratio(1, 1000), Volume, true},
	"l": {Ratio(1, 1000), Volume, true},

	"min": {Int(60), Time, false},
	"h":   {Int(3600), Time, false},
	"d":   {Int(86400), Time, false},
	"wk":  {Int(604800), Time, false},
	"mo":  {Int(2629800), Time, false},
	"a":   {Int(31557600), Time, false},

	"mol":     {Int(1), Amount, true},
	"eq":      {Int(1), Equivalent, true},
	"osm":     {Int(1), Osmole, true},
	"[iU]":    {Int(1), International, true},
	"[IU]":    {Int(1), International, true},
	"[USP'U]": {Int(1), Pharmacopeial, false},
	"U":       {Int(1), Enzyme, true},
	"[drp]":   {Int(1), Drop, false},
	"cal":     {Int(1), Energy, true},
	"[lb_av]": {MustNumber("453.59237"), Mass, false},
	"[oz_av]": {MustNumber("453.59237").Quo(Int(16)), Mass, false},
	"[in_i]":  {MustNumber("0.0254"), Length, false},
	"[ft_i]":  {MustNumber("0.3048"), Length, false},
	"%":       {Ratio(1, 100), None, false},
	"[ppm]":   {Ratio(1, 1000000), None, false},
	"[Ch]":    {Int(1), Dimension{french: 1}, false},

	"[pi]":     {}, // refused: not rational
	"[degF]":   {}, // refused: not a ratio scale
	"Cel":      {}, // refused: not a ratio scale
	"[pH]":     {}, // refused: logarithmic
	"m[H2O]":   {}, // refused: not in the subset
	"m[Hg]":    {}, // refused: not in the subset
	"[arb'U]":  {}, // refused: not comparable even with itself
	"[tbs_us]": {}, // refused: a household measure is no dose
}

var prefixes = map[byte]Number{
	'M': Int(1000000), 'k': Int(1000), 'h': Int(100), 'd': Ratio(1, 10), 'c': Ratio(1, 100),
	'm': Ratio(1, 1000), 'u': Ratio(1, 1000000), 'n': Ratio(1, 1000000000), 'p': Ratio(1, 1000000000000),
}

// lookup finds an atom, with a prefix where the atom takes one. An atom that
// stands whole wins over a prefixed reading, as UCUM demands (min is no
// milli-inch).
func lookup(name string) (Number, Dimension, bool) {
	if a, ok := atoms[name]; ok {
		return a.factor, a.dim, a.factor.Sign() != 0
	}
	if len(name) < 2 {
		return Number{}, None, false
	}
	prefix, ok := prefixes[name[0]]
	a, found := atoms[name[1:]]
	if !ok || !found || !a.metric {
		return Number{}, None, false
	}
	return a.factor.Mul(prefix), a.dim, true
}

// meant lists spellings that are not UCUM (or mean something else in it)
// with the code they are commonly used for. They are shown, never converted.
var meant = map[string]string{
	"mcg": "ug", "µg": "ug", "μg": "ug", "mgs": "mg", "gm": "g", "gms": "g", "gram": "g", "grams": "g",
	"mcg/kg/min": "ug/kg/min", "mcg/min": "ug/min", "mcg/h": "ug/h", "mcg/hr": "ug/h", "mcg/mL": "ug/mL",
	"cc": "mL", "ML": "mL", "mls": "mL", "cc/hr": "mL/h", "ml/hr": "mL/h", "mL/hr": "mL/h", "mL/hour": "mL/h",
	"mg/hr": "mg/h", "units": "[iU]", "unit": "[iU]", "IU": "[iU]", "iu": "[iU]", "units/hr": "[iU]/h",
	"units/h": "[iU]/h", "mEq": "meq", "mEq/L": "meq/L", "mEq/h": "meq/h", "mEq/hr": "meq/h", "meq/hr": "meq/h",
	"MU": "10*6.[iU]", "lb": "[lb_av]", "lbs": "[lb_av]", "oz": "[oz_av]", "in": "[in_i]", "inch": "[in_i]",
	"hr": "h", "hrs": "h", "hour": "h", "hours": "h", "mins": "min", "minute": "min", "minutes": "min",
	"sec": "s", "day": "d", "days": "d", "week": "wk", "weeks": "wk", "gtt": "[drp]", "gtt/min": "[drp]/min",
	"drop": "[drp]", "drops": "[drp]", "gtt/mL": "[drp]/mL", "kgs": "kg", "Kg": "kg", "KG": "kg",
	"mmol/l": "mmol/L", "m²": "m2", "mg/m²": "mg/m2", "mg/sqm": "mg/m2",
}
