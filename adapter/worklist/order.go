package worklist

import (
	"cmp"
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// orderPage is one order.
type orderPage struct {
	Drug                                string
	DrugSent                            bool
	Name, BirthDate, Identifier, System string
	OrderNumber, OrderSystem            string
	Known                               bool
	Others                              others // who could be taken for the patient
	Verdict                             mark
	Meaning                             string // what the verdict asks of a person
	Stage, State                        string
	Number                              int64
	Received, Judged, Due               instant
	Ended                               bool   // it is no longer active
	Judgement                           bool   // there is an answer
	Stale                               int64  // the version that the answer is of, when the order is not that any more
	Listed                              string // the verdict of the list, when it is another
	Unsigned                            string
	First                               *foundHere
	Summary                             []worksheet.Line
	Stated, Following                   []number
	Findings                            []foundHere
	Holding, Unchecked                  []unchecked
	Soon, Later                         []task
	Deliveries                          []delivery
	Kits                                []kit
	Times                               times
	Picture                             *picture
	Lumens                              *lumens
	Hazard                              worksheet.Hazard
	Related                             []related
	Unused                              []unused
	Cautions                            []string
	Document                            *received
	Sources                             []worksheet.Line
	SourcesNow                          instant
}

// foundHere is one finding as the page shows it.
type foundHere struct {
	worksheet.Finding
	ID     string
	Mark   mark
	Number int
	Place  place
	Proof  []place
	Named  bool // one explanation leads
	Blamed []blamed
}

// blamed is one explanation of a disagreement.
type blamed struct {
	Name, Stated, Consistent, With, How, Sentence string
	Address                                       string
}

type unchecked struct {
	Says, Codes string
	Mark        mark
}

type related struct {
	Role, Drug, Text string
	Place            place
}

type unused struct {
	Reason string
	Place  place
}

// meanings say what a verdict asks of a person.
var meanings = map[string]string{
	"block":         "Nobody can pass this. It is put right at its source before anything is made or sent.",
	"hold":          "It waits. A pharmacist decides on every point below before anything is made or sent.",
	"indeterminate": "It waits. Facts are missing; without them it cannot be said whether the order is safe.",
	"ready":         "Nothing holds it at this stage. A pharmacist reads it and releases it; the program never does.",
}

func anchorOf(i int) string { return fmt.Sprintf("f%d", i+1) }

// anchorText keeps of a name what can stand in an anchor.
func anchorText(name string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
			return r
		}
		return '-'
	}, name)
}

var generics = sync.OnceValue(func() map[string]bool {
	out := map[string]bool{}
	for _, d := range compendium.Embedded().Drugs {
		out[compendium.Fold(d.Name)] = true
	}
	return out
})

// generic says whether a drug stands in the name of our tables, and not in
// the sender's words.
func generic(drug string) bool { return generics()[compendium.Fold(drug)] }

// line finds the order whose MedicationRequest has the id, by its patient.
func (p Pages) line(ctx context.Context, id string) (adapter.Resource, adapter.OrderLine, error) {
	r, err := p.Store.Get(ctx, "MedicationRequest", id)
	if err != nil {
		return r, adapter.OrderLine{}, err
	}
	if r.Patient == "" { // an empty filter would ask for everybody's
		return r, adapter.OrderLine{}, noOrder
	}
	page := adapter.Page{Limit: 1000}
	for {
		slice, err := p.Store.Orders(ctx, adapter.OrderFilter{Patient: r.Patient}, page)
		if err != nil {
			return r, adapter.OrderLine{}, err
		}
		for _, o := range slice.Orders {
			if o.Resource == id {
				return r, o, nil
			}
		}
		if page.After = slice.Next; page.After == "" {
			return r, adapter.OrderLine{}, noOrder
		}
	}
}

// drugName is a drug for people: a name of our tables with its tall letters,
// the sender's words as they are.
func drugName(drug string) string {
	if generic(drug) {
		return notation.DrugName(drug)
	}
	return shown(drug)
}

func (p Pages) order(r *http.Request) (string, frame, error) {
	ctx := r.Context()
	request, o, err := p.line(ctx, chi.URLParam(r, "id"))
	if err != nil {
		return "", frame{}, err
	}
	sheets, err := p.Store.Worksheets(ctx, o.Key, 1)
	if err != nil {
		return "", frame{}, err
	}
	tasks, err := p.recorded(ctx, o)
	if err != nil {
		return "", frame{}, err
	}
	page := orderPage{Drug: drugName(o.Drug), DrugSent: !generic(o.Drug), Verdict: badge(o.Verdict), Meaning: meanings[o.Verdict], Stage: words(o.Stage), State: words(shown(o.State)),
		Ended: o.State != "active" && o.State != "draft" && o.State != "on-hold", Number: o.Number}
	var w worksheet.Worksheet
	var made time.Time
	verdict := o.Verdict
	if len(sheets) > 0 {
		ok := false
		if w, ok = stored(sheets[0]); !ok {
			return "", frame{}, unread
		}
		made, verdict = sheets[0].Made, cmp.Or(w.Verdict, o.Verdict)
		page.Judgement = true
		if sheets[0].Number != o.Number {
			page.Stale, verdict = sheets[0].Number, "indeterminate"
		} else if w.Verdict != o.Verdict {
			page.Listed = badge(o.Verdict).Word
		}
	} else {
		w.Verdict, w.Order.Identifier = o.Verdict, shown(o.Key)
	}
	if page.Others, err = p.alike(ctx, o.Patient); err != nil {
		return "", frame{}, err
	}
	h := p.home(w.Schedule.Zone)
	page.Verdict, page.Meaning = badge(verdict), cmp.Or(meanings[verdict], meanings["indeterminate"])
	page.Received, page.Judged, page.Due = h.at(request.Updated), h.at(made), h.at(o.Due)
	if page.Document, err = p.receive(ctx, request, w, made); err != nil {
		return "", frame{}, err
	}
	page.fill(w, h)
	list := merged(h, w, tasks)
	for i := range list {
		list[i].Numbers = inputs(w, list[i].inputs)
	}
	page.Soon, page.Later = soon(h, list)
	title := "Order"
	if known, ok := marks[verdict]; ok {
		title = known.Word + ": order"
	}
	if !page.DrugSent {
		title += " for " + page.Drug
	}
	if p.Opened != nil && r.Method == http.MethodGet {
		p.Opened(ctx, o)
	}
	return "order.html", frame{Title: title, Page: page}, nil
}

