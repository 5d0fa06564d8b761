package verification

import (
	"fmt"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

func listed(f Facts) bool { return f.hazard().Listed == "yes" }

func hazardListed(f Facts) []finding.Finding {
	h := f.hazard()
	return here(f.order().Drug.Place, "listed as hazardous: "+h.Edition+", table "+h.Table+", antineoplastic "+h.Antineoplastic,
		"handled as hazardous from preparation to waste")
}

func hazardUnassessed(f Facts) []finding.Finding {
	h := f.hazard()
	if h.Listed != "unassessed" {
		return nil
	}
	return here(f.order().Drug.Place, h.Says, "a pharmacist's assessment: listed, or not listed in a named edition")
}

func closedTransferDue(kind string) func(Facts) bool {
	return func(f Facts) bool { return f.hazard().ClosedTransfer == kind }
}

// closedTransfer: one connector at connect and one at disconnect for each dose
// of the first delivery. One that is missing is as bad as both.
func closedTransfer(f Facts) []finding.Finding {
	need := int64(2)
	if f.Has(Plan) && len(f.plan().Deliveries) > 0 {
		need *= int64(max(1, f.plan().Deliveries[0].Units))
	}
	have := quantity.Int(0)
	for _, s := range f.kase().Supplies {
		if matches(s, "closed-transfer", closedWords) {
			have = have.Add(s.Quantity.Mul(quantity.Int(inPairs(s))))
		}
	}
	if !have.Less(quantity.Int(need)) {
		return nil
	}
	found := "no closed-system connector among the supplies on record"
	if have.Sign() > 0 {
		found = notation.Number(have) + " closed-system connector" + map[bool]string{true: "", false: "s"}[have.Equal(quantity.Int(1))] + " among the supplies on record"
	}
	return here(f.order().Drug.Place, found, fmt.Sprintf("%d closed-system connectors: one at connect and one at disconnect of each infusion of the first delivery; 1 spare", need))
}

// wasteful: Table 1 or antineoplastic; for Table 2 the site assesses.
func wasteful(f Facts) bool {
	h := f.hazard()
	return h.Listed == "yes" && (h.Table == "1" || h.Table == "unknown" || h.Antineoplastic == "yes")
}

func spillKit(f Facts) []finding.Finding {
	if sentAs(f, "spill-kit", spillWords) {
		return nil
	}
	return here(f.order().Drug.Place, "no spill kit among the supplies on record", "a spill kit with the first delivery")
}

func wasteRoute(f Facts) []finding.Finding {
	if sentAs(f, "hazardous-waste-container", wasteWords) {
		return nil
	}
	return here(f.order().Drug.Place, "no hazardous-waste container among the supplies on record", "a rigid container that holds the device, and who fetches it")
}

func hazardousContinuous(f Facts) bool { return listed(f) && IsContinuous(f.order(), f.quantities()) }
