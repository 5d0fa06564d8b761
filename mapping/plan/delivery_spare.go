package plan

import "weir.example/weir/mapping/quantity"

// SpareRules say how many units go with a delivery beyond the doses it
// covers. The greater of Units and Rate of the doses, rounded up, counts; both
// zero: none. A spare is a unit more to be lost or to end in other hands, so
// there is none of a controlled or a hazardous drug, and none of a drug whose
// hazard nobody has assessed, unless the site says so.
type SpareRules struct {
	Units      int             // at least, of each delivery
	Rate       quantity.Number // fraction of its doses: 0.1
	Controlled bool            // the drug is a controlled substance
	Hazardous  bool            // the drug is hazardous, or not assessed
	Always     bool            // the site's word: also of a controlled or hazardous drug
}

// of is the number of spares for so many doses, and why there are none where
// some were asked for.
func (s SpareRules) of(doses int) (int, string) {
	up, _ := quantity.Int(int64(doses)).Mul(s.Rate).Ceil()
	n := max(s.Units, int(up), 0)
	switch {
	case n == 0 || s.Always:
		return n, ""
	case s.Controlled:
		return 0, "no spare unit: the drug is a controlled substance"
	case s.Hazardous:
		return 0, "no spare unit: the drug is hazardous or not assessed"
	}
	return n, ""
}
