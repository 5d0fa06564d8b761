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
}

// Name is a NAME of the outside contract as people read it. A name that is
// not in the contract comes back as it is.
func Name(name string) string {
	if w, ok := names[name]; ok {
		return w
	}
	return name
}
