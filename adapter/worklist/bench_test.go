package worklist_test

import "testing"

// BenchmarkPages serves a page of the list with 20 orders, and the page of one.
func BenchmarkPages(b *testing.B) {
	s, list := seeded(b, scenarios(b))
	h := pages(s).Handler()
	for name, path := range map[string]string{"list": "/", "order": list[0].Path} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				get(b, h, path)
			}
		})
	}
}
