package intake

import (
	"encoding/hex"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
	"weir.example/weir/mapping/worksheet"
)

// outputs writes what an order gives, as far as it says anything else than
// what is stored, and cancels what no longer follows. It gives the time at
// which the first open task is due, and whether anything was written.
func (t *taking) outputs(l *line, patient string, w worksheet.Worksheet) (time.Time, bool, error) {
	return t.put(l, patient, r4.WriteStored(w))
}

// put writes outputs; one without content is there as it was.
func (t *taking) put(l *line, patient string, list []r4.Made) (time.Time, bool, error) {
	var due time.Time
	var proof *r4.Made
	written := false
	follows := map[string]bool{}
	for _, m := range list {
		if m.Type == "Provenance" { // one for each time anything is written
			proof = &m
			continue
		}
		if l.Over && m.Type != "DetectedIssue" && (m.Type != "Task" || m.Task.Code == "") {
			continue // what has ended is not planned on
		}
		follows[m.Type+"/"+m.ID] = true
		if !m.Empty() {
			changed, err := t.output(l, patient, m)
			if err != nil {
				return due, written, err
			}
			written = written || changed
		}
		if m.Type == "Task" && !l.done(m.ID) {
			at, _ := time.Parse(time.RFC3339, m.Task.Due)
			due = firstDue(due, at)
		}
	}
	before := len(t.effect.Resources)
	if err := t.retire(l, patient, follows); err != nil {
		return due, written, err
	}
	written = written || len(t.effect.Resources) > before
	if written && proof != nil {
		if _, err := t.output(l, patient, *proof); err != nil {
			return due, written, err
		}
	}
	return due, written, nil
}

func (l *line) done(task string) bool {
	return slices.ContainsFunc(l.Outputs, func(o output) bool { return o.Type == "Task" && o.ID == task && o.Done })
}

// output writes one resource unless it is stored with the same content.
func (t *taking) output(l *line, patient string, m r4.Made) (bool, error) {
	sum := hex.EncodeToString(m.Sum[:8]) // a hundred of them are kept with an order; two contents of one resource share one once in 2^64
	i := slices.IndexFunc(l.Outputs, func(o output) bool { return o.Type == m.Type && o.ID == m.ID })
	if i < 0 {
		l.Outputs = append(l.Outputs, output{Type: m.Type, ID: m.ID})
		i = len(l.Outputs) - 1
	}
	o := &l.Outputs[i]
	if strings.HasPrefix(o.Sum, sum) && !o.Gone || o.moved { // what somebody says now is not written over by the same call
		return false, nil
	}
	o.Sum, o.Gone, o.Done, o.Version = sum, false, false, o.Version+1
	n, err := t.write(*o, patient, l.Key, m.JSON())
	if err != nil {
		return false, err
	}
	if m.Type == "Task" {
		o.Code, o.Role, o.Due = "", "", time.Time{}
		if n.Get("status").Text() == "requested" && m.Task.Code != "" { // the parent has none
			o.Code, o.Role = m.Task.Code, m.Task.Role
			o.Due, _ = time.Parse(time.RFC3339, n.Get("restriction").Get("period").Get("end").Text())
		}
	}
	return true, nil
}

// write puts a version of a resource of ours into the effect, and gives it as
// read until the next is written.
func (t *taking) write(o output, patient, key string, body []byte) (element.Node, error) {
	doc := t.written.Read(body, 1)
	r := adapter.Resource{Type: o.Type, ID: o.ID, Version: o.Version, Created: t.call.Now, Updated: t.call.Now, Patient: patient, Order: key, JSON: body}
	r.Identifiers, r.Values = index.Of(doc.Root())
	t.effect.Resources = append(t.effect.Resources, r)
	return doc.Root(), nil
}

// withdrawn is the status of what no longer follows from the order. A
// Provenance stays: it says what was.
var withdrawn = map[string]string{"MedicationDispense": "cancelled", "Task": "cancelled", "SupplyRequest": "cancelled", "DetectedIssue": "cancelled",
	"DeviceRequest": "revoked", "ServiceRequest": "revoked", "CarePlan": "revoked"}

// retire withdraws the outputs of an order that do not follow any more.
func (t *taking) retire(l *line, patient string, follows map[string]bool) error {
	for i := range l.Outputs {
		o := &l.Outputs[i]
		status := withdrawn[o.Type]
		if status == "" || o.Gone || follows[o.Type+"/"+o.ID] {
			continue
		}
		if o.Done { // what was done stays done
			o.Gone = true
			continue
		}
		if o.moved { // withdrawn at the next look
			continue
		}
		r, err := t.Store.Get(t.ctx, o.Type, o.ID)
		if err != nil {
			return err
		}
		v := element.Edit(element.RawNode(element.ReadAgain(r.JSON, 1).Root()), element.F("status", element.Str(status)))
		if o.Type == "Task" {
			v = element.Edit(v, element.F("lastModified", element.Str(t.call.Now.Format(time.RFC3339))))
		}
		o.Gone, o.Version = true, r.Version+1
		o.Code, o.Role, o.Due = "", "", time.Time{}
		if _, err := t.write(*o, patient, l.Key, element.Compact(v)); err != nil {
			return err
		}
	}
	return nil
}
