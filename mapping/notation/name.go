package notation

var names = map[string]string{
	"dose": "dose", "dosePerKg": "dose per kg", "dosePerArea": "dose per m²", "dosingWeight": "weight for dosing",
	"bodySurfaceArea": "body surface area", "idealBodyWeight": "ideal body weight", "adjustedBodyWeight": "adjusted body weight",
	"creatinineClearance": "creatinine clearance", "concentration": "concentration", "volume": "volume", "rate": "rate",
	"drugRate": "drug rate", "drugRatePerKg": "drug rate per kg", "duration": "infusion time", "interval": "interval",
	"dosesPerDay": "doses per day", "dailyDose": "daily dose", "doseCount": "doses in the course", "courseLength": "length of course",
	"orderedQuantity": "quantity ordered", "homeQuantity": "doses at home", "fill": "fill volume", "residual": "volume left in device",
	"delivered": "dose delivered", "nominalRate": "nominal rate of device", "endsAt": "infusion ends", "endsEarliest": "ends earliest",
	"endsLatest": "ends latest", "startBefore": "start before", "finishBy": "finish by", "glucoseInfusionRate": "glucose infusion rate", "osmolarity": "osmolarity",

	// What the arithmetic alone takes and gives besides.
	"dailyDosePerKg": "daily dose per kg", "loadingDose": "loading dose", "loadingDosePerKg": "loading dose per kg",
	"roundedDose": "rounded dose", "roundTo": "rounding step", "roundingChange": "change by rounding",
	"ratePerKg": "rate per kg", "start": "start", "end": "end", "zone": "time zone", "age": "age", "sex": "sex",
	"weight": "actual weight", "height": "height", "poundsPerKilogram": "pounds in a kilogram",
	"adjustmentFactor": "adjustment factor", "percentOfIdeal": "actual weight as part of ideal",
	"serumCreatinine": "serum creatinine", "glomerularFiltrationRate": "glomerular filtration rate",
	"absoluteFiltrationRate": "filtration rate, not indexed", "targetAUC": "target area under the curve",
	"dropFactor": "drop factor of the set", "dropRate": "drop rate", "step": "step", "cycle": "cycle",
	"rampUp": "ramp up", "rampDown": "ramp down", "plateauRate": "plateau rate", "taperRate": "taper rate",
	"basal": "background rate", "demand": "dose of one press", "lockout": "lockout time", "window": "window",
	"maximumDose": "most drug in the window", "maximumVolume": "most volume in the window",
	"vialStrength": "strength in the vial", "vialContent": "drug in one vial", "vialVolume": "volume of one vial",
	"vialCount": "vials opened", "waste": "drug discarded", "billingUnit": "billing unit",
	"billingUnits": "billing units given", "additive": "volume drawn up", "diluent": "diluent volume",
	"strongerConcentration": "stronger solution", "weakerConcentration": "weaker solution",
	"targetConcentration": "concentration wanted", "strongerVolume": "volume of the stronger solution",
	"weakerVolume": "volume of the weaker solution", "labelVolume": "volume on the label", "overfill": "overfill",
	"withdrawalFraction": "withdrawal limit", "withdrawalThreshold": "withdraw diluent above",
	"molarMass": "molar mass", "valence": "valence", "particles": "particles", "drugMass": "mass of drug",
	"drugAmount": "amount of substance", "drugEquivalents": "equivalents", "osmoles": "osmoles", "dextrose": "dextrose",
	"aminoAcids": "amino acids", "lipid": "lipid", "electrolytes": "electrolytes",
	"dextroseConcentration": "dextrose concentration", "aminoAcidConcentration": "amino acid concentration",
	"lipidConcentration": "lipid concentration", "electrolyteConcentration": "electrolyte concentration",
	"lipidVolume": "volume of lipid emulsion", "lipidEnergy": "energy of lipid",
	"lipidEnergyPerVolume": "energy of the emulsion", "aminoAcidFactor": "osmoles of amino acids",
	"dextroseFactor": "osmoles of dextrose", "lipidFactor": "osmoles of lipid",
	"electrolyteFactor": "osmoles of electrolytes", "energy": "energy", "emittedFraction": "part emitted",
	"flowRatio": "flow over nominal flow", "tolerance": "tolerance", "runTime": "run time",
	"shortestRun": "run time at the fast edge", "longestRun": "run time at the slow edge",
	"viscosityRatio": "viscosity over calibration", "flowFraction": "flow over calibration",
	"residualFraction": "part left behind", "keepOpenRate": "keep-open rate", "keepOpenVolume": "keep-open volume",
	"supply": "supply", "supplyUnits": "doses supplied", "daysSupply": "days the supply lasts",
}

// Name is a NAME of the outside contract as people read it. A name that is
// not in the contract comes back as it is.
func Name(name string) string {
	if w, ok := names[name]; ok {
		return w
	}
	return name
}
