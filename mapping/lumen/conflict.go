package lumen

// explainer finds the conflict and the change of a problem that is
// impossible. Each question it asks is a search of its own on a part of the
// budget that is left; one that ends undecided counts as neither.
type explainer struct {
	p      *Problem
	budget *budget
	unsure bool // a question since the last reset was not decided
}

// possible asks for a placement of a variant; nil also when not decided.
func (e *explainer) possible(v variant) (*model, *solution) {
	part := min(e.budget.left, max(e.budget.left/8, 200))
	b := &budget{left: part}
	m := e.p.model(v)
	found, done := m.decide(b)
	e.budget.left -= b.used
	e.budget.used += b.used
	if !done {
		e.unsure = true
	}
	return m, found
}

// impossible: it was proved that the variant has no placement.
func (e *explainer) impossible(v variant) bool {
	before := e.unsure
	e.unsure = false
	_, found := e.possible(v)
	proved := found == nil && !e.unsure
	e.unsure = before || e.unsure
	return proved
}

func (e *explainer) explain(r *Result) {
	v := e.conflict()
	r.Conflict.Minimal = !e.unsure
	items := e.p.items()
	for i, x := range items {
		if v.active&(1<<i) != 0 {
			r.Conflict.Items = append(r.Conflict.Items, x.name)
		}
	}
	for _, k := range e.p.rules(v.active) {
		if v.waived[k] {
			continue
		}
		rule := Rule{Kind: k.kind, Of: []string{items[k.a].name}}
		if k.kind == Together {
			rule.Of = append(rule.Of, items[k.b].name)
			rule.Meeting = e.p.meets(k.a, k.b)
		}
		r.Conflict.Rules = append(r.Conflict.Rules, rule)
	}
	e.change(r, v.active)
}

// conflict leaves out item after item, then rule after rule, for as long as
// there is still no placement. What is left then is needed, each part of it:
// leaving out more never makes a day impossible that was possible, so a part
// that was needed once stays needed. Procedures are tried first, so that a
// conflict of infusions is told before one of a draw.
func (e *explainer) conflict() variant {
	n := len(e.p.items())
	v := variant{active: 1<<n - 1, waived: map[ruleKey]bool{}}
	for i := n - 1; i >= 0; i-- {
		w := v
		w.active &^= 1 << i
		if w.active != 0 && e.impossible(w) {
			v = w
		}
	}
	for _, k := range e.p.rules(v.active) {
		v.waived[k] = true
		if !e.impossible(v) {
			delete(v.waived, k)
		}
	}
	return v
}

// rules lists the rules that some items are under, those first that say the
// least to a reader when they are named.
func (p *Problem) rules(active uint32) []ruleKey {
	items := p.items()
	var out []ruleKey
	each := func(kind RuleKind, has func(a *Infusion, d *Procedure) bool) {
		for i, x := range items {
			if active&(1<<i) != 0 && has(x.infusion, x.procedure) {
				out = append(out, ruleKey{kind, i, -1})
			}
		}
	}
	infusion := func(has func(a *Infusion) bool) func(*Infusion, *Procedure) bool {
		return func(a *Infusion, _ *Procedure) bool { return a != nil && has(a) }
	}
	procedure := func(has func(d *Procedure) bool) func(*Infusion, *Procedure) bool {
		return func(_ *Infusion, d *Procedure) bool { return d != nil && has(d) }
	}
	each(Fluid, infusion(func(a *Infusion) bool { return len(a.Avoids) > 0 }))
	each(Distance, infusion(func(a *Infusion) bool { return a.least(p.cycle()) > 0 }))
	each(StopBefore, procedure(func(d *Procedure) bool { return d.Stop > 0 }))
	each(TroughTime, procedure(func(d *Procedure) bool { return d.Trough != nil }))
	each(OtherDrug, procedure(func(d *Procedure) bool { return len(d.Measures) > 0 }))
	each(AskedLumen, func(a *Infusion, d *Procedure) bool {
		return a != nil && len(a.Lumens) > 0 || d != nil && len(d.Lumens) > 0
	})
	each(Window, func(a *Infusion, d *Procedure) bool { return d != nil || !a.Continuous })
	each(DrawLumen, procedure(func(d *Procedure) bool { return d.Blood }))
	for i := range p.Infusions {
		for j := i + 1; j < len(p.Infusions); j++ {
			if active&(1<<i) != 0 && active&(1<<j) != 0 && p.meets(i, j) != Compatible {
				out = append(out, ruleKey{Together, i, j})
			}
		}
	}
	each(NeverPause, infusion(func(a *Infusion) bool { return a.Continuous }))
	each(NoBolus, infusion(func(a *Infusion) bool { return a.NoBolus }))
	each(OwnLine, infusion(func(a *Infusion) bool { return a.OwnLine }))
	return out
}

func (p *Problem) meets(i, j int) Meeting {
	for _, x := range p.Pairs {
		if a, b := p.infusion(x.A), p.infusion(x.B); min(a, b) == min(i, j) && max(a, b) == max(i, j) {
			return x.Meeting
		}
	}
	return Unknown
}
