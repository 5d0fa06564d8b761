package adapter

import (
	"crypto/sha256"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Check refuses an effect that breaks the rules of the port: without an audit
// row, without an id, with a hash that is not that of its bytes, with text
// that a database would change, or with one thing written twice.
func (e Effect) Check() error {
	c := &effectCheck{seen: map[[3]string]bool{}}
	if len(e.Audit) == 0 {
		c.refuse("an effect without an audit row")
	}
	c.at("effect", e.At)
	for _, d := range e.Received {
		c.once("document", d.ID)
		c.at("document", d.At)
		c.texts("document", append([]string{d.Media}, d.Patients...)...)
		if sha256.Sum256(d.Bytes) != d.SHA256 {
			c.refuse("a document whose hash is not that of its bytes")
		}
	}
	for _, r := range e.Resources {
		c.resource(r)
	}
	for _, k := range e.Cases {
		c.once("case", k.Patient)
		c.version("case", k.Version)
		c.at("case", k.Updated)
		if k.Schema < 1 {
			c.refuse("a case without a schema version")
		}
	}
	for _, o := range e.Orders {
		c.once("order", o.Key)
		c.version("order", o.Number)
		c.at("order", o.Updated)
		c.texts("order", o.Version, o.Patient, o.Resource, o.Drug, o.State, o.Verdict, o.Stage, o.Source)
		if o.Change != OrderNew && o.Change != OrderAgain && o.Change != OrderJudged {
			c.refuse("an order without a kind of change")
		}
		if o.Change == OrderAgain && o.Number == 1 {
			c.refuse("an order that goes back to what it never was")
		}
	}
	for _, w := range e.Worksheets {
		c.once("worksheet", w.ID)
		c.version("worksheet", w.Number)
		c.at("worksheet", w.Made)
		c.texts("worksheet", w.Key, w.Patient, w.Stage, w.Verdict)
	}
	for _, m := range e.Outbox {
		c.once("message", m.ID)
		c.at("message", m.Made)
		c.texts("message", m.Kind, m.Target, m.Patient)
	}
	for _, q := range e.Queue {
		c.once("work", q.ID)
		c.at("work", q.Made)
		c.texts("work", q.Kind, q.Patient)
	}
	for _, id := range e.Sent {
		c.once("sent message", id)
	}
	for _, id := range e.Finished {
		c.once("finished work", id)
	}
	if f := e.Fence; f != nil && (f.Job < 1 || f.Attempt < 1) {
		c.refuse("a fence without a job or an attempt")
	}
	for _, r := range e.Replies {
		c.once("reply", r.Key)
		c.at("reply", r.Made)
		c.texts("reply", r.Patient)
	}
	for _, f := range e.Feeds {
		c.once("line of the feed", f.Key)
		c.texts("line of the feed", f.Patient, f.Night)
	}
	for _, k := range e.Seen.Keys {
		c.once("line of the feed", k)
	}
	for _, a := range e.Audit {
		c.audit(a)
	}
	if c.what != "" {
		return &Invalid{What: c.what}
	}
	return nil
}

// Check refuses an audit row that says nothing.
func (a AuditRow) Check() error {
	c := &effectCheck{seen: map[[3]string]bool{}}
	c.audit(a)
	if c.what != "" {
		return &Invalid{What: c.what}
	}
	return nil
}

type effectCheck struct {
	what string // the first fault
	seen map[[3]string]bool
}

func (c *effectCheck) refuse(what string) {
	if c.what == "" {
		c.what = what
	}
}

// once demands an id and that it stands only once in the effect.
func (c *effectCheck) once(kind string, id ...string) {
	key := [3]string{kind}
	copy(key[1:], id)
	if id[0] == "" {
		c.refuse(kind + " without an id")
	}
	if c.seen[key] {
		c.refuse(kind + " twice in one effect")
	}
	c.seen[key] = true
	c.texts(kind, id...)
}

func (c *effectCheck) version(kind string, v int64) {
	if v < 1 {
		c.refuse(kind + " without a version")
	}
}

func (c *effectCheck) at(kind string, t time.Time) {
	if t.IsZero() {
		c.refuse(kind + " without a time")
	}
}

// texts refuses what a database would cut or change.
func (c *effectCheck) texts(kind string, texts ...string) {
	for _, t := range texts {
		if strings.IndexByte(t, 0) >= 0 || !utf8.ValidString(t) {
			c.refuse(kind + " with text that is not UTF-8 or holds a NUL")
		}
	}
}

func (c *effectCheck) resource(r Resource) {
	c.once("resource", r.ID, r.Type)
	if r.Type == "" || strings.ContainsAny(r.Type, ":/") { // or its name could be an address
		c.refuse("resource without a type")
	}
	c.version("resource", r.Version)
	c.at("resource", r.Updated)
	c.texts("resource", r.Patient, r.Source)
	if len(r.JSON) == 0 {
		c.refuse("resource without content")
	}
	for _, i := range r.Identifiers {
		c.texts("identifier", i.System, i.Value)
		if i.Value == "" {
			c.refuse("identifier without a value")
		}
	}
	for _, v := range r.Values {
		c.texts("search value", v.Name, v.System, v.Text)
		if v.Name == "" || v.Low.IsZero() != v.High.IsZero() || v.High.Before(v.Low) {
			c.refuse("search value without a name or with half a span")
		}
	}
}

func (c *effectCheck) audit(a AuditRow) {
	c.once("audit row", a.ID)
	c.at("audit row", a.At)
	c.texts("audit row", a.Action, a.Outcome, a.Agent, a.Patient, a.Entity, a.Request, a.Detail)
	c.texts("audit row", a.Also...)
	if len(a.Also) > 0 && (a.Patient == "" || slices.ContainsFunc(a.Also, func(t string) bool { return t == "" || strings.Contains(t, "\n") })) {
		c.refuse("audit row of several things that are nobody's or have no id")
	}
	if a.Action == "" || a.Agent == "" {
		c.refuse("audit row without an action or an agent")
	}
}
