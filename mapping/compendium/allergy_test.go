package compendium_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/fulfillment"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/quantity"
)

func named(names ...string) compendium.Item { return compendium.Item{Names: names} }

func classNames(a compendium.Allergen) (out []string) {
	for _, c := range a.Classes {
		out = append(out, c.Name)
	}
	return out
}

func supplyNames(list []compendium.SupplyAllergen) (out []string) {
	for _, s := range list {
		out = append(out, s.Name)
	}
	return out
}

// A record names one substance in many ways, and what it does not name is not
// read into it.
func TestWhatAnAllergyIsTo(t *testing.T) {
	for _, c := range []struct {
		says                     string
		drugs, classes, supplies []string
		apart                    bool
	}{
		{says: "Amoxicillin", drugs: []string{"amoxicillin"}},
		{says: "Allergy to penicillin (finding)", classes: []string{"penicillins"}},
		{says: "Penicillin G", drugs: []string{"penicillin g potassium"}},
		{says: "penicillin V potassium 500 mg tablet", drugs: []string{"penicillin v"}},
		{says: "amoxicillin-clavulanate", drugs: []string{"amoxicillin", "clavulanate"}},
		{says: "Piperacillin / tazobactam", drugs: []string{"piperacillin-tazobactam", "piperacillin", "tazobactam"}},
		{says: "Cephalosporins", classes: []string{"cephalosporins"}},
		{says: "Sulfa drugs", classes: []string{"sulfonamide antibiotics"}},
		{says: "β-lactam antibiotics", classes: []string{"beta-lactams"}},
		{says: "Hydromorphone", drugs: []string{"hydromorphone"}}, // not morphine
		{says: "sulfites", classes: []string{"injections that may hold a sulfite"}},
		{says: "Natural rubber latex", supplies: []string{"natural rubber latex"}},
		{says: "Chlorhexidine gluconate 2 % wipes", supplies: []string{"chlorhexidine"}},
		{says: "Adhesive tape", supplies: []string{"adhesive"}},
		{says: "Heparin", drugs: []string{"heparin"}, supplies: []string{"heparin"}},
		{says: "HIT", supplies: []string{"heparin"}},
		{says: "Egg yolk", classes: []string{"products with egg"}},
		{says: "Cat dander", apart: true}, {says: "Ragweed pollen", apart: true}, {says: "Shellfish", apart: true}, {says: "bee stings", apart: true},
		{says: "Lactose intolerance", apart: true}, // no milk protein
		{says: "xylomatrine"},
		{says: "cefa"}, // a near match is none
		{says: ""},
	} {
		a := compendium.AllergenOf(named(c.says))
		assert.Equal(t, c.drugs, a.Drugs, c.says)
		assert.Equal(t, c.classes, classNames(a), c.says)
		assert.Equal(t, c.supplies, supplyNames(a.Supplies), c.says)
		assert.Equal(t, c.apart, a.Apart != "", c.says)
		assert.Equal(t, c.apart || len(c.drugs)+len(c.classes)+len(c.supplies) > 0, a.Known(), c.says)
	}
	assert.Equal(t, []string{"amoxicillin"}, compendium.AllergenOf(compendium.Item{RxNorm: []string{"723"}}).Drugs)
	assert.Equal(t, []string{"cefazolin"}, compendium.AllergenOf(compendium.Item{ATC: []string{"J01DB04"}}).Drugs)
	assert.Equal(t, []string{"cephalosporins"}, classNames(compendium.AllergenOf(compendium.Item{ATC: []string{"J01DB99"}})))
	other := compendium.AllergenOf(compendium.Item{ATC: []string{"H03BB02"}})
	assert.True(t, other.Known(), "the code tells that it is none of the classes")
	assert.Empty(t, other.Drugs)
	assert.False(t, compendium.AllergenOf(compendium.Item{RxNorm: []string{"999999999"}}).Known())
}

func TestEveryPartOfAListIsKnownOrSaid(t *testing.T) {
	for says, want := range map[string][]string{
		"Penicillins, unspecified": nil, "penicillin, sulfa and codeine": nil, "Immune globulin intravenous, human": nil, "amoxicillin / clavulanate": nil, "penicillin; xylomatrine": {"xylomatrine"},
		"bees and wasps & xylomatrine 5 mg": {"xylomatrine 5 mg"}, "": nil, "xylomatrine": {"xylomatrine"}, "trimethoprim and sulfamethoxazole": nil, "amphotericin b, liposomal": nil,
	} {
		assert.Equal(t, want, compendium.UnknownParts(says), says)
	}
}

