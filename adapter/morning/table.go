package morning

import (
	"fmt"
	"strings"

	"weir.example/weir/adapter/terminal"
)

// table writes a report for a terminal.
func table(r report, color bool) []byte {
	s := terminal.NewSheet(color)
	head := "MORNING REPORT"
	if r.Name != "" {
		head += ", " + r.Name
	}
	s.Head(head)
	if !r.Ended {
		s.Title("HOLD", "This night did not come to its end: run it again; it goes on where it was. Nothing below is complete.")
	} else {
		s.Field(2, "as of", r.Now)
		s.Field(2, "hospital", "its state of "+r.Feed)
		release(s, r)
		counts(s, r)
	}
	for _, x := range r.Remark {
		s.Text(2, x)
	}
	for _, g := range r.Groups {
		s.Head(g.Title)
		for _, o := range g.Orders {
			full(s, o)
		}
	}
	if r.Ended && len(r.Groups) == 0 {
		s.Head("No order has a block or a hold")
	}
	if len(r.Warned) > 0 {
		s.Head("WARNING: " + plural(len(r.Warned), "order"))
		for _, o := range r.Warned {
			var titles []string
			for _, f := range o.Findings {
				titles = append(titles, fresh(f)+f.Title)
			}
			s.Item(2, named(o)+": "+strings.Join(titles, "; "))
		}
	}
	if r.More != "" {
		s.Head("NOT SHOWN")
		s.Text(2, "and "+r.More+": --output ndjson has every one, and so has the list of orders")
	}
	failures(s, r)
	return []byte(s.Take())
}

func release(s *terminal.Sheet, r report) {
	if r.Blocked {
		s.Title("BLOCKED", "Automatic release is blocked: nothing leaves by itself")
	} else {
		s.Title("ALLOWED", "Automatic release is allowed for orders without a block or a hold")
	}
	for _, f := range r.About {
		s.Field(2, f.Word, f.Title+"  ["+f.Code+"]")
		s.Field(4, "found", f.Observed)
		s.Field(4, "instead", f.Expected)
		s.Field(4, "do", f.Do)
	}
}

func counts(s *terminal.Sheet, r report) {
	s.Head("COUNTS")
	for _, c := range r.Counts {
		text := fmt.Sprint(c.Tonight)
		if c.Before != "" {
			text += " (" + short(r.Before) + " " + c.Before + ")"
		}
		s.Row([]int{30, 50}, c.What, text)
	}
	if r.Before != "" && r.Before != short(r.Before) {
		s.Text(2, "before: "+r.Before)
	}
}

// short is the word beside a count.
func short(before string) string {
	if before == "yesterday" {
		return before
	}
	return "before"
}

func full(s *terminal.Sheet, o shownOrder) {
	s.Title("", "")
	s.Title(o.Word, named(o)+", "+o.State)
	for _, f := range o.Findings {
		text := fresh(f) + f.Title
		if f.Observed != "" {
			text += ": " + f.Observed
		}
		if f.Expected != "" {
			text += "; instead: " + f.Expected
		}
		s.Field(2, f.Word, text+"  ["+f.Code+"]")
	}
	if o.MoreFindings > 0 {
		s.Field(2, "", "and "+plural(o.MoreFindings, "more finding"))
	}
	for _, u := range o.Unchecked {
		s.Field(2, "NOT JUDGED", u)
	}
	for i, t := range o.Tasks {
		if i == 0 {
			s.Text(2, "Who calls whom by when:")
		}
		text := t.Role + ": " + t.Title
		if t.Says != "" {
			text += " (" + t.Says + ")"
		}
		s.Row([]int{28, 62}, t.Due, text)
	}
	if o.MoreTasks > 0 {
		s.Text(2, "and "+plural(o.MoreTasks, "more task"))
	}
}

func fresh(f shownFinding) string {
	if f.New {
		return "NEW "
	}
	return ""
}

// named is an order as one says it.
func named(o shownOrder) string {
	text := o.Drug + ", order " + o.Identifier
	if o.Identifier == "" {
		text = o.Drug + ", order without an identifier"
	}
	if o.System != "" {
		text += " (" + o.System + ")"
	}
	return text
}

func failures(s *terminal.Sheet, r report) {
	if len(r.Failed) > 0 {
		s.Head("LINES THAT COULD NOT BE READ: " + fmt.Sprint(len(r.Failed)+r.MoreFailed))
	}
	for _, f := range r.Failed {
		s.Item(2, f.Place+": "+f.Text+" "+f.Do)
	}
	if r.MoreFailed > 0 {
		s.Text(2, "and "+plural(r.MoreFailed, "more line")+": --output ndjson has every one")
	}
	if r.Unread > 0 {
		s.Title("HOLD", plural(r.Unread, "line")+" of the night's own answer could not be read: nothing here is complete")
	}
}
