package terminal

import (
	"fmt"
	"slices"
	"sort"
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
	p.field(0, "judged at", w.Moment(w.Sources.Now))
	if !signed {
		p.field(0, "caution", "The reference tables are unsigned: nothing may be released on this answer until a named pharmacist signs them.")
	}
	findings(p, w)
	numbers(p, w)
	hazard(p, w)
	times(p, w)
	kit(p, w)
	tasks(p, w)
	unchecked(p, w)
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

func numbers(p *page, w worksheet.Worksheet) {
	p.head("NUMBERS")
	widths := []int{20, 22, 34, 12}
	p.row(widths, "", "ordered", "recomputed", "difference")
	names := make([]string, 0, len(w.Quantities))
	for n := range w.Quantities {
		names = append(names, n)
	}
	sort.Slice(names, func(i, j int) bool {
		a, b := slices.Index(order, names[i]), slices.Index(order, names[j])
		if a < 0 || b < 0 || a == b {
			return a > b || a == b && names[i] < names[j]
		}
		return a < b
	})
	for _, n := range names {
		q := w.Quantities[n]
		ordered, again, difference := "", "", ""
		if q.Unit == "" {
			again = w.Moment(q.Value)
		} else if q.Stated {
			ordered = value(q.Value, q.Unit)
		}
		for _, d := range q.Derivation {
			if d.Value == "" {
				continue
			}
			again = value(d.Value, d.Unit)
			if q.Stated {
				difference = compare(q, d)
			}
			break
		}
		if again == "" && !q.Stated {
			again = value(q.Value, q.Unit)
		}
		if q.Disputed {
			difference += " disputed"
		}
		if n == "bodySurfaceArea" || again != "" || ordered != "" {
			p.row(widths, notation.Name(n), ordered, again, difference)
		}
		for _, d := range q.Derivation {
			p.field(24, "=", d.Text)
		}
	}
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
	p.field(2, "first home", w.Moment(s.FirstHomeDose))
	p.field(2, "last dose", w.Moment(s.LastDose))
	p.field(2, "doses", fmt.Sprint(s.DoseCount, " at home"))
	p.field(2, "ends", w.Moment(s.EndsAt))
	if s.EndsEarliest != "" && s.EndsLatest != "" {
		p.field(2, "window", w.Moment(s.EndsEarliest)+" to "+w.Moment(s.EndsLatest))
	}
	for _, says := range s.Says {
		p.field(2, "-", says)
	}
	for i, d := range w.Deliveries {
		text := fmt.Sprintf("arrives by %s: %s, %s", w.Moment(d.Arrival), count(d.Units, "unit"), count(d.DaysSupply, "day"))
		if d.StartBefore != "" {
			text += "; start before " + w.Moment(d.StartBefore)
		} else if d.Says != "" {
			text += "; " + d.Says
		}
		p.field(2, fmt.Sprintf("delivery %d", i+1), text)
	}
}

func kit(p *page, w worksheet.Worksheet) {
	if len(w.Kit) == 0 {
		return
	}
	p.head("KIT for the first delivery")
	for _, k := range w.Kit {
		if k.Delivery == 1 {
			p.row([]int{8, 44, 38}, fmt.Sprint(k.Quantity), k.Name, k.Formula)
		}
	}
}

func tasks(p *page, w worksheet.Worksheet) {
	p.head("TASKS")
	for _, t := range w.Tasks {
		due := w.Moment(t.Due)
		if due == "" {
			due = "not dated"
		}
		title := t.Title
		if t.Says != "" {
			title += " (" + t.Says + ")"
		}
		p.row([]int{30, 11, 49}, due, t.Role, title)
	}
}

func unchecked(p *page, w worksheet.Worksheet) {
	p.head("NOT CHECKED")
	if len(w.NotChecked) == 0 {
		p.line("  every rule of this version could be asked")
	}
	for _, n := range w.NotChecked {
		gate := "     "
		if n.Gate != "" {
			gate = strings.ToUpper(n.Gate)
		}
		text := n.Says
		if text == "" {
			text = "missing: " + strings.Join(n.Missing, ", ")
		}
		p.field(2, pad(gate, 6), n.Code+" "+n.Name+": "+text)
	}
	for _, u := range w.Unused {
		p.field(2, "unused", u.Expression+": "+u.Reason)
	}
}
