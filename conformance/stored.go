package conformance

import (
	"slices"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// Stored is one patient's stored resources and everything the judgement of
// their orders rests on. The resources were accepted when they came in.
type Stored struct {
	// Resources have their ids and refer to each other as Type/id. They are
	// named in expressions by type and id from then on.
	Resources []*element.Document
	Known     map[string]r4.Key // names of the orders by id
	Lost      []string          // what was sent about the patient and could not be read, in words
	Document  string            // hash of what came in
	Held      string            // hash of what was stored before
	Reference policy.Reference
	Now       time.Time
	Stage     finding.Stage
	// Read is that of an earlier judgement of the very same resources, names
	// and lost lines; nil: there is none.
	Read *Read
}

// Read is a patient's resources as they were read for a judgement. Reading
// asks the clock only whether something lies in the future, so for a later
// clock that answers alike it is not done again. It is never changed: each
// judgement has its own copy of what a judgement adds to.
type Read struct {
	cases       []order.Case
	from, until time.Time
}

func (r *Read) holds(now time.Time) bool {
	return r != nil && !now.Before(r.from) && (r.until.IsZero() || now.Before(r.until))
}

// copied gives the cases for one judgement.
func (r *Read) copied() []order.Case {
	list := slices.Clone(r.cases)
	for i := range list {
		list[i].Orders, list[i].Related = copied(list[i].Orders), copied(list[i].Related)
	}
	return list
}

func copied(list []order.Order) []order.Order {
	list = slices.Clone(list)
	for i := range list {
		o := &list[i]
		o.Stated, o.Readings, o.Device.Parameters = slices.Clone(o.Stated), slices.Clone(o.Readings), slices.Clone(o.Device.Parameters)
	}
	return list
}

// Side is a patient at one clock: the case, and the worksheets of its orders.
type Side struct {
	Read     *Read
	Case     order.Case
	Sheets   []worksheet.Worksheet
	Replaced []worksheet.Worksheet // of orders that another one replaces: for their names, not for what is found
}

// JudgeStored judges the orders of one patient. Orders that are not known are
// another patient's, there because something refers to them; they are not
// judged. Should the resources speak of several people, which a finding of
// identity says, the orders of all of them are there, and the case is that of
// the first. Without sheets the patient has no order for infusion.
func JudgeStored(in Stored) Side {
	for _, doc := range in.Resources {
		root := doc.Root()
		doc.Rename(root.Get("resourceType").Text() + ".where(id='" + root.Get("id").Text() + "')")
	}
	read := in.Read
	if !read.holds(in.Now) {
		cases, until := r4.ReadStored(in.Resources, in.Known, in.Lost, in.Now)
		read = &Read{cases, in.Now, until}
	}
	out := Side{Read: read}
	for _, c := range read.copied() {
		var replaced []order.Order
		for _, o := range c.Related {
			if o.Role == "replaced" {
				o.Role = "infusion"
				replaced = append(replaced, o)
			}
		}
		if !slices.ContainsFunc(slices.Concat(c.Orders, replaced), func(o order.Order) bool { _, known := in.Known[r4.StoredID(o.Ref)]; return known }) {
			continue
		}
		c.Held.Hash = in.Held
		if len(out.Sheets)+len(out.Replaced) == 0 {
			out.Case = c
		} else {
			out.Case.Orders, out.Case.Related = append(out.Case.Orders, c.Orders...), append(out.Case.Related, c.Related...)
		}
		out.Sheets = append(out.Sheets, in.sheets(c)...)
		if len(replaced) > 0 {
			c.Orders = replaced
			out.Replaced = append(out.Replaced, in.sheets(c)...)
		}
	}
	return out
}

func (in Stored) sheets(c order.Case) []worksheet.Worksheet {
	list := JudgeCase(c, in.Reference, in.Now, in.Stage)
	for i := range list {
		w := &list[i]
		w.Sources.Document = in.Document
		w.Order.PatientRef = r4.Place(w.Order.PatientRef)
		for k := range w.Findings {
			w.Findings[k].Line, w.Findings[k].Column = 0, 0 // its expression names the resource
		}
	}
	return list
}

// FindingLines are findings as they stand in a worksheet, worst first.
func FindingLines(list []finding.Finding, ref policy.Reference) []worksheet.Finding {
	return toFindings(list, ref)
}

// NightLines are findings and tasks of the nightly comparison as they stand
// in a worksheet.
func NightLines(w worksheet.Worksheet, ref policy.Reference, findings []finding.Finding, tasks []fulfillment.Task) ([]worksheet.Finding, []worksheet.Task) {
	lines := toFindings(findings, ref)
	for i := range lines {
		lines[i].Line, lines[i].Column = 0, 0 // its expression names the resource
	}
	zone, err := ref.Zones.Zone(w.Schedule.Zone)
	var out []worksheet.Task
	for _, t := range tasks {
		due, name := "", ""
		if !t.Due.IsZero() {
			at := t.Due
			if err == nil {
				at, name = at.In(zone.Location), zone.Name
			}
			due = at.Format(time.RFC3339)
		}
		out = append(out, worksheet.Task{Code: t.Code, Role: t.Role, Due: due, Zone: name, Title: t.Title, Priority: "urgent", Closes: t.Closes, After: t.After, Inputs: t.Inputs, Prepares: t.Prepares, Says: t.Says})
	}
	return lines, out
}

// Join puts what a comparison left standing into a worksheet, and says the
// verdict anew.
func Join(w *worksheet.Worksheet, findings []worksheet.Finding, tasks []worksheet.Task) {
	w.Findings = append(slices.Clone(w.Findings), findings...)
	slices.SortStableFunc(w.Findings, func(a, b worksheet.Finding) int {
		return finding.Gate(b.Gate).Weight() - finding.Gate(a.Gate).Weight()
	})
	w.Tasks = append(slices.Clone(w.Tasks), tasks...)
	w.Verdict = verdict(*w)
}
