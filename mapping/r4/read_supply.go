package r4

import (
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// readSupplies reads what the hospital already asks for: supply requests, and
// device requests that name an item of the kit.
func (c *caseScope) readSupplies() {
	for _, s := range c.mineOf("SupplyRequest") {
		if !inForce(s) {
			s.used = false
			continue
		}
		n := s.node
		item := concept(n.Get("itemCodeableConcept"))
		if ref := n.Get("itemReference"); ref.Exists() {
			item = order.Concept{Text: ref.Get("display").Text(), Place: ref.Place()}
			if t := c.touch(ref, s); t != nil {
				for _, name := range []string{"code", "type"} {
					if x := concept(t.node.Get(name)); !x.Absent() {
						item = x
					}
				}
			}
		}
		v := order.Supply{Item: kitItem(item), Text: item.Name(), Status: n.Get("status").Text(), Place: n.Place()}
		if q, ok := c.quantity(n.Get("quantity")); ok {
			v.Quantity = q.value
		}
		for _, x := range n.Get("extension").Each() {
			if x.Get("url").Text() == fromR5+"SupplyRequest.basedOn" {
				v.Basis = append(v.Basis, c.nameOf(x.Get("valueReference"), s))
			}
		}
		c.kase.Supplies = append(c.kase.Supplies, v)
	}
	for _, s := range c.mine {
		if s.kind != "DeviceRequest" || !isKitItem(s) || !c.usable(s) || !inForce(s) {
			continue
		}
		s.used = true
		item := concept(s.node.Get("codeCodeableConcept"))
		v := order.Supply{Item: kitItem(item), Text: item.Name(), Quantity: quantity.Int(1), Status: s.node.Get("status").Text(), Place: s.node.Place()}
		for _, ref := range s.node.Get("basedOn").Each() {
			v.Basis = append(v.Basis, c.nameOf(ref, s))
		}
		c.kase.Supplies = append(c.kase.Supplies, v)
	}
}

func kitItem(c order.Concept) string { return c.Code(ourCodes + "kit-item") }
