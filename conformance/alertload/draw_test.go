package alertload_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"time"
)

// complete is one drawn order with everything a complete one has.
type complete struct {
	card                card
	zone, state         string
	female              bool
	born, now           time.Time
	weight, height, scr string
	dose                string // amount of one dose in card.unit
	rate                string // mL per hour
	given               []time.Time
	discharge           time.Time
	first, end          time.Time
	doses               int
	access              access
	placed              time.Time
	number              int
}

// access is a line by SNOMED CT type.
type access struct {
	code, text string
	lumens     int
	central    bool
}

var lines = []access{
	{"1396526001", "Single lumen PICC", 1, true},
	{"1396489007", "Double lumen PICC", 2, true},
	{"1396546006", "Single lumen tunnelled central venous catheter", 1, true},
	{"1396531004", "Single lumen midline catheter", 1, false},
}

// homes are time zones with a state that lies in one of them.
var homes = [][2]string{{"America/New_York", "NY"}, {"America/Chicago", "IL"}, {"America/Denver", "CO"}, {"America/Los_Angeles", "CA"}}

// draw makes the order of a number: the same number, the same order.
func draw(number int) complete {
	r := rand.New(rand.NewPCG(uint64(number), 20261126))
	o := complete{card: cards[number%len(cards)], number: number}
	home := homes[r.IntN(len(homes))]
	o.zone, o.state = home[0], home[1]
	where, err := time.LoadLocation(o.zone)
	if err != nil {
		panic(err)
	}
	// Monday to Thursday, at a full minute in office hours; no holiday and no
	// clock change to the end of the longest course.
	monday := time.Date(2027, time.January, 4, 0, 0, 0, 0, where).AddDate(0, 0, 7*r.IntN(4))
	day := monday.AddDate(0, 0, r.IntN(4))
	o.now = day.Add(time.Duration(9*60+r.IntN(5*60)) * time.Minute)
	o.body(r)
	o.amounts()
	o.times(r, day)
	o.access = lines[r.IntN(len(lines))]
	length := o.card.days[len(o.card.days)-1]
	if o.card.central || length > 13 {
		o.access = lines[r.IntN(3)]
	}
	o.placed = day.AddDate(0, 0, -r.IntN(3)-1)
	return o
}

// body draws an adult of 25 to 60 years, a body mass index of 20 to 24.9 and
// a clearance (Cockcroft and Gault, Nephron 1976;16:31) of 95 to 140 mL per
// minute: no dose is to be adapted.
func (o *complete) body(r *rand.Rand) {
	for {
		o.female = r.IntN(2) == 0
		years := 25 + r.IntN(36)
		height := 155 + r.IntN(31)
		index := 20 + 4.9*r.Float64()
		weight := math.Round(index*float64(height*height)/1e4*2) / 2
		scr := 0.6 + float64(r.IntN(4))/10
		clearance := float64(140-years) * weight / (72 * scr)
		if o.female {
			clearance *= 0.85
		}
		if clearance < 95 || clearance > 140 {
			continue
		}
		o.born = o.now.AddDate(-years, 0, -1-r.IntN(300))
		o.weight, o.height, o.scr = number(weight), number(float64(height)), number(math.Round(scr*10)/10)
		return
	}
}

// number writes without a trailing zero.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func read(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		panic(err)
	}
	return x
}

// amounts reckons the dose by weight where the card asks for it, and the rate.
func (o *complete) amounts() {
	o.dose = o.card.dose
	if o.card.perKg != "" {
		step := read(o.card.step)
		round := math.Round
		if o.card.down {
			round = math.Floor
		}
		o.dose = number(round(read(o.card.perKg)*read(o.weight)/step) * step)
	}
	if rate := float64(o.card.volume) * 60 / float64(o.card.minutes); rate == math.Trunc(rate) {
		o.rate = number(rate)
	}
}

// times lays the doses: in hospital until the discharge next morning, the
// first at home at the next time of the same series, the end between two.
func (o *complete) times(r *rand.Rand, day time.Time) {
	step := time.Duration(o.card.hours) * time.Hour
	hour := []int{17, 18, 19, 20, 21}[r.IntN(5)] // of the first dose at home
	o.discharge = day.AddDate(0, 0, 1).Add(10 * time.Hour)
	o.first = day.AddDate(0, 0, 1).Add(time.Duration(hour) * time.Hour)
	if step < 12*time.Hour { // the first of the series that leaves time to deliver and to teach
		o.first = day.AddDate(0, 0, 1).Add(time.Duration(16+r.IntN(2)) * time.Hour)
		o.discharge = o.first.Add(-step + 90*time.Minute)
		if o.discharge.Hour() < 8 {
			o.discharge = day.AddDate(0, 0, 1).Add(8*time.Hour + 30*time.Minute)
		}
	}
	switch {
	case o.card.backup: // never without it: the pump for home is connected at the bedside
		o.first = day.AddDate(0, 0, 1).Add(14 * time.Hour)
		o.discharge = o.first
	case o.continuous() || r.IntN(2) == 0: // the order comes on the morning of the discharge, not the day before
		o.now = o.discharge.Add(-time.Duration(30+r.IntN(60)) * time.Minute)
	}
	for at := o.first.Add(-step); len(o.given) < 4; at = at.Add(-step) {
		if at.Before(o.now) {
			o.given = append(o.given, at)
		}
		if step > 48*time.Hour && len(o.given) > 0 {
			break
		}
	}
	length := time.Duration(o.card.days[r.IntN(len(o.card.days))]) * 24 * time.Hour
	o.doses = max(1, int(length/step))
	last := o.first.Add(time.Duration(o.doses-1) * step)
	o.end = last.Add(step / 2)
	if o.doses == 1 {
		o.end = last.Add(time.Hour)
	}
}

// continuous: one container follows the other.
func (o complete) continuous() bool { return o.card.minutes == 60*o.card.hours }

func (o complete) name() string {
	return fmt.Sprintf("%d %s %s %s every %d h", o.number, o.card.name, o.dose, o.card.unit, o.card.hours)
}
