package r4

import (
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
)

// readRole decides what the order is: an infusion to be judged, or a fact
// beside one. What is not recognised as anything else is an infusion: an
// order that says nothing of its route is judged and found wanting, never
// passed over.
func (o *orderScope) readRole() {
	out := &o.out
	for _, c := range out.Categories {
		if role := c.Code(ourCodes + "order-role"); role != "" {
			out.Role = role
			return
		}
	}
	switch {
	case o.isLockOrFlush("lock", "locked", "locking"):
		out.Role = "lock"
	case o.isLockOrFlush("flush", "flushes", "flushing"):
		out.Role = "flush"
	case o.isOral():
		out.Role = "oral"
	default:
		out.Role = "infusion"
	}
}

// isLockOrFlush: heparin or saline alone, and the word. An order with a rate
// or an infusion time is an infusion whatever its words say.
func (o *orderScope) isLockOrFlush(list ...string) bool {
	for _, s := range o.out.Stated {
		if s.Name == "rate" || s.Name == "drugRate" || s.Name == "drugRatePerKg" || s.Name == "duration" {
			return false
		}
	}
	if len(activeOnes(o.out.Drug.Ingredients)) > 1 {
		return false
	}
	drug := o.out.Drug.Name + " " + words(o.out.Drug.Concept)
	if !strings.Contains(drug, "heparin") && !strings.Contains(drug, "saline") && !strings.Contains(drug, "sodium chloride") && !strings.Contains(drug, "citrate") {
		return false
	}
	return o.says(list...)
}

// says reports whether the words of the drug or of the instructions hold one
// of the words as a whole word.
func (o *orderScope) says(list ...string) bool {
	return slices.ContainsFunc(o.out.Lines, func(l order.Line) bool { return hasWord(l.Words, list...) })
}

var wordPattern = regexp.MustCompile(`[\p{L}]+`)

func hasWord(text string, list ...string) bool {
	for _, w := range wordPattern.FindAllString(strings.ToLower(text), -1) {
		if slices.Contains(list, w) {
			return true
		}
	}
	return false
}

// isOral: a route that is neither vein nor skin nor muscle, by code or by
// words, and neither a rate nor an infusion time.
func (o *orderScope) isOral() bool {
	for _, s := range o.out.Stated {
		if s.Name == "rate" || s.Name == "drugRate" || s.Name == "drugRatePerKg" || s.Name == "duration" {
			return false
		}
	}
	route := o.out.Route
	if c := route.Code(snomed); c != "" {
		if _, known := otherRoutes[c]; known {
			return true
		}
		if _, known := parenteralRoutes[c]; known {
			return false
		}
	}
	if !route.Absent() {
		return hasWord(words(route), otherRouteWords...)
	}
	return hasWord(o.out.Drug.Form, formWords...) || hasWord(o.out.Drug.Name+" "+words(o.out.Drug.Concept), formWords...) ||
		slices.ContainsFunc(o.out.Directions, func(d order.Direction) bool {
			return hasWord(d.Text, append([]string{"oral", "orally", "mouth", "po"}, formWords...)...) && !hasWord(d.Text, "iv", "intravenous", "intravenously", "infuse", "subcutaneous")
		})
}

// Routes of SNOMED CT. 47625008 and 34206005: R4 examples; the others from
// memory.
var (
	parenteralRoutes = map[string]string{"47625008": "intravenous", "34206005": "subcutaneous", "78421000": "intramuscular",
		"372464004": "intradermal", "255560000": "intravenous", "72607000": "intrathecal", "445769006": "intraosseous", "38239002": "intraperitoneal"}
	otherRoutes = map[string]string{"26643006": "oral", "37161004": "rectal", "6064005": "topical", "46713006": "nasal", "37839007": "sublingual",
		"447694001": "respiratory tract", "127490009": "gastrostomy", "127492001": "nasogastric", "54471007": "buccal", "16857009": "vaginal",
		"54485002": "ophthalmic", "10547007": "otic", "45890007": "transdermal", "417985001": "enteral", "418136008": "gastroenteral", "448598008": "cutaneous"}
	otherRouteWords = []string{"oral", "orally", "mouth", "po", "rectal", "topical", "nasal", "sublingual", "inhalation", "inhaled", "vaginal",
		"ophthalmic", "otic", "transdermal", "enteral", "buccal", "gastrostomy", "nasogastric", "cutaneous"}
	formWords = []string{"tablet", "tablets", "capsule", "capsules", "tab", "tabs", "cap", "caps", "lozenge", "suppository", "cream", "ointment", "inhaler", "drops", "syrup", "patch"}
)
