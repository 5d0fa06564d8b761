package intake

import (
	"context"

	"weir.example/weir/adapter"
)

// Open notes that a person looked at an order: in the audit rows each time,
// and with the order the first time, so that the night no longer counts it
// among those that nobody has seen.
func (s *Service) Open(ctx context.Context, call Call, o adapter.OrderLine) error {
	return s.again(func() error {
		t := s.begin(ctx, call)
		t.effect.At = t.call.Now
		t.audit("R", o.Patient, "MedicationRequest/"+o.Resource, "order looked at")
		h, err := t.load(o.Patient)
		if err != nil {
			return err
		}
		if l := h.order(o.Key); l != nil && l.Opened.IsZero() {
			l.Opened = t.call.Now
			if err := t.keep(h, o.Patient); err != nil {
				return err
			}
		}
		return s.Store.Commit(ctx, t.effect)
	})
}
