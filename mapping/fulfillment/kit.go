package fulfillment

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"sync"

	"weir.example/weir/mapping/quantity"
)

//go:embed kit.json
var kitFile []byte

// KitRow is one row of the kit table.
type KitRow struct {
	Item, Name, Unit string
	Per              string // dose day week draw delivery first
	Count            int
	Spare            string // none one two rate
	Drug             bool   // holds the drug itself: another unit at home never takes its place
	When             []string
	Source           string
}

// KitRows returns the kit table.
var KitRows = sync.OnceValue(func() []KitRow {
	var file struct{ Rows []KitRow }
	if err := json.Unmarshal(kitFile, &file); err != nil || len(file.Rows) == 0 {
		panic(fmt.Sprint("kit table: ", err)) // a fault of this build, caught by the first test
	}
	return file.Rows
})

// KitFile returns the embedded kit table, for the schema check.
func KitFile() []byte { return kitFile }

// KitItem is one line of a delivery's kit. Delivery counts from 1.
type KitItem struct {
	Item, Name, Unit, Formula, Source string
	Quantity, Delivery                int
}

// Kit counts the supplies of every delivery, with the arithmetic shown.
func Kit(s Situation) []KitItem {
	var out []KitItem
	for i, load := range s.Deliveries {
		for _, row := range KitRows() {
			if !s.all(row.When) || row.Per == "first" && i > 0 {
				continue
			}
			times, words := row.times(load)
			if times == 0 {
				continue
			}
			k := KitItem{Item: row.Item, Name: row.Name, Unit: row.Unit, Source: row.Source, Delivery: i + 1}
			k.Quantity, k.Formula = row.count(times, words, s)
			if i == 0 {
				k.takeStock(row, load.Before, s.Stock)
			}
			out = append(out, k)
		}
	}
	return out
}

// takeStock takes off what the home still has, less what is used of it until
// the first dose of the delivery. Without a schedule for that stretch nothing
// is taken off: one item too many is a cost, one too few a missed dose.
func (k *KitItem) takeStock(r KitRow, until Use, stock []Stock) {
	i := slices.IndexFunc(stock, func(x Stock) bool { return x.Item == r.Item })
	if i < 0 || r.Drug {
		return
	}
	have := stock[i]
	k.Formula += fmt.Sprintf("; %d at home on %s", have.Count, have.On)
	if !until.Known {
		k.Formula += ", not taken off: how many of them are used until then is not known"
		return
	}
	used, _ := r.times(Load{Doses: until.Doses, DaysSupply: until.Days, Draws: until.Draws})
	used = min(used*r.Count, have.Count)
	if r.Per == "delivery" || r.Per == "first" {
		used = 0
	}
	off := min(have.Count-used, k.Quantity)
	k.Quantity -= off
	k.Formula += fmt.Sprintf(", %d used until then: %d taken off; %d to send", used, off, k.Quantity)
}

func (r KitRow) times(l Load) (int, string) {
	switch r.Per {
	case "dose":
		return l.Doses, fmt.Sprintf("%d a dose × %s", r.Count, counted(l.Doses, "dose"))
	case "day":
		return l.DaysSupply, fmt.Sprintf("%d a day × %s", r.Count, counted(l.DaysSupply, "day"))
	case "week":
		weeks := (l.DaysSupply + 6) / 7
		return weeks, fmt.Sprintf("%d a week × %s", r.Count, counted(weeks, "week"))
	case "draw":
		return l.Draws, fmt.Sprintf("%d a blood draw × %s", r.Count, counted(l.Draws, "draw"))
	case "first":
		return 1, fmt.Sprintf("%d with the first delivery", r.Count)
	}
	return 1, fmt.Sprintf("%d a delivery", r.Count)
}

func counted(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

func (r KitRow) count(times int, words string, s Situation) (int, string) {
	base := r.Count * times
	spare := 0
	switch r.Spare {
	case "one":
		spare = 1
		words = fmt.Sprintf("%s = %d; 1 spare", words, base)
	case "two":
		spare = 2
		words = fmt.Sprintf("%s = %d; 2 spare", words, base)
	case "rate":
		up, _ := quantity.Int(int64(base)).Mul(s.SpareRate).Ceil()
		spare = max(int(up), s.SpareLeast)
		words = fmt.Sprintf("%s = %d; spare %s %% of %d rounded up, at least %d = %d", words, base,
			s.SpareRate.Mul(quantity.Int(100)).Decimal(), base, s.SpareLeast, spare)
	}
	return base + spare, fmt.Sprintf("%s; %d in all", words, base+spare)
}
