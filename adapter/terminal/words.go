package terminal

import (
	"regexp"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// say is a word of a table in plain words; one that is not listed is said as
// it stands.
func say(words map[string]string, word string) string {
	if w, ok := words[word]; ok {
		return w
	}
	return word
}

var (
	populations = map[string]string{"adult": "adults", "pediatric": "children", "neonate": "newborns", "all": "everybody"}
	bases       = map[string]string{"label": "a label", "guideline_or_practice": "a guideline or practice", "study": "a study"}
	storages    = map[string]string{"room": "kept at room temperature", "refrigerated": "kept refrigerated", "frozen": "kept frozen", "worn": "while it is worn",
		"total": "in all, counted from the making", "infusion": "while it runs"}
	containers = map[string]string{"bag": "bag", "elastomeric": "elastomeric reservoir", "pump-reservoir": "reservoir of a pump", "syringe": "syringe", "vial": "vial", "glass": "glass bottle"}
	methods    = map[string]string{"push": "pushed by hand", "infusion": "infused"}
	sites      = map[string]string{"central": "in a central vein", "peripheral": "in a peripheral vein"}
	exposures  = map[string]string{"naive": "not used to opioids", "tolerant": "used to opioids"}
	perWhat    = map[string]string{compendium.PerMinute: "in mL per minute", compendium.PerSurface: "per 1.73 m² of body surface", compendium.PerWeight: "per kg of body weight"}
	gates      = map[string]string{"hold": "a hold", "warn": "a warning", "note": "a note", "block": "a block"}
	flagWords  = map[string]string{
		compendium.NoBolus: "no bolus: nothing is flushed through its line", compendium.ElectronicPump: "electronic pump only: no elastomeric reservoir",
		compendium.NeverPause: "never paused: stopping it suddenly harms", compendium.SecondPump: "a second pump stands ready", compendium.CentralLine: "central line",
		compendium.OwnLine: "a line of its own: nothing else runs in it", compendium.NeverGravity: "never by gravity", compendium.NeverPush: "never pushed by hand",
		compendium.NeverSaline: "never sodium chloride: flushed with the fluid of its own fact", compendium.Vesicant: "vesicant: it destroys tissue where it leaks out of a vein"}
)

// topics are the headings of facts, in the order a pharmacist reads them:
// dose, limits, organs, how it runs, how it is made and kept, how it is
// watched. A topic that is not listed comes last, in the words of its name.
var topics = []struct{ topic, title string }{
	{"usual_dose", "Usual dose"}, {"loading_dose", "Loading dose"}, {"titration", "Titration"}, {"cycle", "Cycle"}, {"therapy_duration", "Length of therapy"},
	{"weight_basis", "Weight the dose is reckoned by"}, {"weight_factor", "Factor for the weight"}, {"weight_limit", "Limit of weight"}, {"weight_threshold", "Weight at which the dose changes"},
	{"equivalence", "Equal doses"}, {"unit_equivalence", "Equal units"},
	{"max_single_dose", "Greatest single dose"}, {"max_daily_dose", "Greatest dose of a day"}, {"max_dose_per_hour", "Greatest dose of an hour"}, {"max_cumulative_dose", "Greatest dose in all"},
	{"dose_experience_ceiling", "Greatest dose anybody has experience with"}, {"interval_min", "Shortest interval"},
	{"renal_dose_adjustment", "Kidneys"}, {"renal_formula", "Formula for the kidneys"}, {"hepatic_dose_adjustment", "Liver"},
	{"infusion_duration", "Infusion time"}, {"infusion_duration_min", "Shortest infusion time"}, {"infusion_rate", "Rate"}, {"infusion_rate_initial", "First rate"},
	{"infusion_rate_max", "Greatest rate"}, {"rate_formula", "Formula for the rate"}, {"cycle_taper", "Ramp up and down"}, {"hang_time_max", "Longest time on the line"},
	{"concentration_recommended", "Usual strength"}, {"concentration_min", "Least strength"}, {"concentration_max", "Greatest strength"}, {"concentration_max_central", "Greatest strength in a central vein"},
	{"osmolarity_max_peripheral", "Greatest osmolarity in a peripheral vein"}, {"dextrose_final_concentration_peripheral", "Greatest strength of dextrose in a peripheral vein"},
	{"diluent_compatible", "Fluids it is mixed with"}, {"diluent_incompatible", "Fluids it never meets"}, {"diluent_volume", "Volume of fluid"}, {"flush_fluid", "Flush"},
	{"reconstitution", "Dissolving"}, {"package_strength", "Packages"}, {"container_material", "Material of the container"}, {"filter", "Filter"}, {"ph", "pH"}, {"composition", "What it holds"}, {"electrolyte_content", "Electrolytes in it"},
	{"storage_intact", "Storage unopened"}, {"light_protection", "Light"}, {"stability_reconstituted", "Stability once dissolved"}, {"stability_undiluted", "Stability undiluted"},
	{"stability_diluted", "Stability once diluted"}, {"stability_syringe", "Stability in a syringe"}, {"stability_premix", "Stability of the ready bag"},
	{"vascular_access", "Line"}, {"line_rule", "Rule for the line"}, {"pump_requirement", "Pump"}, {"tissue_injury", "Injury to tissue"}, {"restart_rule", "After a pause"},
	{"incompatibility", "Incompatible"}, {"interaction_alert", "Interactions"}, {"co_administration", "Given with it"},
	{"precondition", "Known before the first dose"}, {"contraindication", "Not given"}, {"boxed_warning", "Boxed warning"}, {"safety_alert", "Safety alert"}, {"error_pattern", "Known errors"}, {"product_confusion", "Mistaken for"}, {"product_rule", "Which product"},
	{"risk_factor_age", "Age at risk"}, {"hazardous_handling", "Handling"}, {"home_supply", "Stands ready at home"}, {"home_restriction", "Not at home"}, {"home_suitability", "Fit for home"}, {"monitoring", "Monitoring"},
	{"energy", "Energy"}, {"fluid", "Fluid"}, {"macronutrient_protein", "Protein"}, {"amino_acid_energy", "Energy of amino acids"}, {"dextrose_energy", "Energy of dextrose"}, {"dextrose_rate_max", "Greatest rate of dextrose"},
	{"lipid_energy", "Energy of lipid"}, {"lipid_energy_share_max", "Greatest share of energy from lipid"}, {"lipid_minimum", "Least lipid"}, {"lipid_first_day_max", "Most lipid on the first day"},
	{"lipid_dose_max", "Greatest dose of lipid"}, {"lipid_rate_initial", "First rate of lipid"}, {"lipid_rate_max", "Greatest rate of lipid"},
}

// rare are the seldom members of a value, in words before their number.
var rare = map[string]string{
	"accuracy": "accuracy, either way:", "atLeastEvery": "not oftener than every", "avoidPeakAbove": "peak not above", "avoidTroughAbove": "trough not above", "before": "before it:",
	"beforeFirst": "before the first dose:", "colistinBaseActivity": "colistin base activity", "crclAtOrBelow": "creatinine clearance at or below", "criticalPeak": "critical peak",
	"dexamethasone": "dexamethasone", "diluentVolume": "volume of fluid", "diluentVolumePerG": "volume of fluid for each g:", "diluentVolumePerVial": "volume of fluid for each vial:",
	"doseAbove": "dose above", "doseFactor": "share of the dose:", "doseIncreaseFactor": "dose raised by the factor", "doseOver": "dose above", "equals": "equals", "factor": "factor",
	"first": "first dose", "firstDose": "first dose", "firstTwo": "each of the first two doses", "glucoseDuring": "glucose while it runs", "glucoseFastingBelow": "fasting glucose below",
	"hospitalDaysCycle1": "in hospital in cycle 1:", "hospitalDaysCycle2": "in hospital in cycle 2:", "hoursAfter": "after the infusion:", "hoursBefore": "before the infusion:",
	"hydromorphoneIv": "hydromorphone, intravenous,", "infusion": "infused for", "initial": "first rate", "initialDose": "first dose", "inline": "filter in the line:",
	"inlineMinPore": "filter in the line not finer than", "interruption": "pause of", "loading": "loading dose", "loadingMax": "loading dose at most", "magnesiumSulfate": "magnesium sulfate",
	"maxDaily": "at most in a day:", "monthlyDose": "dose of a month", "morphineIv": "morphine, intravenous,", "notInLessThan": "in not less than", "observe": "observed for",
	"osmolarity": "osmolarity", "over": "over", "per": "for each", "potassium": "potassium", "potassiumPerPhosphate": "potassium for each phosphate, in moles:", "probenecidAfter": "probenecid after it:", "probenecidBefore": "probenecid before it:",
	"probenecidTotal": "probenecid in all:", "ratio": "ratio", "salineBefore": "sodium chloride 0.9 % before it:", "second": "second dose", "secondDose": "second dose",
	"serumCreatinineAbove": "serum creatinine above", "shake": "shaken for", "sodium": "sodium", "spacing": "apart by", "startFactor": "share of the dose to start with:", "step": "step",
	"stepFirst4Wk": "step in the first 4 weeks:", "stepLater": "step after 4 weeks:", "stopCkSymptomatic": "stopped with symptoms when creatine kinase is above", "targetAuc24": "area under the curve of 24 hours:",
	"targetTrough": "trough", "then": "then", "thenMax": "then at most", "third": "third dose", "time": "time", "totalDose": "in all", "troughAbove": "trough above", "treatmentFree": "then free of treatment for",
	"urineProteinAtOrAbove": "urine protein at or above", "vialFilter": "filter at the vial:", "volume": "volume", "wait": "stands for", "with4060MgPerKg": "with 40 to 60 mg per kg:",
	"with90120MgPerKg": "with 90 to 120 mg per kg:", "within": "within",
}

// spelled are abbreviations of the tables' own sentences, and what they mean.
var spelled = map[string]string{"IV": "intravenous", "SC": "subcutaneous", "IM": "intramuscular", "PN": "parenteral nutrition", "ug": "micrograms"}

var (
	slashes  = regexp.MustCompile(`(^|[\s(])((?:\d[\d.,]*(?:-[\d.,]*\d)?) ?)?([A-Za-z]+)((?:/(?:\d+ )?(?:kg|m2|min|h|d|mL|L|dL|wk|g)\b)+)`)
	spans    = regexp.MustCompile(`(\d[\d.,]*) (h|d|min|wk|mo|s)\b`)
	gap      = regexp.MustCompile(`(\d) (\d{3})\b`)
	zeros    = regexp.MustCompile(`\b(\d+)(?:\.0+|(\.\d*[1-9])0+)\b`)
	thousand = regexp.MustCompile(`\b\d{4,}(\s?(?:mg|g|mL|mcg|micrograms?|units?|kg|L)\b)`)
	short    = regexp.MustCompile(`\b[A-Z0-9a-z_]+\b`)
)

// plain writes a sentence of the tables without abbreviations that are
// misread: units in words, routes and fluids in full, no trailing zero. The
// table itself is not changed; a source is never rewritten.
func plain(text string) string {
	text = gap.ReplaceAllString(text, "$1,$2")
	text = zeros.ReplaceAllString(text, "$1$2")
	text = slashes.ReplaceAllStringFunc(text, func(s string) string {
		m := slashes.FindStringSubmatch(s)
		unit := m[3]
		for _, below := range strings.Split(m[4], "/")[1:] {
			number, name, both := strings.Cut(below, " ")
			if both {
				unit += "/(" + number + "." + name + ")"
			} else {
				unit += "/" + below
			}
		}
		w := strings.TrimSpace(notation.Patient("", unit))
		if w == "" || strings.Contains(w, "`") { // a word with a slash is no unit
			return s
		}
		return m[1] + m[2] + w
	})
	text = spans.ReplaceAllStringFunc(text, func(s string) string {
		m := spans.FindStringSubmatch(s)
		if _, err := quantity.ParseNumber(m[1]); err != nil {
			return m[1] + " " + strings.TrimSpace(notation.Patient("", m[2]))
		}
		return notation.Patient(m[1], m[2])
	})
	text = thousand.ReplaceAllStringFunc(text, func(s string) string {
		m := thousand.FindStringSubmatch(s)
		return notation.Patient(strings.TrimSuffix(s, m[1]), "") + m[1]
	})
	return short.ReplaceAllStringFunc(text, func(s string) string {
		if w, ok := spelled[s]; ok {
			return w
		}
		if strings.Contains(s, "_") { // a topic is called as its heading
			return strings.ToLower(title(s))
		}
		return compendium.DiluentName(s)
	})
}
