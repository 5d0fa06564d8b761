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
	Line      int // of the NDJSON file whose line the document is, from 1; 0 when it is none. Faults are placed in the file, findings in the document
}

// Judgement is faults when the document could not be accepted, else one
// worksheet for each order in document order.
type Judgement struct {
	Faults     []finding.Finding
	Worksheets []worksheet.Worksheet
}

// Judge runs all steps on one document.
func Judge(in Input) Judgement {
	doc, faults := accept(in.Document, min(in.Line, 1), in.Judges)
	if len(faults) > 0 && in.Line > 1 {
		_, faults = accept(in.Document, in.Line, in.Judges) // again, with places of the file
	}
	if len(faults) > 0 {
		return Judgement{Faults: faults}
	}
	readCases := r4.ReadCases
	if in.Lenient {
		readCases = r4.ReadLenient
	}
	cases, faults := readCases(doc, in.Now)
	if len(faults) > 0 {
		for i := range faults {
			faults[i].Place.Line += max(in.Line-1, 0)
		}
		return Judgement{Faults: faults}
	}
	document := Hash(in.Document)
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

// accept reads a document and judges whether it is FHIR R4. Line is its line
// in an NDJSON file, 0 when it is no line of one.
func accept(data []byte, line int, judges []schema.Judge) (*element.Document, []finding.Finding) {
	doc, faults := (*element.Document)(nil), []finding.Finding(nil)
	if line > 0 {
		doc, faults = element.ReadLine(data, element.Limit{}, line)
	} else {
		doc, faults = element.Read(data, element.Limit{})
	}
	if len(faults) > 0 {
		return doc, faults
	}
	return doc, schema.Check(doc, judges...)
}

// Hash is how a document is named in an answer: its SHA-256 in hex.
func Hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
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
	states := make([]*state, 0, len(c.Orders))
	for _, o := range c.Orders {
		states = append(states, prepare(c, o, ref, now))
	}
	layOut(states) // all orders share the patient's line
	out := make([]worksheet.Worksheet, 0, len(states))
	for _, s := range states {
		out = append(out, s.worksheet(at))
	}
	return out
}
