package fulfillment_test

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

// find gives the one line of an item in a delivery.
func find(t testing.TB, kit []fulfillment.KitItem, item string, delivery int) fulfillment.KitItem {
	t.Helper()
	var found []fulfillment.KitItem
	for _, k := range kit {
		if k.Item == item && k.Delivery == delivery {
			found = append(found, k)
		}
	}
	require.Len(t, found, 1, "%s in delivery %d", item, delivery)
	return found[0]
}

func has(kit []fulfillment.KitItem, item string, delivery int) bool {
	return slices.ContainsFunc(kit, func(k fulfillment.KitItem) bool { return k.Item == item && k.Delivery == delivery })
}

// Practice table (k), by hand for one week of 21 doses: saline 2 × 21 = 42,
// spare 10 % of 42 = 4.2, up to 5, 47 in all; pads with a heparin lock
// 4 × 21 = 84, spare 8.4 up to 9, 93; without 3 × 21 = 63, spare 6.3 up to 7,
// 70; heparin 21, spare 2.1 up to 3, 24.
func TestTheKitOfAWeekOfEightHourlyDosesIsThatOfThePractice(t *testing.T) {
	for says, c := range map[string]struct {
		flags []string
		want  map[string]int
	}{
		"saline lock": {nil, map[string]int{"saline-syringe": 47, "alcohol-pad": 70, "elastomeric-reservoir": 21, "disinfecting-cap": 24,
			"needleless-connector": 2, "dressing-kit": 2, "extension-set": 2, "blood-draw-kit": 2, "examination-gloves": 1, "cold-shipper": 1}},
		"heparin lock": {[]string{"heparin-lock"}, map[string]int{"saline-syringe": 47, "alcohol-pad": 93, "heparin-syringe": 24, "elastomeric-reservoir": 21}},
	} {
		kit := fulfillment.Kit(elastomericAntibiotic(t, c.flags...))
		for delivery := 1; delivery <= 5; delivery++ {
			for item, n := range c.want {
				assert.Equal(t, n, find(t, kit, item, delivery).Quantity, "%s, %s in delivery %d", says, item, delivery)
			}
		}
		assert.Equal(t, len(c.flags) > 0, has(kit, "heparin-syringe", 1), says)
	}
}

func TestWhatIsHandedOverOnceIsHandedOverWithTheFirstDelivery(t *testing.T) {
	kit := fulfillment.Kit(elastomericAntibiotic(t, "first-ever"))
	for _, item := range []string{"sharps-container", "emergency-kit"} {
		assert.Equal(t, 1, find(t, kit, item, 1).Quantity, item)
		for delivery := 2; delivery <= 5; delivery++ {
			assert.False(t, has(kit, item, delivery), "%s in delivery %d", item, delivery)
		}
	}
}

func TestTheArithmeticOfAKitLineIsShown(t *testing.T) {
	kit := fulfillment.Kit(elastomericAntibiotic(t, "heparin-lock"))
	assert.Equal(t, "2 a dose × 21 doses = 42; spare 10 % of 42 rounded up, at least 2 = 5; 47 in all", find(t, kit, "saline-syringe", 1).Formula)
	assert.Equal(t, "1 a week × 1 week = 1; 1 spare; 2 in all", find(t, kit, "dressing-kit", 1).Formula)
	assert.Equal(t, "1 a blood draw × 1 draw = 1; 1 spare; 2 in all", find(t, kit, "blood-draw-kit", 1).Formula)
	assert.Equal(t, "1 a delivery; 1 in all", find(t, kit, "cold-shipper", 1).Formula)
	assert.Equal(t, "1 with the first delivery; 1 in all", find(t, kit, "sharps-container", 1).Formula)
}

// S3, one container: 2 connectors (connect and disconnect) + 1 spare = 3;
// gloves two pairs at each = 4, + 2 spare pairs.
func TestTheKitOfAHazardousInfusionHoldsConnectorsSpillKitAndWaste(t *testing.T) {
	kit := fulfillment.Kit(hazardousContinuous(t))
	for item, n := range map[string]int{"closed-transfer": 3, "syringe-adaptor": 3, "chemotherapy-gloves": 6, "chemotherapy-gown": 3, "spill-kit": 1, "hazardous-waste-container": 1,
		"hazardous-sharps-container": 1, "port-needle": 2, "elastomeric-reservoir": 1} {
		assert.Equal(t, n, find(t, kit, item, 1).Quantity, item)
	}
	safe := fulfillment.Kit(elastomericAntibiotic(t))
	for _, item := range []string{"closed-transfer", "syringe-adaptor", "chemotherapy-gloves", "spill-kit", "hazardous-waste-container"} {
		assert.False(t, has(safe, item, 1), "%s for a drug that is not hazardous", item)
	}
}

