package plan

import (
	"errors"
	"fmt"
	"time"

	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// Running is one infusion under way at one steady flow. Fill is what was in
// the device at the start and Residual what stays in it when it has stopped
// (zero: not known), both in one unit of volume; Concentration is drug per
// volume.
type Running struct {
	Start             time.Time
	Fill, Residual    quantity.Number
	Volume            quantity.Unit
	Concentration     quantity.Quantity
	Drug              quantity.Unit // in which drug is told: mg
	Nominal           time.Duration // for the whole fill
	Shortest, Longest time.Duration // zero: no tolerance is known
}

// How far an infusion is against its window.
const (
	Inside = "inside" // between what the fastest and the slowest flow leave, both included
	Early  = "early"  // less left than the fastest flow leaves
	Late   = "late"   // more left than the slowest flow leaves
	Unsaid = "no tolerance known"
)

// Expected is the volume left at an instant: at the fastest, the nominal and
// the slowest flow. Least is 0 once the fastest flow has ended. Without a
// tolerance Least and Most are Nominal.
type Expected struct {
	At                   time.Time
	Least, Nominal, Most quantity.Number
}

// Remaining is what a volume left means.
type Remaining struct {
	Expected
	Left          quantity.Number // volume
	Given, ToGive quantity.Number // drug
	Share         quantity.Number // of the drug given, 0 to 1
	TimeLeft      time.Duration   // at the nominal flow, until it stops by itself, rounded up to the second
	State         string          // Inside, Early, Late, Unsaid
	Call          bool
	Says          string
}

// CallAbove is the share of the fill left after the latest end at which a
// nurse calls before anything is disconnected or thrown away (common
// practice, no source).
var CallAbove = quantity.Ratio(1, 10)

// Expect is the volume left at an instant at each flow, exactly: between the
// residual and the fill. Once the fastest flow has ended the least is nothing,
// since a device may empty itself further than usual.
func (r Running) Expect(at time.Time) Expected {
	nominal := r.leftOf(at, r.Nominal)
	e := Expected{At: at, Least: nominal, Nominal: nominal, Most: nominal}
	if r.Shortest > 0 && r.Longest > 0 {
		e.Least, e.Most = r.leftOf(at, r.Shortest), r.leftOf(at, r.Longest)
		if r.fastestEnded(at) {
			e.Least = quantity.Number{}
		}
	}
	return e
}

// fastestEnded: at the fastest flow only the residual is left. Shortest is for
// the whole fill, so that is after Shortest × (Fill − Residual) ÷ Fill.
func (r Running) fastestEnded(at time.Time) bool {
	gone, whole := quantity.Int(int64(at.Sub(r.Start))), quantity.Int(int64(r.Shortest))
	return !gone.Mul(r.Fill).Less(whole.Mul(r.Fill.Sub(r.Residual)))
}

func (r Running) leftOf(at time.Time, whole time.Duration) quantity.Number {
	gone := at.Sub(r.Start)
	if gone <= 0 {
		return r.Fill
	}
	left := r.Fill.Mul(quantity.Int(1).Sub(quantity.Ratio(int64(gone), int64(whole))))
	return quantity.Greatest(left, r.Residual)
}

// Left is what a volume left at an instant means. It fails for a volume that
// cannot be left, an instant before the start, and where fill, time or
// concentration are not known.
func (r Running) Left(left quantity.Number, at time.Time) (Remaining, error) {
	switch {
	case r.Fill.Sign() <= 0 || r.Nominal <= 0 || r.Start.IsZero():
		return Remaining{}, errors.New("fill, start or time of the infusion is not known")
	case r.Residual.Sign() < 0 || !r.Residual.Less(r.Fill):
		return Remaining{}, errors.New("what stays in the device is not between nothing and the fill")
	case r.Concentration.Absent() || !r.Concentration.IsPoint() || r.Concentration.Low.Sign() <= 0:
		return Remaining{}, errors.New("the concentration is not known")
	case at.Before(r.Start):
		return Remaining{}, fmt.Errorf("%s is before the start, %s", notation.Instant(at, ""), notation.Instant(r.Start, ""))
	case left.Sign() < 0 || r.Fill.Less(left):
		return Remaining{}, fmt.Errorf("%s left is not between nothing and the fill, %s", r.volume(left), r.volume(r.Fill))
	}
	x := Remaining{Expected: r.Expect(at), Left: left}
	drug := func(v quantity.Number) quantity.Number {
		base, _ := r.Concentration.Base()
		return r.Drug.FromBase(r.Volume.ToBase(v).Mul(base))
	}
	x.Given, x.ToGive = drug(r.Fill.Sub(left)), drug(left)
	x.Share = r.Fill.Sub(left).Quo(r.Fill)
	if more := left.Sub(r.Residual); more.Sign() > 0 {
		ns, _ := more.Quo(r.Fill).Mul(quantity.Int(int64(r.Nominal))).Quo(nano).Ceil()
		x.TimeLeft = time.Duration(ns) * time.Second
	}
	r.judge(&x)
	return x, nil
}

// judge says where in its window the infusion is and what follows (bedside
// order of trade practice; the instructions of the device rule): less left
// than the fastest flow leaves is too much given, so clamp and call; more
// than a tenth left when even the slowest flow has ended is a call; before
// that one waits and looks for what stops the flow.
func (r Running) judge(x *Remaining) {
	windowed := r.Shortest > 0 && r.Longest > 0
	over := !x.At.Before(r.Start.Add(max(r.Longest, r.Nominal)))
	much := r.Fill.Mul(CallAbove).Less(x.Left)
	switch {
	case windowed && x.Left.Less(x.Least):
		x.State = Early
	case windowed && x.Most.Less(x.Left):
		x.State = Late
	case windowed:
		x.State = Inside
	default:
		x.State = Unsaid
	}
	facts := fmt.Sprintf("%s left: %s given (%s), %s not given; between %s and %s would be expected",
		r.volume(x.Left), r.drug(x.Given), notation.Code(x.Share.Mul(quantity.Int(100)).Places(0), "%"), r.drug(x.ToGive), r.volume(x.Least), r.volume(x.Most))
	if !windowed {
		facts = fmt.Sprintf("%s left: %s given (%s), %s not given; about %s would be expected, and how far the device may be off is not known",
			r.volume(x.Left), r.drug(x.Given), notation.Code(x.Share.Mul(quantity.Int(100)).Places(0), "%"), r.drug(x.ToGive), r.volume(x.Nominal))
	}
	next := "it runs as expected"
	switch {
	case x.State == Early:
		x.Call, next = true, "faster than the device may run: clamp, keep the device, note the times and call; verify the volume before anything is treated"
	case over && much:
		x.Call, next = true, "more than "+r.volume(r.Fill.Mul(CallAbove))+" left after the latest end: call before it is disconnected or thrown away; the prescriber chooses longer, within its limit in use, or stop"
	case x.Left.Equal(r.Fill) && x.Most.Less(r.Fill.Sub(r.Fill.Mul(CallAbove))):
		x.Call, next = true, "nothing has run: check clamps and kinks, and treat it as no blood return"
	case x.State == Late && over:
		next = "it may be disconnected; write down what is left"
	case x.State == Late:
		next = "slower than the device may run: look for a clamp, a kink, a covered filter, a cold restrictor, a device that lies low; wait until the latest end, never squeeze or fill up"
	case over:
		next = "it may be disconnected; write down what is left"
	case x.State == Unsaid:
		next = "whether that is early or late cannot be told"
	}
	x.Says = facts + ". " + next
}

func (r Running) volume(n quantity.Number) string {
	return notation.Code(n.Significant(4), r.Volume.Code())
}

func (r Running) drug(n quantity.Number) string {
	return notation.Code(n.Significant(4), r.Drug.Code())
}
