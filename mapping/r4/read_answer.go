package r4

import (
	_ "embed"
	"encoding/json"
	"slices"
	"sync"

	"weir.example/weir/mapping/order"
)

//go:embed answers.json
var answersFile []byte

// question is one thing that may be asked of a patient, or checked for an
// order, with an answer that is no measurement.
type question struct {
	Name, Asks string
	LOINC      []string
}

var questions = sync.OnceValue(func() []question {
	var file struct{ Answers []question }
	if err := json.Unmarshal(answersFile, &file); err != nil {
		panic("mapping/r4: answers.json: " + err.Error())
	}
	return file.Answers
})

func questionOf(c order.Concept) string {
	for _, q := range questions() {
		if c.Code(ourCodes+"patient-fact") == q.Name || c.Code(loinc) != "" && slices.Contains(q.LOINC, c.Code(loinc)) {
			return q.Name
		}
	}
	return ""
}

// solubilityCheck is the task that records a check of calcium and phosphate.
const solubilityCheck = "calcium-phosphate-check"

// readAnswers reads what was asked or checked and has a result, newest first:
// Observations by cs:patient-fact or LOINC, and completed solubility checks.
func (c *caseScope) readAnswers() {
	for _, s := range c.mine {
		switch {
		case s.kind == "Task" && concept(s.node.Get("code")).Code(ourCodes+"task") == solubilityCheck:
			c.readSolubility(s)
		case s.kind == "Observation":
			c.readAnswer(s)
		}
	}
	slices.SortStableFunc(c.kase.Answers, func(a, b order.Answer) int { return b.At.Time.Compare(a.At.Time) })
	for i := range c.kase.Orders {
		c.answeredExposure(&c.kase.Orders[i])
	}
}

// answeredExposure takes opioid-naive or opioid-tolerant from the newest answer
// about the order or about none, where the order itself does not say; one that
// says the other is found. A denial ("not tolerant") says neither.
func (c *caseScope) answeredExposure(o *order.Order) {
	i := slices.IndexFunc(c.kase.Answers, func(a order.Answer) bool {
		return a.Name == "opioid-status" && (a.Focus == "" || a.Focus == o.Ref.URL || a.Focus == o.Key || a.Focus == c.kase.Patient.Ref.URL)
	})
	if i < 0 {
		return
	}
	a := c.kase.Answers[i]
	all := words(order.Concept{Text: a.Text})
	naive, tolerant := hasWord(all, "naive", "naïve"), hasWord(all, "tolerant")
	if naive == tolerant || hasWord(all, "not", "no", "non", "never", "unknown") {
		return
	}
	says := map[bool]string{true: "naive", false: "tolerant"}[naive]
	switch o.PriorExposure {
	case "":
		o.PriorExposure = says
	case "naive", "tolerant":
		if o.PriorExposure != says {
			c.faults = append(c.faults, fault("record-sources-disagree", a.Place, "opioid-"+says, "the order says opioid-"+o.PriorExposure, "two statements about earlier opioids differ"))
		}
	}
}

func (c *caseScope) readAnswer(s *resource) {
	n := s.node
	a := order.Answer{Name: questionOf(concept(n.Get("code"))), At: c.observedAt(s), Value: concept(n.Get("valueCodeableConcept")), Place: n.Place()}
	if a.Name == "" || !c.usable(s) || !c.final(s) {
		return
	}
	if c.after(a.At) {
		s.why = afterClock
		return
	}
	a.Text = firstText(n.Get("valueString").Text(), a.Value.Name())
	if b := n.Get("valueBoolean"); b.Exists() {
		a.Text = map[string]string{"true": "yes", "false": "no"}[b.Literal()]
	}
	faults := len(c.faults)
	if q, ok := c.quantity(n.Get("valueQuantity")); ok && a.Text == "" {
		a.Text = q.literal + " " + q.unit.Code()
	}
	c.faults = c.faults[:faults] // no dose is worked out from it
	if a.Text == "" && len(a.Value.Codings) == 0 {
		s.why = "it has no result"
		return
	}
	for _, from := range []string{"focus", "basedOn"} {
		if ref := n.Get(from).At(0); ref.Exists() && a.Focus == "" {
			a.Focus = c.nameOf(ref, s)
		}
	}
	s.used = true
	c.kase.Answers = append(c.kase.Answers, a)
}

// readSolubility reads a completed check; its output says of which amino acid.
func (c *caseScope) readSolubility(s *resource) {
	n := s.node
	if n.Get("status").Text() != "completed" || !c.usable(s) {
		s.used, s.why = false, "the check is not completed"
		return
	}
	a := order.Answer{Name: "calcium-phosphate-solubility", At: firstInstant(n, "executionPeriod.end", "lastModified"), Focus: c.nameOf(n.Get("focus"), s), Place: n.Place()}
	for _, out := range n.Get("output").Each() {
		a.Text = firstText(a.Text, out.Get("valueString").Text(), concept(out.Get("valueCodeableConcept")).Name())
	}
	if c.after(a.At) {
		s.used, s.why = false, afterClock
		return
	}
	s.used, s.why = true, ""
	c.kase.Answers = append(c.kase.Answers, a)
}
