package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// naloxoneCode is the RxNorm ingredient of naloxone, as in the drug table.
const naloxoneCode = "7242"

// opioidRuns: an order of an opioid. Its naloxone is asked for by the
// safeguards and not again as a companion.
func opioidRuns(f Facts) bool { return isOpioid(f) }

// asksDoses: the patient asks for doses.
func asksDoses(f Facts) bool {
	return f.order().Controlled != nil || slices.ContainsFunc(f.order().Directions, func(d order.Direction) bool { return d.AsNeeded })
}

// mentioned: one of the words stands on record for this order or patient: in its
// directions, notes, conditions or flags. A word that is denied is an answer
// too ("no sleep apnoea").
func mentioned(f Facts, phrases ...string) bool {
	var texts []string
	for _, d := range f.order().Directions {
		texts = append(texts, d.Text)
	}
	for _, l := range f.order().Lines {
		texts = append(texts, l.Words)
	}
	for _, c := range slices.Concat(f.kase().Conditions, f.kase().Flags) {
		texts = append(texts, c.Name())
	}
	text := " " + strings.Join(wordsOf(strings.ToLower(strings.Join(texts, " . "))), " ") + " "
	return slices.ContainsFunc(phrases, func(p string) bool { return strings.Contains(text, " "+p+" ") })
}

// agreed: the answer is there and is not no.
func agreed(f Facts, name string) bool {
	a, ok := answered(f, name)
	return ok && !isNo(a)
}

// isNo: the answer denies, in words or by SNOMED CT (373067005, from memory).
func isNo(a order.Answer) bool {
	denied := a.Value.Code("http://snomed.info/sct") == "373067005"
	first := wordsOf(strings.ToLower(a.Text))
	return denied || len(first) > 0 && slices.Contains([]string{"no", "not", "none", "false", "never", "failed"}, first[0])
}

// denied tells an answer of no from none.
func denied(f Facts, name string) string {
	if a, ok := answered(f, name); ok && isNo(a) {
		return " (the answer on record is no)"
	}
	return ""
}

// naloxoneThere: ordered, taken home, among the supplies, or said to be there.
func naloxoneThere(f Facts) bool {
	named := func(c order.Concept) bool {
		w := wordsOf(strings.ToLower(c.Name()))
		return slices.Contains(w, "naloxone") && !slices.Contains(w, "buprenorphine")
	}
	k := f.kase()
	return agreed(f, "naloxone-at-home") || goesAlong(f, naloxoneCode, []string{"naloxone"}) ||
		slices.ContainsFunc(slices.Concat(k.Related, k.Orders), func(o order.Order) bool { return stands(o.Status) && named(o.Drug.Concept) }) ||
		slices.ContainsFunc(k.Medicines, func(m order.Medicine) bool { return stands(m.Status) && named(m.Drug) }) ||
		slices.ContainsFunc(k.Supplies, func(s order.Supply) bool { return named(order.Concept{Text: s.Text}) })
}

// opioidSafeguards: row q3. Everything that is missing is named in one
// finding.
func opioidSafeguards(f Facts) []finding.Finding {
	var missing []string
	need := func(there bool, what string) {
		if !there {
			missing = append(missing, what)
		}
	}
	naive, tolerant := exposure(f)
	_, asked := answered(f, "opioid-status")
	need(naive || tolerant || asked, "opioid-naive or opioid-tolerant")
	_, asked = answered(f, "sleep-apnea")
	need(asked || mentioned(f, "sleep apnea", "sleep apnoea"), "whether the patient has sleep apnoea")
	_, asked = answered(f, "sedatives")
	need(asked || mentioned(f, "benzodiazepine", "benzodiazepines", "sedative", "sedatives"), "whether the patient takes benzodiazepines or other sedatives")
	need(naloxoneThere(f), "naloxone at home"+denied(f, "naloxone-at-home"))
	o := f.order()
	if asksDoses(f) {
		need(agreed(f, "patient-only-button") || mentioned(f, "only the patient", "patient only", "only by the patient"), "that only the patient presses the button"+denied(f, "patient-only-button"))
		if c := o.Controlled; c != nil {
			need(c.Demand != nil, "the dose on demand")
			need(c.Lockout != nil, "the lockout")
		}
	}
	if isPump(f) || asksDoses(f) {
		_, set := o.Device.Parameter("concentration")
		need(set, "the concentration set in the pump, to compare with the bag")
	}
	if len(missing) == 0 {
		return nil
	}
	place := o.Place
	if o.Controlled != nil && o.Controlled.Place.Expression != "" {
		place = o.Controlled.Place
	}
	return here(place, "not on record: "+strings.Join(missing, "; "), "each of them recorded before the first release")
}