// Identical side chains: Medical Letter 2012 issue 1406 as quoted; the others
// as Pharmacy (Basel) 2019;7(3):103 groups them, from memory.
func TestSideChainsThatAreSharedAndThatAreNot(t *testing.T) {
	by := func(a, b string) string {
		c, _ := compendium.AllergenOf(named(a)).Cross(b)
		return c.By
	}
	for _, pair := range [][2]string{{"amoxicillin", "cefadroxil"}, {"amoxicillin", "cefprozil"}, {"ampicillin", "cephalexin"}, {"ampicillin", "cefaclor"}, {"penicillin g", "cefoxitin"},
		{"ceftriaxone", "cefotaxime"}, {"ceftriaxone", "cefepime"}, {"ceftriaxone", "cefpodoxime"}, {"ceftazidime", "aztreonam"}, {"ceftazidime", "cefiderocol"}, {"aztreonam", "ceftolozane"}} {
		assert.Equal(t, compendium.CrossChain, by(pair[0], pair[1]), pair)
		assert.Equal(t, compendium.CrossChain, by(pair[1], compendium.SubstancesOf(named(pair[0]))[0]), pair)
	}
	for _, pair := range [][2]string{{"amoxicillin", "ceftriaxone"}, {"ampicillin", "cefazolin"}, {"penicillin g", "ceftazidime"}, {"cefazolin", "ceftriaxone"}, {"cephalexin", "cefazolin"},
		{"penicillin g", "meropenem"}, {"ceftriaxone", "ceftazidime"}} {
		assert.Equal(t, compendium.CrossSeldom, by(pair[0], pair[1]), pair)
	}
	for _, pair := range [][2]string{{"ceftriaxone", "aztreonam"}, {"penicillin g", "aztreonam"}, {"meropenem", "aztreonam"}, {"vancomycin", "cefazolin"}, {"sulfamethoxazole", "cefazolin"},
		{"clindamycin", "vancomycin"}, {"cefazolin", "cefazolin"}} {
		assert.Empty(t, by(pair[0], pair[1]), pair)
	}
	assert.Equal(t, compendium.CrossCommon, by("ampicillin", "nafcillin"))
	assert.Equal(t, compendium.CrossCommon, by("gentamicin", "amikacin"))
	assert.Equal(t, compendium.CrossDoubtful, by("sulfamethoxazole", "furosemide"))
	assert.Equal(t, compendium.CrossNamed, by("penicillins", "oxacillin"))
	assert.Equal(t, compendium.CrossChain, by("penicillins", "cephalexin"))
	assert.Equal(t, compendium.CrossSeldom, by("penicillins", "ceftriaxone"))
	for _, s := range compendium.SideChains() {
		if slices.Contains(s.Members, "cefazolin") {
			assert.Equal(t, "unique", s.Likeness, "cefazolin shares no chain")
		}
	}
}

func TestWordsOfAReaction(t *testing.T) {
	for says, want := range map[string][]string{
		"Anaphylaxis": {"grave"}, "Mild rash, three days into treatment, no fever, no blisters": {"mild"}, "Hives and wheezing": {"grave", "immediate"},
		"Rash with blisters": {"grave", "mild"}, "Nausea and vomiting": {"effect"}, "No anaphylaxis": nil, "without angioedema; itching": {"mild"},
		"Stevens-Johnson syndrome": {"grave"}, "felt strange": nil, "": nil, "Red man syndrome": {"effect"}, "Trashed": nil,
	} {
		assert.Equal(t, want, compendium.ReactionKinds(says), says)
	}
	assert.Equal(t, []string{"grave"}, compendium.ReactionKinds("", "39579001"))
}

func TestWhatAProblemForbidsInAKit(t *testing.T) {
	for says, want := range map[string][]string{
		"Heparin-induced thrombocytopenia": {"heparin"}, "History of heparin induced thrombocytopenia": {"heparin"}, "No heparin-induced thrombocytopenia": nil,
		"Latex allergy": {"natural rubber latex"}, "Allergy to chlorhexidine": {"chlorhexidine"}, "Uses latex gloves at work": nil, "Hit by a car": nil, "Thrombocytopenia": nil,
	} {
		assert.Equal(t, want, supplyNames(compendium.ProblemSupplies(says)), says)
	}
	assert.Equal(t, []string{"heparin"}, supplyNames(compendium.ProblemSupplies("", "D75.82")))
}

// An item that the kit table does not have would never be looked at.
func TestEverySupplyAllergenNamesItemsOfTheKit(t *testing.T) {
	known := map[string]bool{}
	for _, r := range fulfillment.KitRows() {
		known[r.Item] = true
	}
	for _, s := range compendium.SupplyAllergens() {
		for _, i := range s.Items {
			assert.True(t, known[i], "%s: %s", s.Name, i)
		}
		assert.False(t, s.FreeIn("plain item"), s.Name)
		for _, w := range s.Free {
			assert.True(t, s.FreeIn("an item, "+w+", for this patient"), s.Name)
		}
	}
}

