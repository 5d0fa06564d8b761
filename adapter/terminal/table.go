package terminal

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// Table writes the answers for a terminal. Times are in the patient's zone.
func Table(answers []adapter.Answer, color bool) string {
	p := &page{color: color}
	for i, a := range answers {
		if i > 0 {
			p.line("")
			p.line(strings.Repeat("=", width))
		}
		for _, f := range a.Faults {
			refused(p, f)
		}
		for j, w := range a.Worksheets {
			if j > 0 {
				p.line("")
				p.line(strings.Repeat("-", width))
			}
			sheet(p, w, a.Signed)
		}
	}
	return p.b.String()
}

func refused(p *page, f finding.Finding) {
	row, _ := finding.Lookup(f.Code)
	p.line(p.paint(red, "REFUSED") + "  " + string(f.Code))
	place := f.Place.Expression
	if f.Place.Line > 0 {
		place += fmt.Sprintf("  line %d, column %d", f.Place.Line, f.Place.Column)
	}
	p.field(2, "where", place)
	p.field(2, "found", f.Observed)
	p.field(2, "instead", f.Expected)
	remedy := f.Remedy
	if remedy == "" {
		remedy = row.Remedy
	}
	p.field(2, "do", remedy)
	p.field(2, "source", row.Citation)
}

var verdictColor = map[string]string{"ready": green, "block": red, "hold": yellow, "indeterminate": yellow}

func sheet(p *page, w worksheet.Worksheet, signed bool) {
	verdict := strings.ToUpper(w.Verdict)
	p.line(p.paint(verdictColor[w.Verdict], verdict) + " at " + w.Stage + "   " + clean(notation.DrugName(w.Order.Drug)) + "   order " + clean(w.Order.Identifier))
	p.field(0, "patient", w.Identity.Name)
	p.field(0, "born", w.Identity.BirthDate+"   "+w.Identity.Identifier)
	for _, l := range w.Summary {
		p.field(0, l.Label, l.Text)
	}
	p.field(0, "first dose", cmp.Or(firstHome(w), "not known"))
	p.field(0, "judged at", w.Moment(w.Sources.Now))
	if !signed {
		p.field(0, "caution", "The reference tables are unsigned: nothing may be released on this answer until a named pharmacist signs them.")
	}
	findings(p, w)
	unchecked(p, w)
	numbers(p, w)
	hazard(p, w)
	times(p, w)
	lumens(p, w)
	kit(p, w)
	tasks(p, w)
	others(p, w)
	p.head("CAUTIONS")
	for _, c := range w.Cautions {
		p.field(2, "-", c)
	}
}

func findings(p *page, w worksheet.Worksheet) {
	p.head(fmt.Sprintf("FINDINGS (%d)", len(w.Findings)))
	if len(w.Findings) == 0 {
		p.line("  none at this stage; see also what was not checked, below")
	}
	for _, f := range w.Findings {
		color := map[string]string{"block": red, "hold": yellow}[f.Gate]
		gate := pad(strings.ToUpper(f.Gate), 6)
		if color != "" {
			gate = p.paint(color, gate)
		}
		p.line("  " + gate + " " + clean(f.Title) + "  [" + f.Code + "]")
		if f.Sentence != "" {
			p.field(9, "why", f.Sentence)
		}
		p.field(9, "found", f.Observed)
		p.field(9, "instead", f.Expected)
		for i, c := range f.Culprits {
			if i == 3 {
				break
			}
			if c.Sentence == f.Sentence {
				continue
			}
			label := "perhaps"
			if c.Named {
				label = "culprit"
			}
			p.field(9, label, c.Sentence)
		}
		p.field(9, "do", f.Remedy)
		place := f.Expression
		if f.Line > 0 {
			place += fmt.Sprintf("  line %d", f.Line)
		}
		p.field(9, "where", place)
		p.field(9, "source", f.Citation)
	}
}

// order of the numbers: as one reads an infusion order aloud.
var order = []string{"dose", "dosePerKg", "dosePerArea", "dosingWeight", "bodySurfaceArea", "concentration", "volume", "rate",
	"drugRate", "drugRatePerKg", "duration", "interval", "dosesPerDay", "dailyDose", "doseCount", "courseLength",
	"orderedQuantity", "homeQuantity", "nominalRate", "fill", "residual", "delivered", "idealBodyWeight", "adjustedBodyWeight", "creatinineClearance",
	"endsAt", "endsEarliest", "endsLatest", "startBefore", "finishBy"}

