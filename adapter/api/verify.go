package api

import (
	"compress/gzip"
	"errors"
	"io"
	"net/http"
	"os"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/r4"
)

// verify is the operation $verify: a Bundle, or Parameters that hold one, is
// judged at release and nothing is kept. Whatever is found, the answer is 200
// with a Bundle; 400 is a document that cannot be read, 422 one that holds no
// order that could be judged.
func (d *door) verify(w http.ResponseWriter, r *http.Request) {
	if wantsLines(r) {
		d.verifyLines(w, r)
		return
	}
	if x := acceptable(r); x != nil {
		d.refuse(w, r, *x)
		return
	}
	data, release := d.whole(w, r)
	if release == nil {
		return
	}
	defer release()
	order, request, x := d.asked(data)
	if x != nil {
		d.refuse(w, r, *x)
		return
	}
	answer := adapter.Verify(order, request)
	if len(answer.Faults) > 0 {
		status := http.StatusBadRequest
		if onlyUnsupported(answer.Faults) {
			status = http.StatusUnprocessableEntity
		}
		d.send(w, r, status, r4.WriteFaults(answer.Faults, requestID(r)))
		return
	}
	write := r4.WriteBundlesLine
	if r.URL.Query().Get("_pretty") == "true" {
		write = r4.WriteBundles
	}
	d.send(w, r, http.StatusOK, write(answer.Worksheets))
}

func onlyUnsupported(faults []finding.Finding) bool {
	for _, f := range faults {
		if f.Code != "document-unsupported" {
			return false
		}
	}
	return true
}

// body reads what was sent, unpacked, within the limit.
func (d *door) body(w http.ResponseWriter, r *http.Request) ([]byte, *refusal) {
	if !isJSON(r.Header.Get("Content-Type")) {
		return nil, &refusal{status: http.StatusUnsupportedMediaType, issue: "not-supported", code: "media-not-read", what: "only FHIR R4 as JSON in UTF-8 is read", todo: "Client: send application/fhir+json.", at: "Content-Type"}
	}
	return d.unpacked(w, r)
}

// unpacked reads a body of any type.
func (d *door) unpacked(w http.ResponseWriter, r *http.Request) ([]byte, *refusal) {
	tooLong := &refusal{status: http.StatusRequestEntityTooLarge, issue: "too-long", code: "body-too-long", what: "the body is longer than is read", todo: "Client: send fewer orders at a time."}
	sent := &counted{Reader: http.MaxBytesReader(w, r.Body, d.Limits.Body)}
	var from io.Reader = sent
	switch r.Header.Get("Content-Encoding") {
	case "", "identity":
	case "gzip":
		unpacked, err := gzip.NewReader(from)
		if err != nil {
			return nil, unreadableBody()
		}
		from = unpacked
	default:
		return nil, &refusal{status: http.StatusUnsupportedMediaType, issue: "not-supported", code: "media-not-read", what: "this coding of the body is not read", todo: "Client: send it as it is, or with gzip.", at: "Content-Encoding"}
	}
	data, err := io.ReadAll(io.LimitReader(&swelling{from, sent, 0}, d.Limits.Body+1))
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long), errors.Is(err, errSwells), err == nil && int64(len(data)) > d.Limits.Body:
		return nil, tooLong
	case errors.Is(err, os.ErrDeadlineExceeded):
		return nil, &refusal{status: http.StatusRequestTimeout, issue: "timeout", code: "body-unreadable", what: "the body did not come in time", todo: "Client: send it again, without a pause."}
	case err != nil:
		return nil, unreadableBody()
	}
	return data, nil
}

// counted counts what is read.
type counted struct {
	io.Reader
	n int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.Reader.Read(p)
	c.n += int64(n)
	return n, err
}

// swelling fails where unpacking gives more than mostRatio times what was
// sent, which no order does; small bodies may.
type swelling struct {
	io.Reader
	sent *counted
	n    int64
}

const (
	mostRatio = 20
	smallBody = 1 << 20
)

var errSwells = errors.New("a body that swells when it is unpacked")

func (s *swelling) Read(p []byte) (int, error) {
	n, err := s.Reader.Read(p)
	if s.n += int64(n); s.n > smallBody && s.n > mostRatio*s.sent.n {
		return 0, errSwells
	}
	return n, err
}

func unreadableBody() *refusal {
	return &refusal{status: http.StatusBadRequest, issue: "structure", code: "body-unreadable", what: "the body ends early or cannot be unpacked", todo: "Client: send it again, whole."}
}

// asked takes the order, the clock and the policy out of Parameters; any other
// resource is the order itself.
func (d *door) asked(data []byte) ([]byte, adapter.Request, *refusal) {
	request := adapter.Request{Now: d.Now(), Stage: finding.Release, Reference: d.Reference, Judges: d.Judges}
	doc, _ := element.Read(data, element.Limit{})
	root := doc.Root()
	if root.Get("resourceType").Text() != "Parameters" {
		return data, request, nil
	}
	wrong := func(name, what, todo string) ([]byte, adapter.Request, *refusal) {
		return nil, request, &refusal{status: http.StatusBadRequest, issue: "invalid", code: "parameter-malformed", what: what, todo: todo, at: "Parameters.parameter.where(name='" + name + "')"}
	}
	var order []byte
	for _, p := range root.Get("parameter").Each() {
		switch name := p.Get("name").Text(); name {
		case "order":
			if order != nil || !p.Get("resource").Exists() {
				return wrong(name, "order is there twice, or is no resource", "Client: send one parameter order with the Bundle as its resource.")
			}
			order = p.Get("resource").Raw()
		case "now":
			at, err := time.Parse(time.RFC3339, p.Get("valueInstant").Text())
			if err != nil {
				return wrong(name, "now is no instant", "Client: send valueInstant with date, time and zone.")
			}
			request.Now = at
		case "policy":
			site, err := policy.Load([]byte(p.Get("valueString").Text()))
			if err != nil {
				return wrong(name, "policy cannot be read", "Client: check it with weir tables check, which names line and column.")
			}
			if request.Reference, err = adapter.Reference(site, d.Reference.Shipped, d.Reference.Signatures); err != nil {
				return wrong(name, "policy sets a number that the tables refuse", "Client: check it with weir tables check, which names line and column.")
			}
		default:
			return wrong("", "a parameter is not known", "Client: send order, now and policy only.")
		}
	}
	if order == nil {
		return wrong("order", "there is no order", "Client: send one parameter order with the Bundle as its resource.")
	}
	return order, request, nil
}
