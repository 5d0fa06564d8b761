package conformance

import (
	"crypto/sha256"
	"encoding/hex"
	"time"

	"weir.example/weir/conformance/schema"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// Input is everything a judgement rests on.
type Input struct {
	Document  []byte
	Held      order.Held
	Reference policy.Reference
	Judges    []schema.Judge
	Now       time.Time
	Stage     finding.Stage
	Lenient   bool
}

// Judgement is faults when the document could not be accepted, else one
// worksheet for each order in document order.
type Judgement struct {
	Faults     []finding.Finding
	Worksheets []worksheet.Worksheet
}

// Judge runs all steps on one document.
func Judge(in Input) Judgement {
	doc, faults := element.Read(in.Document, element.Limit{})
	if len(faults) > 0 {
		return Judgement{Faults: faults}
	}
	if faults = schema.Check(doc, in.Judges...); len(faults) > 0 {
		return Judgement{Faults: faults}
	}
	readCases := r4.ReadCases
	if in.Lenient {
		readCases = r4.ReadLenient
	}
	cases, faults := readCases(doc, in.Now)
	if len(faults) > 0 {
		return Judgement{Faults: faults}
	}
	sum := sha256.Sum256(in.Document)
	document := hex.EncodeToString(sum[:])
	var out []worksheet.Worksheet
	for _, c := range cases {
		c.Held = held(c.Held, in.Held)
		for _, w := range JudgeCase(c, in.Reference, in.Now, in.Stage) {
			w.Sources.Document = document
			out = append(out, w)
		}
	}
	return Judgement{Worksheets: out}
}

// held joins what the document says was prepared with what the caller holds.
func held(read, given order.Held) order.Held {
	read.Versions = append(read.Versions, given.Versions...)
	read.Prepared = append(read.Prepared, given.Prepared...)
	read.Overrides = append(read.Overrides, given.Overrides...)
	read.Hash = given.Hash
	return read
}

// JudgeCase judges every order of one patient: the steps behind reading. The
// nightly job calls it on a stored case with a new clock.
func JudgeCase(c order.Case, ref policy.Reference, now time.Time, at finding.Stage) []worksheet.Worksheet {
	ref = ref.At(now)
	out := make([]worksheet.Worksheet, 0, len(c.Orders))
	for _, o := range c.Orders {
		s := prepare(c, o, ref, now)
		out = append(out, s.worksheet(at))
	}
	return out
}
