package r4

import (
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
)

// Code systems and extensions that are read. Ours begin with canonical.
const (
	canonical  = "https://weir.example/fhir/"
	ours       = canonical + "StructureDefinition/"
	ourCodes   = canonical + "CodeSystem/"
	loinc      = "http://loinc.org"
	snomed     = "http://snomed.info/sct"
	rxnorm     = "http://www.nlm.nih.gov/research/umls/rxnorm"
	ucum       = "http://unitsofmeasure.org"
	v2Type     = "http://terminology.hl7.org/CodeSystem/v2-0203"
	gts        = "http://terminology.hl7.org/CodeSystem/v3-GTSAbbreviation"
	doseType   = "http://terminology.hl7.org/CodeSystem/dose-rate-type"
	structures = "http://hl7.org/fhir/StructureDefinition/"
	fromR5     = "http://hl7.org/fhir/5.0/StructureDefinition/extension-"
	mcodeBasis = "http://hl7.org/fhir/us/mcode/StructureDefinition/mcode-normalization-basis"
)

func concept(n element.Node) order.Concept {
	if n.Kind() != element.Object {
		return order.Concept{}
	}
	c := order.Concept{Text: n.Get("text").Text(), Place: n.Place()}
	for _, k := range n.Get("coding").Each() {
		if k.Kind() == element.Object {
			c.Codings = append(c.Codings, coding(k))
		}
	}
	return c
}

func coding(n element.Node) order.Coding {
	return order.Coding{System: n.Get("system").Text(), Code: n.Get("code").Text(), Display: n.Get("display").Text()}
}

func concepts(list element.Node) []order.Concept {
	var out []order.Concept
	for _, n := range list.Each() {
		if c := concept(n); !c.Absent() {
			out = append(out, c)
		}
	}
	return out
}

// words are the text and all displays of a concept, in lower case.
func words(c order.Concept) string {
	parts := []string{c.Text}
	for _, k := range c.Codings {
		parts = append(parts, k.Display)
	}
	return strings.ToLower(strings.Join(parts, " "))
}

func identifier(n element.Node) order.Identifier {
	if n.Kind() != element.Object {
		return order.Identifier{}
	}
	id := order.Identifier{System: n.Get("system").Text(), Value: n.Get("value").Text(), Place: n.Place()}
	for _, k := range n.Get("type").Get("coding").Each() {
		if k.Get("system").Text() == v2Type && id.Type == "" {
			id.Type = k.Get("code").Text()
		}
	}
	return id
}

// bestIdentifier is the placer's identifier, else the official one, else the
// first with a value.
func bestIdentifier(n element.Node) order.Identifier {
	var best order.Identifier
	rank := 0
	for _, one := range n.Get("identifier").Each() {
		id := identifier(one)
		score := 1
		switch {
		case id.Value == "":
			continue
		case id.Type == "PLAC":
			score = 3
		case one.Get("use").Text() == "official":
			score = 2
		}
		if score > rank {
			best, rank = id, score
		}
	}
	return best
}

// extension is the first extension of that url.
func extension(n element.Node, url string) element.Node {
	for _, e := range n.Get("extension").Each() {
		if e.Get("url").Text() == url {
			return e
		}
	}
	return element.Node{}
}

// extensionValue is the value[x] of the first extension of that url.
func extensionValue(n element.Node, url string) element.Node {
	v, _ := extension(n, url).Choice("value")
	return v
}

// instant reads a date or dateTime member with a tz-code beside it.
func instant(parent element.Node, name string) order.Instant {
	return instantOf(parent.Get(name), parent.Get("_"+name))
}

func instantOf(n, beside element.Node) order.Instant {
	t, dateOnly, ok := parseInstant(n.Text())
	if !ok {
		return order.Instant{}
	}
	return order.Instant{Time: t, DateOnly: dateOnly, Literal: n.Text(), Zone: extensionValue(beside, structures+"tz-code").Text(), Place: n.Place()}
}

// parseInstant reads FHIR's date, dateTime and instant
// (https://hl7.org/fhir/R4/datatypes.html#dateTime). Dates, months and years
// give their first moment in UTC. The server's own zone has no part in it.
func parseInstant(s string) (t time.Time, dateOnly, ok bool) {
	layout := ""
	switch len(s) {
	case 0:
		return time.Time{}, false, false
	case 4:
		layout = "2006"
	case 7:
		layout = "2006-01"
	case 10:
		layout = "2006-01-02"
	default:
		t, err := time.ParseInLocation(time.RFC3339Nano, s, time.UTC)
		return t, false, err == nil
	}
	t, err := time.ParseInLocation(layout, s, time.UTC)
	return t, true, err == nil
}

// after reports whether the instant lies after the clock. A date lies after
// it when it has not begun anywhere on Earth (UTC+14). Nothing else is asked of
// the clock: see ReadStored.
func (r *reader) after(i order.Instant) bool {
	if i.Absent() {
		return false
	}
	from := i.Time
	if i.DateOnly {
		from = from.Add(-14 * time.Hour)
	}
	if !from.After(r.now) {
		return false
	}
	if r.until.IsZero() || from.Before(r.until) {
		r.until = from
	}
	return true
}

// firstInstant is the first member that is present.
func firstInstant(n element.Node, names ...string) order.Instant {
	for _, name := range names {
		node := n
		parts := strings.Split(name, ".")
		for _, p := range parts[:len(parts)-1] {
			node = node.Get(p)
		}
		if i := instant(node, parts[len(parts)-1]); !i.Absent() {
			return i
		}
	}
	return order.Instant{}
}
