package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

// FlushLumen is which lumen a flush is for, where the line has several.
const FlushLumen Fact = "lumen of the flush and of the infusion"

// flushes are the flush orders that stand.
func flushes(f Facts) []order.Order {
	var out []order.Order
	for _, r := range f.kase().Related {
		if r.Role == "flush" && !over[r.Status] && !r.DoNotPerform {
			out = append(out, r)
		}
	}
	return out
}

// sharesLumen tells whether a flush goes through the lumen of the infusion, and
// what would have to be known to tell.
func sharesLumen(f Facts, flush order.Order) (compendium.Answer, Fact) {
	o := f.order()
	if flush.AccessDevice != "" && o.AccessDevice != "" && flush.AccessDevice != o.AccessDevice {
		return compendium.No, ""
	}
	if a, b := lumenOf(f, flush), lumenWord(o.Lumen); a != "" && b != "" {
		if a == b {
			return compendium.Yes, ""
		}
		return compendium.No, ""
	}
	lumens, known := 0, false
	for _, a := range f.kase().Access {
		if a.Kind == "" || a.Kind == "subcutaneous" || !a.Removed.Absent() {
			continue
		}
		if a.Lumens == 0 {
			return forInfusion(f, flush, LumenCount)
		}
		lumens, known = lumens+a.Lumens, true
	}
	switch {
	case !known:
		return forInfusion(f, flush, Access)
	case lumens == 1:
		return compendium.Yes, ""
	}
	return forInfusion(f, flush, FlushLumen)
}

// forInfusion: a flush that names the infusion as what it is for goes through
// its lumen, whatever is not known of the line.
func forInfusion(f Facts, flush order.Order, lacks Fact) (compendium.Answer, Fact) {
	if slices.ContainsFunc(flush.Basis, func(ref string) bool { return refersTo(ref, f.order()) }) {
		return compendium.Yes, ""
	}
	return compendium.Unknown, lacks
}

// lumenOf is the lumen a flush names, else that of the only infusion it is for.
func lumenOf(f Facts, flush order.Order) string {
	if w := lumenWord(flush.Lumen); w != "" {
		return w
	}
	for _, x := range f.kase().Orders {
		if len(flush.Basis) == 1 && refersTo(flush.Basis[0], x) {
			return lumenWord(x.Lumen)
		}
	}
	return ""
}

// lumenWord is a lumen's name without the word for it: "Red lumen" is "red".
func lumenWord(s string) string {
	return strings.TrimSpace(strings.TrimSuffix(strings.ToLower(strings.TrimSpace(s)), "lumen"))
}

// flushBolus: row h3, a flush through the lumen of a drug that nothing may push.
// One that says it is withdrawn first is none.
func flushBolus(f Facts) []finding.Finding {
	flag, answer, _ := flagged(f, compendium.NoBolus)
	if answer != compendium.Yes {
		return nil
	}
	for _, x := range flushes(f) {
		if same, _ := sharesLumen(f, x); same != compendium.Yes || withdrawnFirst(x) {
			continue
		}
		out := here(x.Place, "a flush ordered through the lumen of "+f.order().Drug.Name+" ("+flag.Source+")", "no flush at a change of the container; at the end the lumen withdrawn first; other drugs and draws through another lumen")
		out[0].Standing = flag.Standing
		out[0].Evidence = []string{f.order().Place.Expression}
		return out
	}
	if ownFlush(f) != "" {
		out := here(f.order().Place, "the words of the order ask for a flush through the lumen of "+f.order().Drug.Name+" ("+flag.Source+")",
			"no flush at a change of the container; at the end the lumen withdrawn first; other drugs and draws through another lumen")
		out[0].Standing = flag.Standing
		return out
	}
	return nil
}

// ownFlush are the words in which the order for the infusion asks for a flush
// of its own lumen. Words that refuse one, withdraw first or name another
// lumen ask for none.
func ownFlush(f Facts) string {
	for _, s := range sentencesOf(f.order()) {
		words := wordsOf(s)
		has := func(list ...string) bool {
			return slices.ContainsFunc(words, func(w string) bool { return slices.Contains(list, w) })
		}
		if has("flush", "flushes", "flushed", "flushing") && !has(refusing...) && !has("withdraw", "withdrawn", "withdrawal") && !has("other", "second", "another", "unused") {
			_, from, _ := strings.Cut(s, "flush")
			return strings.TrimSpace("flush" + from)
		}
	}
	return ""
}

// withdrawnFirst: the words of the flush say that what is in the line is drawn
// out before. To aspirate for blood return is not that.
func withdrawnFirst(x order.Order) bool { return saysAny(x, "withdraw", "withdrawn", "withdrawal") }

// flushBolusUnknown: nobody can tell which lumen a flush is for, or whether the
// drug is one of those.
func flushBolusUnknown(f Facts) []Fact {
	var out []Fact
	for _, x := range flushes(f) {
		if same, lacks := sharesLumen(f, x); same == compendium.Unknown && !withdrawnFirst(x) {
			out = append(out, lacks)
		}
	}
	if len(flushes(f)) > 0 {
		out = append(out, flagUnknown(compendium.NoBolus)(f)...)
	}
	slices.Sort(out)
	return slices.Compact(out)
}