// fill lays the worksheet out.
func (page *orderPage) fill(w worksheet.Worksheet, h home) {
	find := page.Document.find
	page.Known = w.Identity != worksheet.Identity{}
	page.Name, page.BirthDate = w.Identity.Name, born(w.Identity.BirthDate)
	page.Identifier, page.System = identifier(w.Identity.Identifier), system(w.Identity.Identifier)
	page.OrderNumber, page.OrderSystem = identifier(w.Order.Identifier), system(w.Order.Identifier)
	page.Summary, page.Cautions, page.Hazard = w.Summary, w.Cautions, w.Hazard
	if _, list, ok := strings.Cut(w.Sources.Tables, " unsigned"); ok {
		page.Unsigned = "The reference tables are not signed" + list + ". Nothing may be released on this answer until a named pharmacist signs them."
	}
	page.Stated, page.Following = numbers(w, h, find)
	for i, f := range w.Findings {
		page.Findings = append(page.Findings, findingOf(i, f, find))
	}
	if len(page.Findings) > 0 {
		page.First = &page.Findings[0]
	}
	page.Holding, page.Unchecked = uncheckedOf(w)
	page.Deliveries, page.Kits, page.Times = deliveries(w, h), kits(w), timesOf(w, h)
	page.Picture, page.Lumens = draw(w, h), lumensOf(w)
	for _, r := range w.Related {
		page.Related = append(page.Related, related{words(r.Role), r.Drug, r.Text, find(r.Expression)})
	}
	for _, u := range w.Unused {
		page.Unused = append(page.Unused, unused{u.Reason, find(u.Expression)})
	}
	if page.Judgement {
		s := w.Sources
		for _, l := range []worksheet.Line{{Label: "document", Text: s.Document}, {Label: "held before", Text: s.Held}, {Label: "tables", Text: s.Tables}, {Label: "site policy", Text: s.Policy},
			{Label: "program", Text: s.Program}, {Label: "time zones", Text: s.Zones}, {Label: "order version", Text: w.Order.Version}} {
			page.Sources = append(page.Sources, worksheet.Line{Label: l.Label, Text: cmp.Or(l.Text, "nothing")})
		}
		page.SourcesNow = h.read(s.Now)
	}
}

func system(text string) string {
	if i := strings.LastIndexByte(text, '|'); i >= 0 {
		return text[:i]
	}
	return ""
}

func findingOf(i int, f worksheet.Finding, find func(string) place) foundHere {
	out := foundHere{Finding: f, ID: anchorOf(i), Mark: badge(f.Gate), Number: i + 1, Place: find(f.Expression)}
	for i, e := range f.Evidence {
		if !slices.Contains(f.Evidence[:i], e) {
			out.Proof = append(out.Proof, find(e))
		}
	}
	for _, c := range f.Culprits {
		out.Named = out.Named || c.Named
		out.Blamed = append(out.Blamed, blamed{Name: notation.Name(c.Name), Stated: value(c.Stated, c.Unit), Consistent: value(c.Consistent, c.Unit),
			With: joined(mapped(c.With, notation.Name)), How: words(c.Signature), Sentence: cmp.Or(c.Sentence, c.Reading), Address: "#n-" + anchorText(c.Name)})
	}
	return out
}

// uncheckedOf lists what was not checked: what holds, then the rest. Rules
// that lack the same thing stand together.
func uncheckedOf(w worksheet.Worksheet) (holding, rest []unchecked) {
	for _, gated := range []bool{true, false} {
		at := map[string]int{}
		var out []unchecked
		for _, n := range w.NotChecked {
			if (finding.Gate(n.Gate).Weight() > 0) != gated {
				continue
			}
			code := n.Code
			if n.Name != "" {
				code += ", " + notation.Name(n.Name)
			}
			says := lacks(n)
			i, known := at[says]
			if !known {
				i = len(out)
				at[says] = i
				out = append(out, unchecked{Says: says, Mark: badge(n.Gate)})
			} else {
				code = "; " + code
			}
			out[i].Codes += code
		}
		if gated {
			holding = out
		} else {
			rest = out
		}
	}
	return holding, rest
}
