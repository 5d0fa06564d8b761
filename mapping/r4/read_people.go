package r4

import (
	"regexp"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// phonePattern finds a telephone number in the words of a role.
var phonePattern = regexp.MustCompile(`\+?[0-9][0-9 ().-]{6,}[0-9]`)

// readPeople reads the care team, related persons, and who the hospital says
// manages the care (https://hl7.org/fhir/R4/careteam.html).
func (c *caseScope) readPeople() {
	for _, s := range c.mineOf("CareTeam") {
		if st := s.node.Get("status").Text(); st != "" && st != "active" && st != "proposed" {
			s.used, s.why = false, "its status is "+quoted(st)
			continue
		}
		teamPhone := phone(s.node)
		for _, p := range s.node.Get("participant").Each() {
			if end := instant(p.Get("period"), "end"); !end.Absent() && !c.after(end) {
				c.notUsed(p, "the person's part in the care has ended")
				continue
			}
			person := c.personAtReference(p.Get("member"), s)
			person.Place = p.Place()
			for _, role := range concepts(p.Get("role")) {
				if number := phonePattern.FindString(role.Text); number != "" {
					person.Phone = number
				}
				if code := role.Code(ourCodes + "care-role"); code != "" {
					person.Roles = append(person.Roles, code)
				} else {
					person.Roles = append(person.Roles, role.Name())
				}
			}
			if person.Phone == "" {
				person.Phone = teamPhone
			}
			c.kase.People = append(c.kase.People, person)
		}
	}
	for _, s := range c.mineOf("RelatedPerson") {
		p := order.Person{Name: humanName(s.node.Get("name").At(0)), Phone: phone(s.node), Ref: s.reference(), Place: s.node.Place(), Roles: []string{"caregiver"}}
		for _, r := range concepts(s.node.Get("relationship")) {
			p.Roles = append(p.Roles, r.Name())
		}
		c.kase.People = append(c.kase.People, p)
	}
	for _, s := range c.mineOf("EpisodeOfCare") {
		if m := s.node.Get("careManager"); m.Exists() && s.node.Get("status").Text() == "active" {
			p := c.personAtReference(m, s)
			p.Roles, p.Place = append(p.Roles, "care manager"), m.Place()
			c.kase.People = append(c.kase.People, p)
		}
	}
}

// personAtReference reads name, telephone and specialty of whom a Reference
// names: a PractitionerRole with its Practitioner and Organization, or any of
// them alone.
func (r *reader) personAtReference(ref element.Node, from *resource) order.Person {
	if !ref.Exists() {
		return order.Person{}
	}
	p := order.Person{Name: ref.Get("display").Text(), Ref: r.reference(ref, from), Place: ref.Place()}
	t := r.touch(ref, from)
	if t == nil {
		return p
	}
	p.Phone = phone(t.node)
	switch t.kind {
	case "PractitionerRole":
		for _, s := range concepts(t.node.Get("specialty")) {
			p.Specialty = firstText(p.Specialty, s.Name())
		}
		inner := t.node.Get("practitioner")
		if who := r.touch(inner, t); who != nil {
			p.Name = firstText(p.Name, humanName(who.node.Get("name").At(0)))
			p.Phone = firstText(p.Phone, phone(who.node))
		}
		p.Name = firstText(p.Name, inner.Get("display").Text())
		if org := r.touch(t.node.Get("organization"), t); org != nil {
			p.Name = firstText(p.Name, org.node.Get("name").Text())
			p.Phone = firstText(p.Phone, phone(org.node))
		}
	case "Organization", "CareTeam":
		p.Name = firstText(p.Name, t.node.Get("name").Text())
	case "Device":
		p.Name = firstText(p.Name, t.node.Get("deviceName").At(0).Get("name").Text())
	default:
		p.Name = firstText(p.Name, humanName(t.node.Get("name").At(0)))
		for _, q := range t.node.Get("qualification").Each() {
			p.Specialty = firstText(p.Specialty, concept(q.Get("code")).Name())
		}
	}
	return p
}
