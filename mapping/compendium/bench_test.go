package compendium_test

import (
	"encoding/json"
	"testing"

	"weir.example/weir/mapping/compendium"
)

// Reading all tables, against the same bytes read by the JSON library alone.
func BenchmarkLoad(b *testing.B) {
	files := compendium.Shipped()
	b.Run("tables", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := compendium.Load(files); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("baseline", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			for _, name := range files.Drugs() {
				var v any
				if err := json.Unmarshal(files[name], &v); err != nil {
					b.Fatal(err)
				}
			}
		}
	})
}

// Finding a drug by its code and two ingredients, against one map access.
func BenchmarkFind(b *testing.B) {
	tables := compendium.Embedded()
	asked := compendium.Asked{Item: compendium.Item{RxNorm: []string{"11124"}, Names: []string{"vancomycin 1,250 mg in sodium chloride 0.9 %"}},
		Ingredients: []compendium.Item{{RxNorm: []string{"11124"}, Names: []string{"vancomycin"}}, {Names: []string{"sodium chloride 0.9 % injection"}}}}
	b.Run("find", func(b *testing.B) {
		for b.Loop() {
			if _, why := tables.Find(asked); why != "" {
				b.Fatal(why)
			}
		}
	})
	b.Run("hazard", func(b *testing.B) {
		for b.Loop() {
			tables.Hazard(asked)
		}
	})
	b.Run("baseline", func(b *testing.B) {
		m := map[string]int{"11124": 1}
		for b.Loop() {
			if m["11124"] != 1 {
				b.Fatal()
			}
		}
	})
}