// beside are numbers that follow from others and are shown only when they
// were stated or are in dispute; the worksheet has them all.
var beside = []string{"drugRatePerKg", "idealBodyWeight", "adjustedBodyWeight", "bodySurfaceArea", "dosePerKg", "dosesPerDay", "courseLength"}

func numbers(p *page, w worksheet.Worksheet) {
	p.head("NUMBERS (every way to reach them is in the worksheet)")
	widths := []int{20, 20, 38, 12}
	p.row(widths, "", "ordered", "recomputed", "difference")
	names := make([]string, 0, len(w.Quantities))
	for n, q := range w.Quantities {
		if q.Stated || q.Disputed || !slices.Contains(beside, n) {
			names = append(names, n)
		}
	}
	slices.SortFunc(names, func(a, b string) int {
		disputed := func(n string) int {
			if w.Quantities[n].Disputed {
				return 0
			}
			return 1
		}
		place := func(n string) int {
			if i := slices.Index(order, n); i >= 0 {
				return i
			}
			return len(order)
		}
		return cmp.Or(disputed(a)-disputed(b), place(a)-place(b), strings.Compare(a, b))
	})
	for _, n := range names {
		number(p, w, widths, n)
	}
}

func number(p *page, w worksheet.Worksheet, widths []int, n string) {
	q := w.Quantities[n]
	ordered, again, difference := "", "", ""
	if q.Stated && q.Unit != "" {
		ordered = value(q.Value, q.Unit)
		for _, as := range q.StatedAs { // the middle of a range is what nobody ordered
			if as.Low != "" {
				ordered = value(as.Low, as.Unit) + " to " + value(as.High, as.Unit)
				break
			}
		}
	}
	if len(q.Derivation) > 0 {
		again = q.Derivation[0].Text
	}
	if q.Unit == "" && again == "" {
		again = w.Moment(q.Value)
	}
	if again == "" && !q.Stated {
		again = value(q.Value, q.Unit)
	}
	if _, right, found := strings.Cut(again, " = "); found {
		again = right
	}
	for _, d := range q.Derivation {
		if d.Value != "" && q.Stated {
			difference = compare(q, d)
			break
		}
	}
	if q.Disputed {
		difference = strings.TrimSpace(difference + " disputed")
	}
	p.row(widths, notation.Name(n), ordered, again, difference)
}

func hazard(p *page, w worksheet.Worksheet) {
	h := w.Hazard
	p.head("HAZARD")
	p.field(2, "listed", h.Listed+"   "+h.Edition+table(h.Table))
	p.field(2, "transfer", "closed-system transfer: "+h.ClosedTransfer)
	for _, line := range h.Handling {
		p.field(2, "-", line)
	}
	p.field(2, "", h.Says)
}

func table(t string) string {
	if t == "" {
		return ""
	}
	return ", table " + t
}

func times(p *page, w worksheet.Worksheet) {
	s := w.Schedule
	p.head("TIMES")
	p.field(2, "first home", firstHome(w))
	p.field(2, "last dose", w.Moment(s.LastDose))
	p.field(2, "doses", dosesAtHome(s))
	p.field(2, "ends", w.Moment(s.EndsAt))
	if s.EndsEarliest != "" && s.EndsLatest != "" {
		p.field(2, "window", w.Moment(s.EndsEarliest)+" to "+w.Moment(s.EndsLatest))
	}
	for _, says := range s.Says {
		p.field(2, "-", says)
	}
	for _, e := range s.Remaining {
		p.field(2, "left then", e.Of+", "+w.Moment(e.At)+": "+value(e.Low, e.Unit)+" to "+value(e.High, e.Unit)+", planned "+value(e.Value, e.Unit))
	}
	for i, d := range w.Deliveries {
		text := fmt.Sprintf("arrives by %s: %s, %s", w.Moment(d.Arrival), count(d.Units, "unit"), count(d.DaysSupply, "day"))
		if d.StartBefore != "" {
			text += "; start before " + w.Moment(d.StartBefore)
			if d.FinishBy != "" {
				text += "; finish by " + w.Moment(d.FinishBy)
			}
		} else if d.Says != "" {
			text += "; " + d.Says
		}
		p.field(2, fmt.Sprintf("delivery %d", i+1), text)
		if i == 0 {
			use(p, w, d.Use)
		}
	}
}

