package worklist

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/worksheet"
)

// picture is the schedule drawn over the days at home. All lengths are whole
// pixels of a drawing that is Width wide; the table beside it says the same.
type picture struct {
	Width, Height, Left, Bottom int
	Summary                     string
	Ticks                       []tick
	Lanes                       []lane
	Now                         int // 0: outside
	NowWords                    string
	Cut                         string // what is not drawn, in words
	Events                      []event
}

// tick is a midnight, or an hour of a short course.
type tick struct {
	X     int
	Words string
	Major bool
}

// lane is one row of the picture.
type lane struct {
	Y, Middle int
	Name      string
	Bars      []bar
	Points    []point
}

// bar is a stretch of time.
type bar struct {
	X, Y, Width, Height int
	Class, Words        string
	Open                bool // goes on beyond the picture
	Tip                 string
}

// point is a moment.
type point struct {
	X, Y  int
	Shape string // dose late arrival visit
	Words string
}

// event is something on the line, for the table.
type event struct {
	What, Role string
	At         instant
}

const (
	pictureWidth = 960
	pictureLeft  = 150
	pictureRight = 24
	laneHeight   = 30
	mostDrawn    = 400 // doses; our own decision
	mostLanes    = 12  // deliveries
)

// onLine are the tasks that touch the patient's line.
var onLine = []string{"first-visit", "change-container", "disconnect", "final-disconnect", "weekly-visit", "line-plan", "laboratory-draw"}

// scale turns instants into pixels.
type scale struct {
	from, to time.Time
}

func (s scale) x(t time.Time) int {
	whole := int64(s.to.Sub(s.from) / time.Second)
	part := int64(t.Sub(s.from) / time.Second)
	return pictureLeft + int(part*int64(pictureWidth-pictureLeft-pictureRight)/max(whole, 1))
}

func (s scale) holds(t time.Time) bool { return !t.Before(s.from) && !t.After(s.to) }

func at(text string) (time.Time, bool) {
	t, err := time.Parse(time.RFC3339, text)
	return t, err == nil
}

// draw makes the picture; nil when there is neither a dose nor a delivery
// with a time.
func draw(w worksheet.Worksheet, h home) *picture {
	var doses, all []time.Time
	for _, d := range w.Schedule.Doses {
		if t, ok := at(d); ok {
			doses = append(doses, t)
		}
	}
	all = append(all, doses...)
	for _, d := range w.Deliveries {
		if t, ok := at(d.Arrival); ok {
			all = append(all, t)
		}
	}
	if len(all) == 0 {
		return nil
	}
	for _, text := range []string{w.Schedule.EndsAt, w.Schedule.EndsEarliest, w.Schedule.EndsLatest} {
		if t, ok := at(text); ok {
			all = append(all, t)
		}
	}
	var events []event
	for _, t := range w.Tasks {
		if when, ok := at(t.Due); ok && slices.Contains(onLine, t.Code) {
			all = append(all, when)
			events = append(events, event{t.Title, words(t.Role), h.read(t.Due)})
		}
	}
	first, last := slices.MinFunc(all, time.Time.Compare), slices.MaxFunc(all, time.Time.Compare)
	pad := max(last.Sub(first)/40, time.Hour)
	s := scale{first.Add(-pad), last.Add(pad)}
	p := &picture{Width: pictureWidth, Left: pictureLeft, Events: events}
	y := 12
	add := func(name string) *lane {
		p.Lanes = append(p.Lanes, lane{Y: y, Middle: y + laneHeight/2, Name: name})
		y += laneHeight
		return &p.Lanes[len(p.Lanes)-1]
	}
	late := lateDoses(w)
	l := add("Doses")
	for i, d := range doses {
		if i == mostDrawn {
			p.Cut = fmt.Sprintf("The picture shows the first %d doses.", mostDrawn)
			break
		}
		shape, says := "dose", "Dose, "
		if why := late[d.Unix()]; why != "" {
			shape, says = "late", "Dose that "+why+", "
		}
		l.Points = append(l.Points, point{s.x(d), l.Middle, shape, says + h.at(d).Words})
	}
	if end, ok := at(w.Schedule.EndsAt); ok && len(doses) > 0 {
		l := add("Infusion runs")
		l.Bars = append(l.Bars, s.bar(doses[0], end, l.Middle, 10, "run", "Runs until "+h.at(end).Words))
		early, ok1 := at(w.Schedule.EndsEarliest)
		latest, ok2 := at(w.Schedule.EndsLatest)
		if ok1 && ok2 {
			l.Bars = append(l.Bars, s.bar(early, latest, l.Middle, 4, "spread", "May end from "+h.at(early).Words+" to "+h.at(latest).Words))
		}
	}
	for i, d := range w.Deliveries {
		if i == mostLanes {
			p.Cut = strings.TrimSpace(p.Cut + fmt.Sprintf(" The picture shows the first %d of %d deliveries.", mostLanes, len(w.Deliveries)))
			break
		}
		s.delivery(add(fmt.Sprintf("Delivery %d", i+1)), i, d, h)
	}
	if len(events) > 0 {
		l := add("Line and visits")
		for _, e := range events {
			l.Points = append(l.Points, point{s.x(e.At.at), l.Middle, "visit", e.What + ", " + e.At.Words})
		}
	}
	p.Bottom = y + 4
	p.Height = p.Bottom + 28
	p.Ticks = s.ticks(h)
	if s.holds(h.now) {
		p.Now, p.NowWords = s.x(h.now), "now, "+h.at(h.now).Words
	}
	p.Summary = summary(w, h, doses, len(late))
	return p
}

