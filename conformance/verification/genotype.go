package verification

import (
	"slices"
	"strings"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/order"
)

func genotypeAsked(f Facts) bool { return f.drug().GenotypeTest }

func genotypes(f Facts) []order.Measurement {
	return slices.DeleteFunc(slices.Clone(f.kase().Measurements), func(m order.Measurement) bool { return m.Name != "genotype" })
}

func genotypeKnown(f Facts) bool { return genotypeAsked(f) && len(genotypes(f)) > 0 }

func genotypeUnknown(f Facts) []finding.Finding {
	if len(genotypes(f)) > 0 {
		return nil
	}
	return here(f.order().Drug.Place, "no gene-variant test of dihydropyrimidine dehydrogenase on record", "the result, or the prescriber's word that treatment cannot wait")
}

// Words of a result of the gene test (from memory): one of less decides, then
// one of the usual. A result with neither is read by a person.
var (
	geneLess  = []string{"poor", "intermediate", "reduced", "decreased", "deficient", "deficiency", "partial", "abnormal", "heterozygous", "low", "absent", "positive", "impaired"}
	geneUsual = []string{"normal", "negative", "wild", "unaffected"}
)

// genotypeResult: a result that is not known to be normal.
func genotypeResult(f Facts) []finding.Finding {
	var out []finding.Finding
	for _, m := range genotypes(f) {
		w := wordsOf(strings.ToLower(m.Text))
		has := func(list []string) bool {
			return slices.ContainsFunc(w, func(x string) bool { return slices.Contains(list, x) })
		}
		if has(geneUsual) && !has(geneLess) && !slices.Contains(w, "not") {
			continue
		}
		out = append(out, here(m.Place, "test of dihydropyrimidine dehydrogenase: "+strings.ToLower(m.Text), "a normal result, or a dose that the prescriber set with this result in mind")...)
	}
	return out
}
