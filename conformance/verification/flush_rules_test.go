package verification

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/order"
)

// flaggedAs gives the drug of the order a flag and its flush fluid.
func flaggedAs(name string, flags ...string) func(*world) {
	return func(w *world) {
		forDrug(name)(w)
		for _, f := range flags {
			w.drug.Flags = append(w.drug.Flags, compendium.Flag{Flag: f, Standing: compendium.Sourced, Source: "test row"})
		}
		w.drug.Facts = append(w.drug.Facts[:len(w.drug.Facts):len(w.drug.Facts)], fact("flush", "flush_fluid", "all", compendium.Value{List: []string{"D5W"}}))
	}
}

// flushWith adds a flush order.
func flushWith(fluid string, change func(*order.Order)) func(*world) {
	return alsoOrdered("flush", fluid, "", "", change)
}

func lumens2(n int) func(*world) { return func(w *world) { w.kase.Access[0].Lumens = n } }

func byLumen(lumen string) func(*world) { return func(w *world) { w.order.Lumen = lumen } }

// dialysisLine turns the line into one for dialysis, by its words.
func dialysisLine(w *world) {
	w.kase.Access[0].Kind, w.kase.Access[0].Ref = "tunnelled", "Device/dialysis"
	w.kase.Access[0].Type = concept("Tunnelled hemodialysis catheter, double lumen")
}

func secondLine(w *world) {
	w.kase.Access = append(w.kase.Access, order.Access{Kind: "picc", Ref: "Device/picc", Place: place("access[1]")})
}

// lockWords gives the lock its volume and words.
func lockWords(volume, words string) func(*world) {
	return func(w *world) {
		l := &w.kase.Related[0]
		if volume != "" {
			l.Stated = append(l.Stated, stated("dose", volume, "mL", order.Coded))
		}
		l.Directions = []order.Direction{{Text: words}}
	}
}

// orderSays gives the order for the infusion its words.
func orderSays(words string) func(*world) {
	return func(w *world) { w.order.Directions = append(w.order.Directions, order.Direction{Text: words}) }
}

// infusionSays gives the infusions of the case these words.
func infusionSays(words string) func(*world) {
	return func(w *world) {
		w.order.Directions = []order.Direction{{Text: words}}
		w.kase.Orders = []order.Order{w.order}
	}
}

// codedLock gives the lock a code and no name.
func codedLock(system, code string) func(*world) {
	return func(w *world) {
		w.kase.Related[0].Drug = order.Drug{Concept: order.Concept{Codings: []order.Coding{{System: system, Code: code}}}}
	}
}

const drawn = "lock each lumen; withdraw before use"

