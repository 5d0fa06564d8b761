package r4

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// readPatient fills who the orders are for, from the Patient resource that
// is in use, and compares the others that describe the same person.
func (c *caseScope) readPatient() {
	p := &c.kase.Patient
	if len(c.person.resources) == 0 {
		c.readAbsentPatient()
		return
	}
	s := c.person.resources[0]
	for _, o := range c.person.resources {
		o.used = true
	}
	n := s.node
	p.Ref, p.Place = s.reference(), n.Place()
	if mr := medicalRecordNumber(n); mr.Value != "" {
		p.Ref.Identifier = mr
	}
	for _, id := range n.Get("identifier").Each() {
		if i := identifier(id); i.Value != "" {
			p.Identifiers = append(p.Identifiers, i)
		}
	}
	if name := patientName(n); name.Exists() {
		p.Family, p.NamePlace = name.Get("family").Text(), name.Place()
		for _, g := range name.Get("given").Each() {
			p.Given = append(p.Given, g.Text())
		}
		if p.Family == "" && len(p.Given) == 0 {
			p.Family = name.Get("text").Text()
		}
	}
	p.BirthDate = instant(n, "birthDate")
	if v := extensionValue(n.Get("_birthDate"), structures+"patient-birthTime"); v.Exists() {
		p.BirthTime = instantOf(v, element.Node{})
	}
	p.Gender = n.Get("gender").Text()
	p.Deceased = n.Get("deceasedBoolean").Literal() == "true" || n.Get("deceasedDateTime").Exists()
	p.Inactive = n.Get("active").Literal() == "false"
	p.Phones = phones(n)
	for _, a := range n.Get("address").Each() {
		p.Addresses = append(p.Addresses, address(a))
	}
	for _, k := range n.Get("contact").Each() {
		p.Contacts = append(p.Contacts, contact(k))
	}
	for _, k := range n.Get("communication").Each() {
		if l := concept(k.Get("language")); !l.Absent() {
			p.Languages = append(p.Languages, l.Name())
		}
	}
	if m := unknownModifier(n); m.Exists() {
		c.fault("record-modifier-unknown", m, "a modifier this program does not know", "none, or the meaning from the sender",
			"the patient's record carries a modifier that may change its meaning")
	}
	c.compareIdentities()
}

// readAbsentPatient keeps what the order says of a patient that the document
// does not hold.
func (c *caseScope) readAbsentPatient() {
	p := &c.kase.Patient
	ref := c.person.ref
	p.Place = ref.Place()
	if !ref.Exists() {
		return
	}
	p.Ref = c.reference(ref, c.person.from)
	if p.Ref.Identifier.Value != "" {
		p.Identifiers = []order.Identifier{p.Ref.Identifier}
	}
	if d := ref.Get("display").Text(); d != "" {
		p.Family, p.NamePlace = d, ref.Get("display").Place()
	}
}

func medicalRecordNumber(n element.Node) order.Identifier {
	for _, one := range n.Get("identifier").Each() {
		if id := identifier(one); id.Type == "MR" && id.Value != "" {
			return id
		}
	}
	return bestIdentifier(n)
}

// patientName prefers use official, then usual, then the first whose period
// has not ended, never a maiden or old name while another is there.
func patientName(n element.Node) element.Node {
	names := n.Get("name").Each()
	for _, use := range []string{"official", "usual"} {
		for _, name := range names {
			if name.Get("use").Text() == use && !name.Get("period").Get("end").Exists() {
				return name
			}
		}
	}
	for _, name := range names {
		if u := name.Get("use").Text(); u != "old" && u != "maiden" && !name.Get("period").Get("end").Exists() {
			return name
		}
	}
	return n.Get("name").At(0)
}

// phones are the telephone numbers in the order sent; those marked old are
// left out.
func phones(n element.Node) []order.Line {
	var out []order.Line
	for _, t := range n.Get("telecom").Each() {
		s := t.Get("system").Text()
		if (s == "phone" || s == "sms") && t.Get("use").Text() != "old" && t.Get("value").Text() != "" && !t.Get("period").Get("end").Exists() {
			out = append(out, order.Line{Words: t.Get("value").Text(), Kind: "phone", Place: t.Get("value").Place()})
		}
	}
	return out
}

func phone(n element.Node) string {
	if list := phones(n); len(list) > 0 {
		return list[0].Words
	}
	return ""
}

func address(a element.Node) order.Address {
	out := order.Address{Use: a.Get("use").Text(), Type: a.Get("type").Text(), State: a.Get("state").Text(), City: a.Get("city").Text(),
		PostalCode: a.Get("postalCode").Text(), Country: a.Get("country").Text(), Place: a.Place(),
		Zone: extensionValue(a, ours+"home-time-zone").Text(), From: instant(a.Get("period"), "start"), To: instant(a.Get("period"), "end")}
	if out.Zone == "" {
		out.Zone = extensionValue(a, structures+"tz-code").Text()
	}
	for _, l := range a.Get("line").Each() {
		out.Lines = append(out.Lines, l.Text())
	}
	return out
}

func contact(k element.Node) order.Line {
	var parts []string
	for _, rel := range k.Get("relationship").Each() {
		if name := concept(rel).Name(); name != "" {
			parts = append(parts, name)
		}
	}
	if name := humanName(k.Get("name")); name != "" {
		parts = append(parts, name)
	}
	if p := phone(k); p != "" {
		parts = append(parts, p)
	}
	return order.Line{Words: strings.Join(parts, ", "), Kind: "contact", Place: k.Place()}
}

// humanName writes a HumanName: text, else prefix, given, family.
func humanName(n element.Node) string {
	if t := n.Get("text").Text(); t != "" {
		return t
	}
	var parts []string
	for _, member := range []string{"prefix", "given"} {
		for _, g := range n.Get(member).Each() {
			parts = append(parts, g.Text())
		}
	}
	parts = append(parts, n.Get("family").Text())
	parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
	return strings.Join(parts, " ")
}
