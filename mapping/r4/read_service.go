package r4

import (
	"strconv"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// laboratoryProcedure is SNOMED CT's category of laboratory orders, as US
// Core uses it.
const laboratoryProcedure = "108252007"

// readServices reads laboratory orders, visits and the plan for the line
// (https://hl7.org/fhir/R4/servicerequest.html).
func (c *caseScope) readServices() {
	for _, s := range c.mineOf("ServiceRequest") {
		if !inForce(s) || s.node.Get("doNotPerform").Literal() == "true" {
			s.used, s.why = false, firstText(s.why, "it says what must not be done")
			continue
		}
		c.readServiceRequest(s)
	}
	for _, s := range c.mine {
		code := concept(s.node.Get("code"))
		if s.kind == "Procedure" && code.Code(ourCodes+"access-plan") != "" && s.node.Get("status").Text() == "preparation" && c.usable(s) {
			s.used, s.why = true, ""
			c.kase.Services = append(c.kase.Services, order.Service{Kind: "access-plan", Code: code, Status: "preparation", Ref: s.reference(), Place: s.node.Place()})
		}
	}
	for _, s := range c.mineOf("Appointment") {
		c.readAppointment(s)
	}
	for _, s := range c.mineOf("CarePlan") {
		c.readCarePlan(s)
	}
}

func (c *caseScope) readServiceRequest(s *resource) {
	n := s.node
	v := order.Service{Code: concept(n.Get("code")), Status: n.Get("status").Text(), Ref: s.reference(), Place: n.Place(), Kind: serviceKind(n)}
	for _, ref := range n.Get("basedOn").Each() {
		v.Basis = append(v.Basis, c.nameOf(ref, s))
	}
	c.occurrence(n, &v)
	v.Tests = testsOf(v.Code)
	for _, x := range n.Get("extension").Each() {
		if x.Get("url").Text() != ours+"results-recipient" {
			continue
		}
		ref, _ := x.Choice("value")
		p := c.personAtReference(ref, s)
		v.Recipients = append(v.Recipients, firstText(p.Name, p.Ref.URL, p.Ref.Identifier.Value))
	}
	for _, note := range n.Get("note").Each() {
		v.Recipients = append(v.Recipients, resultsTo(note.Get("text").Text())...)
	}
	v.Recipients = append(v.Recipients, resultsTo(v.Code.Text)...)
	for _, ref := range n.Get("performer").Each() {
		p := c.personAtReference(ref, s)
		v.Performer = firstText(v.Performer, p.Name, p.Ref.URL)
	}
	c.kase.Services = append(c.kase.Services, v)
}

// resultsTo reads "results to …" from words.
func resultsTo(text string) []string {
	_, to, found := strings.Cut(strings.ToLower(text), "results to ")
	if !found {
		return nil
	}
	who := text[len(text)-len(to):]
	who, _, _ = strings.Cut(who, ";")
	return []string{strings.TrimRight(strings.TrimSpace(who), ".")}
}

// serviceKind tells laboratory orders, the plan for the line and visits
// apart.
func serviceKind(n element.Node) string {
	code := concept(n.Get("code"))
	if code.Code(ourCodes+"access-plan") != "" {
		return "access-plan"
	}
	all := words(code)
	for _, k := range concepts(n.Get("category")) {
		if k.Code(snomed) == laboratoryProcedure || hasWord(words(k), "laboratory", "lab") {
			return "laboratory"
		}
		all += " " + words(k)
	}
	switch {
	case hasWord(all, "remove", "removal", "maintain") && accessWords(all) != "":
		return "access-plan"
	case hasWord(all, "nursing", "nurse", "visit", "disconnect", "teaching"):
		return "visit"
	case hasWord(all, "discharge"):
		return "discharge"
	case hasWord(all, "consult", "consultation"):
		return "consult"
	}
	return "other"
}

// occurrence reads when the service is due.
func (c *caseScope) occurrence(n element.Node, v *order.Service) {
	if i := instant(n, "occurrenceDateTime"); !i.Absent() {
		v.When = append(v.When, i)
	}
	if p := n.Get("occurrencePeriod"); p.Exists() {
		v.From, v.To = instant(p, "start"), instant(p, "end")
	}
	t := n.Get("occurrenceTiming")
	events := t.Get("event").Each()
	for k, e := range events {
		if i := instantOf(e, t.Get("_event").At(k)); !i.Absent() {
			v.When = append(v.When, i)
		}
	}
	repeat := t.Get("repeat")
	if b := repeat.Get("boundsPeriod"); b.Exists() {
		v.From, v.To = instant(b, "start"), instant(b, "end")
	}
	for _, d := range repeat.Get("dayOfWeek").Each() {
		v.DaysOfWeek = append(v.DaysOfWeek, d.Text())
	}
	v.EveryDays, v.Every = everyDays(repeat), everySpan(repeat)
	v.Repeats = repeatWords(v.EveryDays, v.DaysOfWeek, concept(t.Get("code")).Name())
}

// everyDays is the whole number of days from one occurrence to the next, 0
// when there is none.
func everyDays(repeat element.Node) int {
	frequency, _ := whole(repeat, "frequency")
	frequency = max(frequency, 1)
	period, _ := whole(repeat, "period")
	days := period * map[string]int{"d": 1, "wk": 7}[repeat.Get("periodUnit").Text()]
	if days%frequency != 0 {
		return 0
	}
	return days / frequency
}

var dayNames = map[string]string{"mon": "Monday", "tue": "Tuesday", "wed": "Wednesday", "thu": "Thursday", "fri": "Friday", "sat": "Saturday", "sun": "Sunday"}

func repeatWords(days int, on []string, text string) string {
	var s string
	switch days {
	case 0:
		s = text
	case 1:
		s = "every day"
	case 7:
		s = "every week"
	default:
		s = "every " + strconv.Itoa(days) + " days"
	}
	var names []string
	for _, d := range on {
		names = append(names, dayNames[d])
	}
	if len(names) > 0 {
		s = strings.TrimSpace(s + " on " + strings.Join(names, ", "))
	}
	return s
}

// readAppointment reads a booked visit. One that says discharge is read by
// readDischarges.
func (c *caseScope) readAppointment(s *resource) {
	n := s.node
	st := n.Get("status").Text()
	switch st {
	case "cancelled", "noshow", "entered-in-error":
		s.used, s.why = false, "its status is "+quoted(st)
		return
	}
	v := order.Service{Kind: "visit", Status: st, Ref: s.reference(), Place: n.Place(), From: instant(n, "start"), To: instant(n, "end")}
	if !v.From.Absent() {
		v.When = []order.Instant{v.From}
	}
	v.Code = concept(n.Get("serviceType").At(0))
	if v.Code.Absent() {
		v.Code = concept(n.Get("appointmentType"))
	}
	if d := n.Get("description"); v.Code.Text == "" && d.Text() != "" {
		v.Code.Text, v.Code.Place = d.Text(), d.Place()
	}
	switch w := words(v.Code); {
	case hasWord(w, "discharge"):
		v.Kind = "discharge"
	case hasWord(w, "lab", "laboratory", "blood"):
		v.Kind = "laboratory-visit"
	case hasWord(w, "delivery", "driver"):
		v.Kind = "delivery"
	}
	for _, ref := range n.Get("basedOn").Each() {
		v.Basis = append(v.Basis, c.nameOf(ref, s))
	}
	c.kase.Services = append(c.kase.Services, v)
}

// readCarePlan reads activities that are stated in the plan itself.
func (c *caseScope) readCarePlan(s *resource) {
	read := false
	for _, a := range s.node.Get("activity").Each() {
		d := a.Get("detail")
		code := concept(d.Get("code"))
		if code.Text == "" {
			code.Text = d.Get("description").Text()
		}
		if code.Absent() {
			continue
		}
		v := order.Service{Kind: serviceKind(d), Code: code, Status: d.Get("status").Text(), Ref: s.reference(), Place: d.Place(), Tests: testsOf(code)}
		if v.Kind == "other" && hasWord(words(code), "remove", "removal") && accessWords(words(code)) != "" {
			v.Kind = "access-plan"
		}
		c.kase.Services = append(c.kase.Services, v)
		read = true
	}
	if !read {
		s.used, s.why = false, "it holds no activity in data"
	}
}