func kit(p *page, w worksheet.Worksheet) {
	if len(w.Kit) == 0 {
		return
	}
	p.head("KIT for the first delivery")
	for _, k := range w.Kit {
		if k.Delivery == 1 {
			p.row([]int{5, 40, 46}, fmt.Sprint(k.Quantity), k.Name, k.Formula)
		}
	}
}

// tasks are grouped by who does them; a task that comes again stands once
// with its dates.
func tasks(p *page, w worksheet.Worksheet) {
	p.head("TASKS by role")
	var roles []string
	for _, t := range w.Tasks {
		if !slices.Contains(roles, t.Role) {
			roles = append(roles, t.Role)
		}
	}
	for _, role := range roles {
		p.line("  " + p.paint(bold, role))
		seen := map[string]bool{}
		for _, t := range w.Tasks {
			if t.Role != role || seen[t.Code] {
				continue
			}
			seen[t.Code] = true
			task(p, w, t)
		}
	}
}

func task(p *page, w worksheet.Worksheet, t worksheet.Task) {
	due, again := cmp.Or(w.Moment(t.Due), "not dated"), 0
	last := t.Due
	for _, o := range w.Tasks {
		if o.Code == t.Code {
			again, last = again+1, o.Due
		}
	}
	title := t.Title
	if row, ok := finding.Lookup(finding.Code(t.Finding)); ok && t.Finding != "" {
		title += ". " + row.Remedy // the title of a finding tells what is wrong, not what to do
	}
	switch {
	case again > 1:
		title += fmt.Sprintf(" (%d times, the last %s)", again, cmp.Or(w.Moment(last), "not dated"))
	case t.Says != "":
		title += " (" + t.Says + ")"
	}
	if t.Prepares && w.Verdict != "ready" {
		title += " - waits: the order is not ready"
	}
	p.row([]int{26, 66}, due, title)
	if with := inputs(w, t.Inputs); with != "" {
		p.row([]int{26, 66}, "", "as ordered: "+with)
	}
}

// inputs are the numbers that stand beside a task, as one reads an order aloud.
// One in dispute is named, so that nobody takes another for it.
func inputs(w worksheet.Worksheet, have map[string]string) string {
	var out []string
	for _, n := range order {
		name := notation.Name(n)
		switch v := have[name]; {
		case v != "":
			out = append(out, name+" "+v)
		case len(have) > 0 && w.Quantities[n].Disputed:
			out = append(out, name+" in dispute: ask")
		}
	}
	return strings.Join(out, ", ")
}

// unchecked lists what was not checked, what holds first. Rules that lack the
// same thing stand together, each by its code.
func unchecked(p *page, w worksheet.Worksheet) {
	p.head("NOT CHECKED")
	if len(w.NotChecked) == 0 {
		p.line("  every rule of this version could be asked; see the cautions for what it does not know yet")
	}
	for _, gated := range []bool{true, false} {
		codes := map[string][]string{}
		var texts []string
		gate := map[string]string{}
		for _, n := range w.NotChecked {
			if (n.Gate != "") != gated {
				continue
			}
			text := cmp.Or(n.Says, "missing: "+strings.Join(n.Missing, ", "))
			if codes[text] == nil {
				texts = append(texts, text)
			}
			codes[text], gate[text] = append(codes[text], n.Code), n.Gate
		}
		for _, text := range texts {
			p.field(2, strings.ToUpper(gate[text]), text+"  ["+strings.Join(codes[text], ", ")+"]")
		}
	}
}

// others are what else came with the order: orders that are facts here, and
// what was not used.
func others(p *page, w worksheet.Worksheet) {
	if len(w.Related) > 0 {
		p.head("ALSO ORDERED, not judged by itself")
	}
	for _, r := range w.Related {
		p.field(2, r.Role, r.Drug+": "+r.Text)
	}
	if len(w.Unused) > 0 {
		p.head("RECEIVED AND NOT USED")
	}
	for _, u := range w.Unused {
		p.field(2, "-", u.Expression+": "+u.Reason)
	}
}