// delivery draws when units arrive, for which doses they are, and until when
// they may be started.
func (s scale) delivery(l *lane, i int, d worksheet.Delivery, h home) {
	if u := d.Use; u != nil {
		until, known := at(u.StartBefore)
		class, says := "window", "start before "
		if !known {
			for _, limit := range u.Limits {
				if until, known = at(limit.Until); known {
					class, says = "window unsure", "the first limit that is known, "
					break
				}
			}
		}
		if made, ok := at(u.Made); ok && known {
			l.Bars = append(l.Bars, s.bar(made, until, l.Middle, 14, class, fmt.Sprintf("Delivery %d: %s%s", i+1, says, h.at(until).Words)))
		}
	}
	first, ok1 := at(d.FirstDose)
	last, ok2 := at(d.LastDose)
	if ok1 && ok2 {
		l.Bars = append(l.Bars, s.bar(first, last, l.Middle, 5, "used", fmt.Sprintf("Delivery %d: used from %s to %s", i+1, h.at(first).Words, h.at(last).Words)))
	}
	if t, ok := at(d.Arrival); ok {
		l.Points = append(l.Points, point{s.x(t), l.Middle, "arrival", fmt.Sprintf("Delivery %d arrives, %s", i+1, h.at(t).Words)})
	}
}

func (s scale) bar(from, to time.Time, middle, height int, class, tip string) bar {
	b := bar{Class: class, Y: middle - height/2, Height: height, Tip: tip}
	if from.Before(s.from) {
		from = s.from
	}
	if to.After(s.to) {
		to, b.Open = s.to, true
	}
	b.X = s.x(from)
	b.Width = max(s.x(to)-b.X, 3)
	return b
}

// ticks are midnights at home, one to four weeks apart on a long course, and
// hours on a short one.
func (s scale) ticks(h home) []tick {
	const most = 11
	days := 1
	for _, step := range []int{1, 2, 7, 14, 28, 56, 182, 364} {
		days = step
		if s.to.Sub(s.from) <= time.Duration(step*most)*24*time.Hour {
			break
		}
	}
	start := s.from.In(h.zone)
	midnight := time.Date(start.Year(), start.Month(), start.Day(), 0, 0, 0, 0, h.zone)
	var out []tick
	for n := 0; n < 400; n++ {
		t := midnight.AddDate(0, 0, n)
		if t.After(s.to) {
			break
		}
		if n%days == 0 && s.holds(t) {
			out = append(out, tick{s.x(t), t.Format("Mon 2 Jan"), true})
		}
		if days == 1 && s.to.Sub(s.from) <= 4*24*time.Hour {
			for _, hour := range []int{6, 12, 18} {
				if at := time.Date(t.Year(), t.Month(), t.Day(), hour, 0, 0, 0, h.zone); s.holds(at) {
					out = append(out, tick{s.x(at), at.Format("15:04"), false})
				}
			}
		}
	}
	return out
}

// lateDoses are the doses of the course that start too late or run too long,
// by their instant.
func lateDoses(w worksheet.Worksheet) map[int64]string {
	out := map[int64]string{}
	for _, d := range w.Deliveries {
		if d.Use == nil {
			continue
		}
		for _, x := range d.Use.Doses {
			if t, ok := at(x.Start); ok && (x.TooLate || x.TooLong) {
				out[t.Unix()] = map[bool]string{true: "starts too late", false: "runs too long"}[x.TooLate]
			}
		}
	}
	return out
}

// summary is the picture in one sentence, for who does not see it.
func summary(w worksheet.Worksheet, h home, doses []time.Time, late int) string {
	var parts []string
	switch n := len(doses); n {
	case 0:
		parts = append(parts, "no dose has a time")
	case 1:
		parts = append(parts, "1 dose, "+h.at(doses[0]).Words)
	default:
		parts = append(parts, fmt.Sprintf("%s, %s to %s", count(n, "dose"), notation.Instant(doses[0].In(h.zone), ""), notation.Instant(doses[n-1].In(h.zone), "")))
	}
	parts = append(parts, count(len(w.Deliveries), "delivery"))
	if late > 0 {
		parts = append(parts, fmt.Sprintf("%s that would start too late or run too long", count(late, "dose")))
	}
	if !w.Schedule.Complete {
		parts = append(parts, "the list of doses is not complete")
	}
	return joined(parts) + "."
}
