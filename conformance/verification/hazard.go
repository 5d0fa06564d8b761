package verification

import (
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
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

// sent looks for a kit item among what the document asks to be supplied: by
// code, else by exact words.
func sent(supplies []order.Supply, item string, words ...string) bool {
	for _, s := range supplies {
		if s.Item == item {
			return true
		}
		for _, w := range words {
			if s.Item == "" && strings.Contains(strings.ToLower(s.Text), w) {
				return true
			}
		}
	}
	return false
}

func closedTransferDue(kind string) func(Facts) bool {
	return func(f Facts) bool { return f.hazard().ClosedTransfer == kind }
}

func closedTransfer(f Facts) []finding.Finding {
	if sent(f.kase().Supplies, "closed-transfer", "closed-system", "closed system") {
		return nil
	}
	return here(f.order().Drug.Place, "no closed-system connector among the supplies on record",
		"2 closed-system connectors for each infusion and 1 spare")
}

// wasteful: Table 1 or antineoplastic; for Table 2 the site assesses.
func wasteful(f Facts) bool {
	h := f.hazard()
	return h.Listed == "yes" && (h.Table == "1" || h.Table == "unknown" || h.Antineoplastic == "yes")
}

func spillKit(f Facts) []finding.Finding {
	if sent(f.kase().Supplies, "spill-kit", "spill kit") {
		return nil
	}
	return here(f.order().Drug.Place, "no spill kit among the supplies on record", "a spill kit with the first delivery")
}

func wasteRoute(f Facts) []finding.Finding {
	if sent(f.kase().Supplies, "hazardous-waste-container", "hazardous waste", "waste container") {
		return nil
	}
	return here(f.order().Drug.Place, "no hazardous-waste container among the supplies on record", "a rigid container that holds the device, and who fetches it")
}

func disconnectPlan(f Facts) []finding.Finding {
	for _, s := range f.kase().Services {
		if s.Kind == "visit" && strings.Contains(strings.ToLower(s.Code.Name()), "disconnect") && len(s.When) > 0 && s.Performer != "" {
			return nil
		}
	}
	return here(f.order().Place, "no named visit to disconnect", "a trained person, a time and a route for the waste")
}

func hazardousContinuous(f Facts) bool { return listed(f) && IsContinuous(f.order(), f.quantities()) }