// A member of a class or chain that no name finds would never be compared.
func TestEveryMemberIsFoundByItsName(t *testing.T) {
	find := func(where string, list []string) {
		for _, m := range list {
			assert.Contains(t, compendium.SubstancesOf(named(m)), m, where)
		}
	}
	for _, c := range compendium.AllergyClasses() {
		find(c.Name, c.Members)
		find(c.Name, c.Named)
		for _, w := range c.Words {
			assert.Contains(t, classNames(compendium.AllergenOf(named(w))), c.Name, w)
		}
		assert.Empty(t, notation.Scan(c.Source), c.Name)
	}
	for _, s := range compendium.SideChains() {
		find(s.Name, s.Members)
		assert.Empty(t, notation.Scan(s.Source), s.Name)
	}
	for _, s := range compendium.SupplyAllergens() {
		assert.Empty(t, notation.Scan(s.Source+"; "+s.Instead), s.Name)
	}
	// Every beta-lactam of the drug table stands in its class.
	for _, d := range compendium.Embedded().Drugs {
		for kind, class := range map[string]string{"penicillin": "penicillins", "cephalosporin": "cephalosporins", "carbapenem": "carbapenems", "monobactam": "monobactams",
			"aminoglycoside": "aminoglycosides", "glycopeptide": "glycopeptides", "tetracycline": "tetracyclines", "echinocandin": "echinocandins", "triazole": "triazoles", "prostacyclin": "prostacyclins"} {
			if d.Is(kind) {
				assert.True(t, slices.ContainsFunc(compendium.ClassesOf(d.Name), func(c compendium.AllergyClass) bool { return c.Name == class }), "%s is no member of %s", d.Name, class)
			}
		}
	}
}

func TestATableOfAllergiesThatCannotBeUsedIsRefused(t *testing.T) {
	for says, c := range map[string]struct{ in, out, need string }{
		"an unknown key":                   {`"likeness": "identical"`, `"like": "identical"`, "like"},
		"another likeness":                 {`"likeness": "identical"`, `"likeness": "alike"`, "alike"},
		"a unique chain of two":            {`"likeness": "identical"`, `"likeness": "unique"`, "unique"},
		"a member that stands in capitals": {`"cefadroxil", "cefprozil"]`, `"Cefadroxil", "cefprozil"]`, "Cefadroxil"},
		"a member twice":                   {`"cefadroxil", "cefprozil"]`, `"cefprozil", "cefprozil"]`, "cefprozil"},
		"no source":                        {`"source": "less than 1 %, J Asthma`, `"source": "", "x": "J Asthma`, "x"},
		"an unknown class":                 {`{"a": "penicillins", "b": "cephalosporins"`, `{"a": "penicillins", "b": "cephems"`, "cephems"},
		"another crossing":                 {`"cross": "doubtful"`, `"cross": "maybe"`, "relation"},
		"another kind of reaction":         {`"kind": "effect"`, `"kind": "bad"`, "bad"},
		"a standing of a site":             {`"standing": "corroborated"`, `"standing": "local"`, "local"},
		"no edition":                       {`"edition": "2026-11"`, `"edition": ""`, "edition"},
		"a class twice":                    {`{"name": "monobactams"`, `{"name": "carbapenems"`, "twice"},
	} {
		file := string(compendium.AllergiesFile())
		require.Contains(t, file, c.in, says)
		err := compendium.ParseAllergies([]byte(strings.Replace(file, c.in, c.out, 1)))
		if assert.Error(t, err, says) {
			assert.Contains(t, err.Error(), c.need, says)
			assert.Contains(t, err.Error(), "allergy table", says)
		}
	}
	assert.NoError(t, compendium.ParseAllergies(compendium.AllergiesFile()))
}

func TestProductWordsTellProductsApart(t *testing.T) {
	d, _ := compendium.Embedded().Find(compendium.Named("", "immune globulin intravenous"))
	require.NotEmpty(t, d.Name)
	assert.Equal(t, "", compendium.ProductWords(d, "Immune globulin intravenous (human) 10 % solution, 100 mL vial"))
	assert.Equal(t, "b product", compendium.ProductWords(d, "Immune globulin intravenous, product B, 10 %"))
	assert.Equal(t, compendium.ProductWords(d, "Product B immune globulin 100 mL"), compendium.ProductWords(d, "immune globulin intravenous product B"))
}

// All limits, not the gravest alone, and none for a solution without limits.
func TestEveryLimitThatALockReachesIsGiven(t *testing.T) {
	units := func(n string) quantity.Quantity {
		return quantity.Point(quantity.MustNumber(n), quantity.MustUnit("[USP'U]/mL"))
	}
	for _, c := range []struct {
		line, whom, n string
		gates         []string
	}{
		{"other", "adult", "100", nil}, {"other", "adult", "101", []string{"block"}}, {"dialysis", "adult", "100", nil}, {"dialysis", "adult", "101", []string{"hold"}},
		{"dialysis", "adult", "1000", []string{"hold"}}, {"dialysis", "adult", "1001", []string{"hold", "block"}}, {"dialysis", "pediatric", "1000", []string{"hold", "hold"}}, {"other", "pediatric", "11", []string{"hold"}},
	} {
		reached, known := compendium.LocksReached("heparin", c.line, c.whom, units(c.n))
		assert.True(t, known)
		var gates []string
		for _, r := range reached {
			gates = append(gates, r.Gate)
		}
		assert.Equal(t, c.gates, gates, c)
	}
	_, known := compendium.LocksReached("sodium chloride", "other", "adult", units("10"))
	assert.False(t, known)
	_, known = compendium.LocksReached("citrate", "other", "adult", units("10"))
	assert.False(t, known, "another kind of amount")
}