var flushFixtures = []fixture{
	// Clinical review, additions: above 4 % holds, 30 % and more blocks.
	{rule: "access-lock-citrate", name: "no citrate", want: NotApplicable},
	{rule: "access-lock-citrate", name: "4 %, all stated", want: Pass, change: both(locked("sodium citrate", "0.04", "g/mL"), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "4.1 %", want: Found, says: "citrate 4.1 %", change: both(locked("sodium citrate", "41", "mg/mL"), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "29.9 %", want: Found, says: "29.9 %", change: both(locked("sodium citrate", "0.299", "g/mL"), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "30 % is blocked by the other rule", want: Pass, change: both(locked("sodium citrate", "0.3", "g/mL"), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "the strength in the name alone", want: Pass, change: both(locked("sodium citrate 4 %", "", ""), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "10 % in the name", want: Found, says: "citrate 10 %", change: both(locked("sodium citrate 10%", "", ""), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "4 % by code and 46.7 % in the name is blocked", want: Pass, change: both(locked("sodium citrate 46.7 %", "0.04", "g/mL"), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "no volume", want: Found, says: "without volume", change: both(locked("sodium citrate", "0.04", "g/mL"), lockWords("", drawn))},
	{rule: "access-lock-citrate", name: "nothing on withdrawing or flushing", want: Found, says: "withdraw or flush", change: both(locked("sodium citrate", "0.04", "g/mL"), lockWords("2.5", "after each use"))},
	{rule: "access-lock-citrate", name: "flushed through, and said", want: Pass, change: both(locked("sodium citrate", "0.04", "g/mL"), lockWords("2.5", "may be flushed"))},
	{rule: "access-lock-citrate", name: "which citrate", want: Found, says: "solution", change: both(locked("citrate lock", "0.04", "g/mL"), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "only the strength is missing", want: Indeterminate, missing: Strength, change: both(locked("sodium citrate", "", ""), lockWords("2.5", drawn))},
	{rule: "access-lock-citrate", name: "strength and volume are missing", want: Found, says: "strength and volume", change: both(locked("sodium citrate", "", ""), lockWords("", drawn))},
	{rule: "access-lock-forbidden", name: "citrate 46.7 % in the name beside 4 % by code", want: Found, says: "46.7 %", change: locked("sodium citrate 46.7 %", "0.04", "g/mL")},

	// Semin Dial 2008;21(5):490: up to 1,000 units per mL in a dialysis catheter.
	{rule: "access-lock-forbidden-dialysis", name: "no heparin", want: NotApplicable, change: locked("sodium chloride 0.9 %", "", "")},
	{rule: "access-lock-forbidden-dialysis", name: "100 in a dialysis catheter", want: Pass, change: both(dialysisLine, locked("heparin", "100", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden-dialysis", name: "101 in a dialysis catheter", want: Found, says: "101 units per mL", change: both(dialysisLine, locked("heparin", "101", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden-dialysis", name: "1,000 in a dialysis catheter", want: Found, says: "dialysis", change: both(dialysisLine, locked("heparin", "1000", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden-dialysis", name: "1,001 is blocked by the other rule", want: Pass, change: both(dialysisLine, locked("heparin", "1001", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden-dialysis", name: "100 in a port", want: Pass, change: both(locked("heparin", "100", "[USP'U]/mL"), func(w *world) { w.kase.Access[0].Kind = "port" })},
	{rule: "access-lock-forbidden-dialysis", name: "1,000 in a PICC is blocked by the other rule", want: Pass, change: locked("heparin", "1000", "[USP'U]/mL")},
	{rule: "access-lock-forbidden-dialysis", name: "an apheresis catheter by its kind", want: Found, change: both(func(w *world) { w.kase.Access[0].Kind = "dialysis" }, locked("heparin", "1000", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden-dialysis", name: "strength not read", want: Indeterminate, missing: Strength, change: both(dialysisLine, locked("heparin", "", ""))},
	{rule: "access-lock-forbidden-dialysis", name: "two lines, and the lock names the one for dialysis", want: Found, change: both(dialysisLine, secondLine, locked("heparin", "1000", "[USP'U]/mL"), func(w *world) { w.kase.Related[0].AccessDevice = "Device/dialysis" })},
	{rule: "access-lock-forbidden", name: "1,000 in a dialysis catheter is held by the other rule", want: Pass, change: both(dialysisLine, locked("heparin", "1000", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden", name: "1,001 in a dialysis catheter", want: Found, says: "1,001 units per mL", change: both(dialysisLine, locked("heparin", "1001", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden", name: "two lines, and the lock names neither", want: Found, change: both(dialysisLine, secondLine, locked("heparin", "1000", "[USP'U]/mL"))},
	{rule: "access-lock-forbidden", name: "two lines, and the lock names the other", want: Found, change: both(dialysisLine, secondLine, locked("heparin", "1000", "[USP'U]/mL"), func(w *world) { w.kase.Related[0].AccessDevice = "Device/picc" })},
	{rule: "access-lock-forbidden", name: "a dialysis catheter that was removed", want: Found, change: both(dialysisLine, secondLine, locked("heparin", "1000", "[USP'U]/mL"), func(w *world) { w.kase.Access[0].Removed = ago(oneDay) })},

	// Row h5: amphotericin and dalbavancin fall out in sodium chloride.
	{rule: "access-flush-fluid", name: "a drug that bears saline", want: NotApplicable, change: flushWith("sodium chloride 0.9 %", nil)},
	{rule: "access-flush-fluid", name: "saline only", want: Found, says: "only flush", change: both(flaggedAs("amphotericin b liposomal", compendium.NeverSaline), lumens2(1), flushWith("sodium chloride 0.9 %", nil))},
	{rule: "access-flush-fluid", name: "dextrose before and after", want: Pass, change: both(flaggedAs("amphotericin b liposomal", compendium.NeverSaline), lumens2(1), flushWith("dextrose 5 % in water", nil))},
	{rule: "access-flush-fluid", name: "saline behind dextrose", want: Pass, change: both(flaggedAs("amphotericin b liposomal", compendium.NeverSaline), lumens2(1), flushWith("sodium chloride 0.9 %", nil), flushWith("dextrose 5 %", nil))},
	{rule: "access-flush-fluid", name: "saline, and the dextrose flush was stopped", want: Found, change: both(flaggedAs("amphotericin b liposomal", compendium.NeverSaline), lumens2(1), flushWith("sodium chloride 0.9 %", nil), flushWith("dextrose 5 %", func(o *order.Order) { o.Status = "stopped" }))},
	{rule: "access-flush-fluid", name: "saline, and nobody knows the line", want: Found, change: both(flaggedAs("dalbavancin", compendium.NeverSaline), flushWith("Normal saline flush", nil))},
	{rule: "access-flush-fluid", name: "saline through another lumen", want: Pass, change: both(flaggedAs("dalbavancin", compendium.NeverSaline), lumens2(2), byLumen("red"), flushWith("sodium chloride 0.9 %", func(o *order.Order) { o.Lumen = "blue lumen" }))},
	{rule: "access-flush-fluid", name: "no flush ordered: the sheet names the fluid of the table", want: Pass, change: flaggedAs("dalbavancin", compendium.NeverSaline)},
	{rule: "access-flush-fluid", name: "a flag that may hold", want: Indeterminate, missing: regimen("induction"), change: both(flaggedAs("dalbavancin", compendium.NeverSaline), flushWith("sodium chloride 0.9 %", nil), func(w *world) {
		w.drug.Flags[0].Fact = "flush"
		w.drug.Facts[len(w.drug.Facts)-1].AppliesTo = []compendium.Applies{{Regimen: "induction"}}
	})},
	{rule: "access-flush-fluid", name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: func(w *world) { w.unlisted = true }},

	// Row h3: what is in the line would be given at once.
	{rule: "access-flush-bolus", name: "a drug that may be flushed", want: NotApplicable, change: flushWith("sodium chloride 0.9 %", nil)},
	{rule: "access-flush-bolus", name: "no flush", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1))},
	{rule: "access-flush-bolus", name: "a line with one lumen", want: Found, says: "milrinone", change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), flushWith("sodium chloride 0.9 %", nil))},
	{rule: "access-flush-bolus", name: "the other lumen", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(2), byLumen("Red lumen"), flushWith("sodium chloride 0.9 %", func(o *order.Order) { o.Lumen = "blue" }))},
	{rule: "access-flush-bolus", name: "the same lumen of two", want: Found, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(2), byLumen("Red lumen"), flushWith("sodium chloride 0.9 %", func(o *order.Order) { o.Lumen = "red" }))},
	{rule: "access-flush-bolus", name: "another line", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), secondLine, func(w *world) { w.order.AccessDevice = "Device/1" }, flushWith("sodium chloride 0.9 %", func(o *order.Order) { o.AccessDevice = "Device/picc" }))},
	{rule: "access-flush-bolus", name: "two lumens, and nobody says which", want: Indeterminate, missing: FlushLumen, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(2), flushWith("sodium chloride 0.9 %", nil))},
	{rule: "access-flush-bolus", name: "nobody knows how many lumens", want: Indeterminate, missing: LumenCount, change: both(flaggedAs("milrinone", compendium.NoBolus), flushWith("sodium chloride 0.9 %", nil))},
	{rule: "access-flush-bolus", name: "nobody knows how many, and the flush is for this infusion", want: Found, change: both(flaggedAs("milrinone", compendium.NoBolus), flushWith("sodium chloride 0.9 %", func(o *order.Order) { o.Basis = []string{"urn:uuid:order-1"} }))},
	{rule: "access-flush-bolus", name: "no line described", want: Indeterminate, missing: Access, change: both(flaggedAs("milrinone", compendium.NoBolus), noAccess, flushWith("sodium chloride 0.9 %", nil))},
	{rule: "access-flush-bolus", name: "withdrawn first", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), flushWith("sodium chloride 0.9 %", func(o *order.Order) {
		o.Directions = []order.Direction{{Text: "At the end withdraw 3 mL, then flush"}}
	}))},
	{rule: "access-flush-bolus", name: "aspirated for blood return is not withdrawn", want: Found, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), flushWith("sodium chloride 0.9 %", func(o *order.Order) {
		o.Directions = []order.Direction{{Text: "Aspirate for blood return, then flush"}}
	}))},
	{rule: "access-flush-bolus", name: "a flush that was stopped", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), flushWith("sodium chloride 0.9 %", func(o *order.Order) { o.Status = "stopped" }))},
	// Words count as the coded fields do: the stronger of two statements. A
	// lock that was stopped is none, in both directions.
	{rule: "access-lock-forbidden", name: "citrate in the directions alone", want: Found, says: "46.7 %", change: both(locked("catheter lock", "", ""), lockWords("3", "Trisodium citrate 46.7 % 3 mL after each use, withdraw before use"))},
	{rule: "access-lock-forbidden", name: "4 % citrate after a wipe of 70 % alcohol", want: Pass, change: both(locked("sodium citrate 4 %", "", ""), lockWords("3", "scrub with alcohol 70 %, then lock; withdraw before use"))},
	{rule: "access-lock-forbidden", name: "heparin in the name alone", want: Found, says: "5,000 units per mL", change: locked("heparin lock 5,000 units/mL", "", "")},
	{rule: "access-lock-forbidden", name: "heparin 10 by code and 10,000 in the directions", want: Found, says: "10,000 units per mL", change: both(locked("heparin", "10", "[USP'U]/mL"), lockWords("3", "heparin 10,000 units per mL, 3 mL"))},
	{rule: "access-lock-forbidden", name: "heparin 500 units in 5 mL is 100 per mL", want: Pass, change: locked("heparin 500 units/5 mL", "", "")},
	{rule: "access-lock-forbidden", name: "heparin 505 units in 5 mL is 101 per mL", want: Found, says: "101 units per mL", change: locked("heparin 505 units/5 mL", "", "")},
	{rule: "access-lock-forbidden", name: "heparin in words without a strength", want: Indeterminate, missing: Strength, change: both(locked("catheter lock", "", ""), lockWords("3", "heparin after each use"))},
	{rule: "access-lock-forbidden", name: "directions that refuse heparin", want: Pass, change: both(locked("sodium chloride 0.9 %", "", ""), lockWords("10", "no heparin in this line"))},
	{rule: "access-lock-forbidden", name: "a strong lock that was stopped", want: NotApplicable, change: both(locked("sodium citrate 46.7 %", "", ""), func(w *world) { w.kase.Related[0].Status = "stopped" })},
	{rule: "access-lock-forbidden", name: "a strong lock that is not to be given", want: NotApplicable, change: both(locked("sodium citrate 46.7 %", "", ""), func(w *world) { w.kase.Related[0].DoNotPerform = true })},
	{rule: "access-lock-forbidden", name: "a solution that nobody here can read", want: Indeterminate, missing: LockSolution, change: locked("tarnolock", "", "")},
	{rule: "access-lock-forbidden", name: "a lock by the protocol names no solution of its own", want: Pass, change: both(locked("catheter lock", "", ""), lockWords("", "lock per protocol"))},
	{rule: "access-lock-missing", name: "the lock order was stopped", want: Found, says: "no lock order", change: func(w *world) { w.kase.Related[0].Status = "stopped" }},
	{rule: "access-lock-missing", name: "a lock order that names no solution, and no protocol", want: Found, says: "names no solution", change: both(locked("catheter lock", "", ""), lockWords("", "lock per protocol"))},
	{rule: "access-lock-missing", name: "a lock order that names no solution, and a protocol", want: Pass, change: both(standing("picc", "adult"), locked("catheter lock", "", ""), lockWords("", "lock per protocol"))},
	{rule: "access-lock-missing", name: "a lock of sodium chloride in the directions", want: Pass, change: both(locked("catheter lock", "", ""), lockWords("10", "10 mL normal saline after each use"))},

	// A flush is pushed as well, and the order for the infusion may name the lock.
	{rule: "access-lock-forbidden", name: "nothing is pushed", want: NotApplicable, change: func(w *world) { w.kase.Related = nil }},
	{rule: "access-lock-forbidden", name: "heparin 5,000 as a flush", want: Found, says: "5,000 units per mL", change: flushWith("heparin 5,000 units/mL flush", nil)},
	{rule: "access-lock-forbidden", name: "heparin 100 as a flush", want: Pass, change: flushWith("heparin 100 units/mL flush", nil)},
	{rule: "access-lock-forbidden", name: "potassium as a flush", want: Found, says: "potassium", change: flushWith("potassium chloride 2 mEq/mL", nil)},
	{rule: "access-lock-forbidden", name: "saline behind an infusion of potassium", want: Pass, change: flushWith("sodium chloride 0.9 %", func(o *order.Order) {
		o.Directions = []order.Direction{{Text: "10 mL after the potassium infusion"}}
	})},
	{rule: "access-lock-forbidden", name: "units and millilitres in other letters", want: Found, says: "5,000 units per mL", change: locked("heparin 5000 U per cc", "", "")},
	{rule: "access-lock-forbidden", name: "heparin by its code alone", want: Found, says: "1,000 units per mL", change: both(locked("", "1000", "[USP'U]/mL"), codedLock("http://www.nlm.nih.gov/research/umls/rxnorm", "5224"))},
	{rule: "access-lock-forbidden", name: "a code that nobody here knows", want: Indeterminate, missing: LockSolution, change: both(locked("", "1000", "[USP'U]/mL"), codedLock("http://www.nlm.nih.gov/research/umls/rxnorm", "1"))},
	{rule: "access-lock-forbidden", name: "free of heparin", want: Pass, change: locked("sodium chloride 0.9 %, heparin-free lock", "", "")},
	{rule: "access-lock-forbidden", name: "NS is sodium chloride", want: Pass, change: flushWith("NS flush 10 mL", nil)},
	{rule: "access-flush-fluid", name: "NS is sodium chloride", want: Found, change: both(flaggedAs("dalbavancin", compendium.NeverSaline), flushWith("NS flush 10 mL", nil))},
	{rule: "access-lock-forbidden", name: "bacteriostatic water", want: Found, says: "water", change: flushWith("bacteriostatic water 10 mL", nil)},
	{rule: "access-lock-forbidden", name: "water as a flush", want: Found, says: "water", change: flushWith("sterile water for injection", nil)},
	{rule: "access-lock-forbidden", name: "strong salt as a flush", want: Found, says: "23.4 %", change: flushWith("sodium chloride 23.4 %", nil)},
	{rule: "access-lock-forbidden", name: "salt of 0.9 %", want: Pass, change: flushWith("sodium chloride 0.9 %", nil)},
	{rule: "access-lock-forbidden", name: "salt of 0.91 %", want: Found, change: flushWith("sodium chloride 0.91 %", nil)},
	{rule: "access-lock-forbidden", name: "a flush of dextrose 5 %", want: Pass, change: flushWith("dextrose 5 % in water", nil)},
	{rule: "access-lock-forbidden", name: "a flush of a fluid that nobody here can read", want: Indeterminate, missing: LockSolution, change: flushWith("tarnosol", nil)},
	{rule: "access-lock-forbidden", name: "a lock in the words of the infusion", want: Found, says: "1,000 units per mL", change: infusionSays("over 30 minutes. Lock with heparin 1,000 units/mL 3 mL after each dose")},
	{rule: "access-lock-forbidden", name: "a lock in the words of the infusion, 10", want: Pass, change: infusionSays("over 30 minutes, then lock with heparin 10 units/mL 3 mL")},
	{rule: "access-lock-forbidden", name: "the words of the infusion refuse it", want: Pass, change: infusionSays("over 30 minutes. Do not lock with heparin 1,000 units/mL")},
	{rule: "access-lock-missing", name: "a lock in the words of the infusion", want: Pass, change: both(func(w *world) { w.kase.Related = nil }, infusionSays("then lock with heparin 10 units/mL 3 mL"))},

	// The order for the infusion may ask for the flush in its own words.
	{rule: "access-flush-bolus", name: "a flush in the words of the order", want: Found, says: "flush", change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), orderSays("continuous over 24 hours, flush with 10 mL saline before and after each bag"))},
	{rule: "access-flush-bolus", name: "the words forbid a flush", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), orderSays("continuous over 24 hours. Do not flush this line"))},
	{rule: "access-flush-bolus", name: "the words withdraw first", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(1), orderSays("continuous; at the end withdraw 3 mL and then flush"))},
	{rule: "access-flush-bolus", name: "the words flush another lumen", want: Pass, change: both(flaggedAs("milrinone", compendium.NoBolus), lumens2(2), orderSays("continuous; flush the other lumen daily"))},
	{rule: "access-flush-fluid", name: "saline in the words of the order", want: Found, says: "sodium chloride", change: both(flaggedAs("dalbavancin", compendium.NeverSaline), orderSays("over 30 minutes, flush with normal saline before and after"))},
	{rule: "access-flush-fluid", name: "the words name both", want: Pass, change: both(flaggedAs("dalbavancin", compendium.NeverSaline), orderSays("over 30 minutes, flush with dextrose 5 % before and after, then saline"))},
	{rule: "access-flush-bolus", name: "a drug without a row", want: Indeterminate, missing: DrugRow, change: both(flushWith("sodium chloride 0.9 %", nil), func(w *world) { w.unlisted = true })},
}

func TestFlushAndLockRules(t *testing.T) { judged(t, flushFixtures) }

// Every drug that clinical review names, as the shipped table has it.
func TestDrugsThatNothingPushesAndThatSalineSpoils(t *testing.T) {
	for flag, names := range map[string][]string{
		compendium.NoBolus:     {"milrinone", "dobutamine", "epoprostenol", "treprostinil", "morphine", "hydromorphone", "blinatumomab"},
		compendium.NeverSaline: {"amphotericin b liposomal", "dalbavancin"},
	} {
		for _, name := range names {
			d, why := compendium.Embedded().Find(compendium.Named("", name))
			require.Empty(t, why)
			_, carries := d.Flagged(flag)
			assert.True(t, carries, "%s: %s", name, flag)
			if flag == compendium.NeverSaline {
				w := base()
				w.drug = d
				fluids, source, _ := flushFluids(w.facts())
				assert.Equal(t, []string{"dextrose 5 % in water"}, fluids, name)
				assert.NotEmpty(t, source, name)
			}
		}
	}
}
