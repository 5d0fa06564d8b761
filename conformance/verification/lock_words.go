package verification

import (
	"regexp"
	"slices"
	"strings"

	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/quantity"
)

// LockSolution is what a line is locked or flushed with, where the words of the
// order name nothing that is known here.
const LockSolution Fact = "solution of the lock or flush"

// lockedInWords are the locks that an order for an infusion asks for in its own
// words, where they name the solution.
func lockedInWords(f Facts) []order.Order {
	var out []order.Order
	for _, o := range f.kase().Orders {
		if over[o.Status] || o.DoNotPerform {
			continue
		}
		for i, s := range sentencesOf(o) {
			words := wordsOf(s)
			asks := slices.ContainsFunc(words, func(w string) bool { return slices.Contains([]string{"lock", "locked", "locking"}, w) })
			refused := slices.ContainsFunc(words, func(w string) bool { return slices.Contains(refusing, w) })
			_, from, _ := strings.Cut(s, "lock")
			l := order.Order{Role: "lock", Status: o.Status, AccessDevice: o.AccessDevice, Lumen: o.Lumen, Place: o.Place, Directions: []order.Direction{{Sequence: i, Text: from}}}
			if asks && !refused && namesSolution(l) {
				out = append(out, l)
			}
		}
	}
	return out
}

// deadly names what must never be pushed into a line, where a lock or a flush
// asks for it: strong potassium, strong salt, plain water.
func deadly(l order.Order) string {
	text, name := drugText(l), nameText(l)
	switch {
	case strings.Contains(name, "potassium") || strings.Contains(text, "with potassium"):
		return "potassium"
	case strings.Contains(name, "water") && !anyOf(name, "dextrose", "glucose") && !saltWater(name):
		return "water"
	case saltWater(text):
		for _, m := range percentWritten.FindAllStringSubmatch(name, -1) {
			if n, err := quantity.ParseNumber(m[1]); err == nil && isotonic.Less(n) {
				return "sodium chloride " + m[1] + " %"
			}
		}
	}
	return ""
}

// isotonic is 0.9 %, the salt of plasma. Stronger is no flush.
var isotonic = quantity.Ratio(9, 10)

// drugText is what an order calls its drug and the ingredients of it. A lock
// or a flush may name its fluid in the directions alone: those count too, but
// not what they refuse ("no heparin").
func drugText(o order.Order) string {
	text := nameText(o)
	if o.Role == "lock" || o.Role == "flush" {
		for _, s := range sentencesOf(o) {
			if !slices.ContainsFunc(wordsOf(s), func(w string) bool { return slices.Contains(refusing, w) }) {
				text += "; " + s
			}
		}
	}
	return text
}

// nameText is the name of the drug alone, and of its ingredients; one that is
// coded only counts by its code. "Heparin-free" names no heparin.
func nameText(o order.Order) string {
	text := o.Drug.Name
	for _, c := range append([]order.Concept{o.Drug.Concept}, concepts(o.Drug.Ingredients)...) {
		text += " " + c.Name()
		for _, k := range c.Codings {
			text += " " + heparinCodes[k.System+"|"+k.Code]
		}
	}
	return noHeparin.ReplaceAllString(strings.ToLower(text), " ")
}

func concepts(list []order.Ingredient) []order.Concept {
	var out []order.Concept
	for _, i := range list {
		out = append(out, i.Concept)
	}
	return out
}

var (
	// heparinCodes are RxNorm, ATC and SNOMED CT codes of heparin (from memory).
	heparinCodes = map[string]string{"http://www.nlm.nih.gov/research/umls/rxnorm|5224": "heparin", "http://www.whocc.no/atc|B01AB01": "heparin", "http://snomed.info/sct|372877000": "heparin"}
	noHeparin    = regexp.MustCompile(`\b(no|non|without)[ -](heparin|citrate)|\b(heparin|citrate)[ -]free`)
)

// sentenceEnd parts a text without parting "46.7".
var sentenceEnd = regexp.MustCompile(`[;\n]|\.(?:\s|$)`)

// sentencesOf are the sentences of an order's directions, in lower case.
func sentencesOf(o order.Order) []string {
	var out []string
	for _, d := range o.Directions {
		out = append(out, sentenceEnd.Split(strings.ToLower(d.Text), -1)...)
	}
	return out
}