func TestTheSpareIsTenPercentRoundedUpAndAtLeastTwo(t *testing.T) {
	for _, c := range []struct{ doses, saline int }{
		{1, 4},    // 2, 10 % is 0.2, up to 1, at least 2
		{5, 12},   // 10, exactly 1, at least 2
		{10, 22},  // 20, exactly 2
		{11, 25},  // 22, 2.2 up to 3
		{15, 33},  // 30, exactly 3
		{16, 36},  // 32, 3.2 up to 4
		{21, 47},  // 42, 4.2 up to 5
		{50, 110}, // 100, exactly 10: no binary number makes it 11
	} {
		s := elastomericAntibiotic(t)
		s.Deliveries = []fulfillment.Load{{Arrival: s.Deliveries[0].Arrival, Doses: c.doses, DaysSupply: 7}}
		assert.Equal(t, c.saline, find(t, fulfillment.Kit(s), "saline-syringe", 1).Quantity, "%d doses", c.doses)
	}
	s := elastomericAntibiotic(t)
	s.SpareRate, s.SpareLeast = quantity.Int(0), 0
	assert.Equal(t, 42, find(t, fulfillment.Kit(s), "saline-syringe", 1).Quantity, "a site that gives no spare")
}

func TestTheSpareIsNeverLessThanTheRateNorMoreThanOneAbove(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		s := elastomericAntibiotic(t)
		doses, least := rapid.IntRange(1, 400).Draw(r, "doses"), rapid.IntRange(0, 20).Draw(r, "least")
		percent := rapid.Int64Range(0, 100).Draw(r, "percent")
		s.Deliveries, s.SpareRate, s.SpareLeast = s.Deliveries[:1], quantity.Ratio(percent, 100), least
		s.Deliveries[0].Doses = doses
		spare := int64(find(t, fulfillment.Kit(s), "saline-syringe", 1).Quantity - 2*doses)
		assert.GreaterOrEqual(r, spare, int64(least))
		assert.GreaterOrEqual(r, spare*100, percent*int64(2*doses))
		if spare > int64(least) {
			assert.Less(r, (spare-1)*100, percent*int64(2*doses), "rounded up, and no further")
		}
	})
}

func TestADeliveryWithoutDosesOrDrawsAsksForNoneOfTheirItems(t *testing.T) {
	s := elastomericAntibiotic(t)
	s.Deliveries = []fulfillment.Load{{Arrival: s.Now, Doses: 0, DaysSupply: 0, Draws: 0}}
	kit := fulfillment.Kit(s)
	for _, item := range []string{"saline-syringe", "elastomeric-reservoir", "blood-draw-kit", "dressing-kit"} {
		assert.False(t, has(kit, item, 1), item)
	}
	assert.Empty(t, fulfillment.Kit(fulfillment.Situation{}), "no delivery, no kit")
}

// A drug that sodium chloride spoils: dextrose before and after, sodium chloride
// outside it. 7 doses: 14 dextrose, 1.4 spare up to 2, 16; sodium chloride the
// same; pads 5 a dose 35, 3.5 up to 4, 39; with a heparin lock 6 a dose 42, 5, 47.
func TestADrugThatSalineSpoilsGetsItsOwnFlush(t *testing.T) {
	for _, c := range []struct {
		flags []string
		pads  int
	}{{nil, 39}, {[]string{"heparin-lock"}, 47}} {
		s := elastomericAntibiotic(t, append(c.flags, "dextrose-flush")...)
		s.Deliveries = []fulfillment.Load{{Arrival: s.Deliveries[0].Arrival, Doses: 7, DaysSupply: 7}}
		kit := fulfillment.Kit(s)
		assert.Equal(t, 16, find(t, kit, "dextrose-syringe", 1).Quantity)
		assert.Equal(t, 16, find(t, kit, "saline-syringe", 1).Quantity)
		assert.Equal(t, c.pads, find(t, kit, "alcohol-pad", 1).Quantity)
	}
	assert.False(t, has(fulfillment.Kit(elastomericAntibiotic(t)), "dextrose-syringe", 1))
}

// Nothing is flushed behind a drug that nothing may push: the syringes are for
// another lumen, one a day, 7 and 2 spare.
func TestADrugThatNothingPushesGetsNoFlushForEachContainer(t *testing.T) {
	s := elastomericAntibiotic(t, "no-bolus")
	line := find(t, fulfillment.Kit(s), "saline-syringe", 1)
	assert.Equal(t, 9, line.Quantity)
	assert.Contains(t, line.Name, "never behind this drug")
}

