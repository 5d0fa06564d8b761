package r4

import (
	"strings"
	"unicode"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// compareIdentities compares every Patient resource of the person, and the
// words orders use for them, with the record in use.
func (c *caseScope) compareIdentities() {
	main := c.person.resources[0]
	for _, other := range c.person.resources[1:] {
		c.compareIdentity(main, other)
	}
	for _, s := range c.mine {
		c.compareNumber(s.subject().Get("identifier"))
		if s.kind == "MedicationRequest" {
			c.compareDisplay(s.node.Get("subject").Get("display"))
		}
	}
}

func (c *caseScope) compareIdentity(main, other *resource) {
	a, b := main.node, other.node
	bornA, bornB := a.Get("birthDate"), b.Get("birthDate")
	if bornA.Exists() && bornB.Exists() && !agreeingDates(bornA.Text(), bornB.Text()) {
		c.conflict("identity-conflict", bornB, bornB.Text(), bornA.Text(), "two records of one patient have different birth dates", bornA)
	}
	if ga, gb := a.Get("gender"), b.Get("gender"); ga.Exists() && gb.Exists() && ga.Text() != gb.Text() {
		c.conflict("identity-conflict", gb, gb.Text(), ga.Text(), "two records of one patient state a different sex", ga)
	}
	if contradictingIdentifier(a, b) && !isReplaced(other) {
		c.conflict("identity-conflict", b.Get("identifier"), bestIdentifier(b).Value, bestIdentifier(a).Value,
			"two records of one patient have different numbers in one system", a.Get("identifier"))
	}
	na, nb := patientName(a), patientName(b)
	if !na.Exists() || !nb.Exists() || humanName(na) == humanName(nb) {
		return
	}
	code := finding.Code("identity-name-variant")
	if sameName(a, b) && bornA.Text() == bornB.Text() {
		code += "-minor"
	}
	c.conflict(code, nb, humanName(nb), humanName(na), "two records of one patient differ in the name", na)
}

// compareNumber: the number beside a reference to the patient must be one of
// the patient's, when the patient has any of that system. An order that points
// at one patient and names the number of another may be either's.
func (c *caseScope) compareNumber(id element.Node) {
	system, value := id.Get("system").Text(), id.Get("value").Text()
	if system == "" || value == "" {
		return
	}
	var other element.Node
	for _, p := range c.person.resources {
		for _, i := range p.node.Get("identifier").Each() {
			switch {
			case i.Get("system").Text() != system:
			case i.Get("value").Text() == value:
				return
			default:
				other = i.Get("value")
			}
		}
	}
	if other.Exists() {
		c.conflict("identity-conflict", id.Get("value"), value, other.Text(), "what refers to the patient names the number of somebody else", other)
	}
}

// compareDisplay: the words beside an order's reference to the patient must
// hold the family name.
func (c *caseScope) compareDisplay(display element.Node) {
	p := c.kase.Patient
	if display.Text() == "" || p.Family == "" {
		return
	}
	said := map[string]bool{}
	for _, w := range nameWords(display.Text()) {
		said[w] = true
	}
	for _, w := range nameWords(p.Family) {
		if !said[w] {
			c.kase.Patient.Conflicts = append(c.kase.Patient.Conflicts, finding.Finding{Code: "identity-name-variant", Place: display.Place(),
				Observed: display.Text(), Expected: strings.Join(append(append([]string{}, p.Given...), p.Family), " "),
				Detail: "the words an order uses for the patient lack the family name", Evidence: []string{p.NamePlace.Expression}})
			return
		}
	}
}

func (c *caseScope) conflict(code finding.Code, at element.Node, observed, expected, detail string, other element.Node) {
	c.kase.Patient.Conflicts = append(c.kase.Patient.Conflicts, finding.Finding{Code: code, Place: at.Place(), Observed: observed,
		Expected: expected, Detail: detail, Evidence: []string{other.Expression()}})
}

// agreeingDates: a year or a month agrees with any date in it.
func agreeingDates(a, b string) bool { return strings.HasPrefix(a, b) || strings.HasPrefix(b, a) }

// sameName reports whether two Patients have the same family and first given
// name, case, accents and hyphens apart; an initial stands for its name.
func sameName(a, b element.Node) bool {
	x, y := patientName(a), patientName(b)
	fx, fy := folded(x.Get("family").Text()), folded(y.Get("family").Text())
	if fx == "" || fx != fy {
		return false
	}
	gx, gy := folded(x.Get("given").At(0).Text()), folded(y.Get("given").At(0).Text())
	return gx == gy || len(gx) == 1 && strings.HasPrefix(gy, gx) || len(gy) == 1 && strings.HasPrefix(gx, gy)
}

func folded(s string) string { return strings.Join(nameWords(s), "") }

// nameWords splits a name into lower-case words without accents of the
// Latin letters that names are most often retyped without.
func nameWords(s string) []string {
	s = accents.Replace(strings.ToLower(s))
	return strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) })
}

var accents = strings.NewReplacer("á", "a", "à", "a", "â", "a", "ä", "a", "ã", "a", "å", "a", "ç", "c", "č", "c", "é", "e", "è", "e",
	"ê", "e", "ë", "e", "í", "i", "ì", "i", "î", "i", "ï", "i", "ñ", "n", "ó", "o", "ò", "o", "ô", "o", "ö", "o", "õ", "o", "ø", "o",
	"š", "s", "ú", "u", "ù", "u", "û", "u", "ü", "u", "ý", "y", "ž", "z", "ł", "l", "'", "", "’", "")