// heparin is the strength of a heparin lock in units per mL, whichever unit
// system wrote it. Where code and words differ the stronger counts.
func heparin(o order.Order) (quantity.Quantity, bool) {
	if !isHeparin(o) {
		return quantity.Quantity{}, false
	}
	q, known := strength(o, "[USP'U]/mL", "[iU]/mL", "U/mL")
	for _, m := range unitsWritten.FindAllStringSubmatch(drugText(o), -1) {
		n, err := quantity.ParseNumber(strings.ReplaceAll(m[1], ",", ""))
		if err != nil {
			continue
		}
		if volume, err := quantity.ParseNumber(m[2]); err == nil && volume.Sign() > 0 {
			n = n.Quo(volume)
		}
		if !known || q.High.Less(n) {
			q, known = quantity.Point(n, quantity.MustUnit("[USP'U]/mL")), true
		}
	}
	return q, known
}

var (
	// unitsWritten is a strength in words: "5,000 units/mL", "500 units per 5 mL".
	unitsWritten = regexp.MustCompile(`(\d[\d,]*(?:\.\d+)?) ?(?:usp )?(?:units?|iu|u)\b ?(?:/|per) ?(\d+(?:\.\d+)?)? ?(?:ml|cc)\b`)
	// percentWritten is a strength in the name: "sodium citrate 4 %".
	percentWritten = regexp.MustCompile(`(\d+(?:\.\d+)?) ?%`)
	// citrateWritten is one beside the word in directions, which name other
	// percentages too: alcohol of 70 %.
	citrateWritten = regexp.MustCompile(`citrate[^\d,;%]{0,20}(\d+(?:\.\d+)?) ?%|(\d+(?:\.\d+)?) ?%[^\d,;%]{0,25}citrate`)
)

// citrate is the strength of a citrate lock in %, which is g per 100 mL. Where
// code and words differ the stronger counts.
func citrate(o order.Order) (quantity.Quantity, bool) {
	if !isCitrate(o) {
		return quantity.Quantity{}, false
	}
	percent := quantity.MustUnit("%")
	q, known := strength(o, "%")
	if grams, ok := strength(o, "g/mL"); ok && !known {
		q, known = quantity.Range(grams.Low.Mul(hundred), grams.High.Mul(hundred), percent), true
	}
	found := citrateWritten.FindAllStringSubmatch(drugText(o), -1)
	if strings.Contains(nameText(o), "citrate") {
		found = append(found, percentWritten.FindAllStringSubmatch(nameText(o), -1)...)
	}
	for _, m := range found {
		n, err := quantity.ParseNumber(strings.Join(m[1:], ""))
		if err == nil && (!known || q.High.Less(n)) {
			q, known = quantity.Point(n, percent), true
		}
	}
	return q, known
}

// lockUnread: a heparin or citrate lock whose strength nobody can read is not
// a weak one, and a solution that nobody can read is not a harmless one. A
// lock that can be read and is found speaks first.
func lockUnread(f Facts) []Fact {
	if len(lockForbidden(f)) > 0 {
		return nil
	}
	for _, l := range byHand(f) {
		_, heparinRead := heparin(l)
		_, citrateRead := citrate(l)
		switch {
		case isHeparin(l) && !heparinRead || isCitrate(l) && !citrateRead:
			return []Fact{Strength}
		case !namesSolution(l) && !impersonal(l):
			return []Fact{LockSolution}
		}
	}
	return nil
}

// solutions are what lines are locked with (common practice, no source).
// Whether each suits is judged for heparin and citrate only.
var solutions = []string{"heparin", "citrate", "saline", "sodium chloride", "nacl", "dextrose", "ethanol", "taurolidine", "alteplase", "urokinase"}

// namesSolution: the lock order says what the line is locked with.
func namesSolution(l order.Order) bool {
	return anyOf(drugText(l), solutions...) || saltWater(drugText(l))
}

// saltWater: sodium chloride by any of its names.
func saltWater(text string) bool {
	return anyOf(text, "saline", "sodium chloride", "nacl") || slices.Contains(wordsOf(text), "ns")
}

// generic are words of a name that names no solution: "catheter lock per
// protocol".
var generic = []string{"lock", "locks", "locking", "flush", "catheter", "line", "solution", "per", "by", "as", "ordered", "protocol", "policy", "standing", "standard", "usual", "routine",
	"site", "hospital", "iv", "intravenous", "central", "venous", "picc", "port", "midline", "the", "of", "for", "with", "and", "prefilled", "syringe", "syringes", "ml", "device", "access", "vascular"}

// impersonal: nothing is coded, and the name holds nothing that could be a solution, so that the
// site's protocol is meant.
func impersonal(l order.Order) bool {
	coded := func(c order.Concept) bool { return len(c.Codings) > 0 }
	return !coded(l.Drug.Concept) && !slices.ContainsFunc(concepts(l.Drug.Ingredients), coded) && !slices.ContainsFunc(wordsOf(nameText(l)), func(w string) bool {
		return !slices.Contains(generic, w) && strings.Trim(w, "0123456789.,") != ""
	})
}
