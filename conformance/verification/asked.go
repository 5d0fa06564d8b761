package verification

import (
	"slices"

	"weir.example/weir/mapping/finding"
)

// asks is which finding asks for which fact. A rule that lacks nothing but
// what such a finding asks for is listed as not checked and does not hold a
// second time. Every code here holds or blocks.
var asks = []struct {
	code  finding.Code
	facts []Fact
}{
	{"record-end-missing", facts(HomeDoses, CourseEnd)},
	{"schedule-replacement-start", facts(HomeDoses)},
	{"schedule-zone-unknown", facts(HomeDoses, CourseEnd, Discharge)},
	{"record-element-missing", facts(RunTime, Rate, NeededRate, Interval, Dose, DailyDose, Route, Method, DrugRate, Concentration, Container)},
	{"dose-arithmetic", facts(RunTime, Rate, NeededRate, Interval, Dose, DailyDose, DrugRate, Concentration, Container)}, // in dispute
	{"record-indication-missing", facts(Indication)},
	{"device-missing", facts(Nominal, Warmth)},
	{"record-patient-data-missing", facts(Weight, Height, DosingWeight, ClearanceWeight, DrugRate)},
}

// AskedBy gives the finding, among those of an order, that asks for a fact;
// "" when none does.
func AskedBy(f Fact, found map[finding.Code]bool) finding.Code {
	for _, a := range asks {
		if found[a.code] && slices.Contains(a.facts, f) {
			return a.code
		}
	}
	return ""
}