// A pump that runs day and night needs sets too: 96 hours each, so 2 a week.
func TestSetsByHowTheInfusionRuns(t *testing.T) {
	for _, c := range []struct {
		flags []string
		sets  int
	}{
		{[]string{"electronic", "continuous"}, 3},
		{[]string{"electronic", "intermittent"}, 8},
		{[]string{"electronic", "intermittent", "nutrition"}, 0}, // its filter set is the set
		{[]string{"electronic", "continuous", "nutrition"}, 0},
		{[]string{"elastomeric", "continuous"}, 0},
		{[]string{"gravity", "intermittent"}, 0},
	} {
		s := elastomericAntibiotic(t)
		s.Flags = c.flags
		kit := fulfillment.Kit(s)
		if c.sets == 0 {
			assert.False(t, has(kit, "administration-set", 1), "%v", c.flags)
			continue
		}
		assert.Equal(t, c.sets, find(t, kit, "administration-set", 1).Quantity, "%v", c.flags)
	}
}

// Once, whether the first dose or the drug asks for it.
func TestAnEmergencyKitForTheFirstDoseAndForDrugsThatReactLater(t *testing.T) {
	for _, flags := range [][]string{{"first-ever"}, {"reaction-prone"}, {"first-ever", "reaction-prone"}} {
		assert.Equal(t, 1, find(t, fulfillment.Kit(elastomericAntibiotic(t, flags...)), "emergency-kit", 1).Quantity, "%v", flags)
	}
	assert.False(t, has(fulfillment.Kit(elastomericAntibiotic(t)), "emergency-kit", 1))
}

// A week begun needs a dressing of its own: 7 days are one, 8 are two.
func TestAWeekBegunCounts(t *testing.T) {
	for days, dressings := range map[int]int{1: 2, 7: 2, 8: 3, 14: 3, 15: 4} { // weeks + 1 spare
		s := elastomericAntibiotic(t)
		s.Deliveries = []fulfillment.Load{{Arrival: s.Now, Doses: 3 * days, DaysSupply: days}}
		assert.Equal(t, dressings, find(t, fulfillment.Kit(s), "dressing-kit", 1).Quantity, "%d days", days)
	}
}

func TestEveryKitRowIsComplete(t *testing.T) {
	kebab := regexp.MustCompile(`^[a-z]+(-[a-z0-9]+)*$`)
	seen := map[string]bool{}
	for _, r := range fulfillment.KitRows() {
		assert.Regexp(t, kebab, r.Item)
		assert.NotEmpty(t, r.Source, r.Item)
		assert.Positive(t, r.Count, r.Item)
		assert.Contains(t, []string{"dose", "day", "week", "draw", "delivery", "first"}, r.Per, r.Item)
		assert.Contains(t, []string{"none", "one", "two", "rate"}, r.Spare, r.Item)
		for _, w := range r.When {
			assert.Regexp(t, kebab, w, r.Item)
		}
		for _, text := range []string{r.Name, r.Unit} {
			assert.NotEmpty(t, text, r.Item)
			assert.Empty(t, notation.Scan(text), "%s: %s", r.Item, text)
		}
		key := r.Item
		for _, w := range r.When {
			key += " " + w
		}
		assert.False(t, seen[key], "%s stands twice for the same condition", r.Item)
		seen[key] = true
	}
}

// One line an item: rows of the same item exclude each other.
func TestNoItemStandsTwiceInADelivery(t *testing.T) {
	flags := []string{"elastomeric", "electronic", "gravity", "continuous", "intermittent", "hazardous", "closed-transfer", "laboratory", "refrigerated", "line", "port", "heparin-lock", "second-check", "first-ever", "nutrition", "no-bolus", "dextrose-flush", "reaction-prone"}
	rapid.Check(t, func(r *rapid.T) {
		s := elastomericAntibiotic(t)
		s.Flags = rapid.SliceOfDistinct(rapid.SampledFrom(flags), rapid.ID[string]).Draw(r, "flags")
		type line struct {
			item     string
			delivery int
		}
		seen := map[line]bool{}
		for _, k := range fulfillment.Kit(s) {
			l := line{k.Item, k.Delivery}
			assert.False(r, seen[l], "%s in delivery %d", k.Item, k.Delivery)
			seen[l] = true
			assert.Positive(r, k.Quantity)
			assert.Empty(r, notation.Scan(k.Formula), k.Formula)
		}
	})
}
