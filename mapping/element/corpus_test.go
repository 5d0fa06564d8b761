package element

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const parsing = "../../testdata/json/parsing"

// corpus gives JSONTestSuite's files whose name begins with the prefix, the
// two that are not stored included.
func corpus(t *testing.T, prefix string) map[string][]byte {
	t.Helper()
	files := map[string][]byte{}
	names, err := filepath.Glob(filepath.Join(parsing, prefix+"*.json"))
	require.NoError(t, err)
	for _, name := range names {
		data, err := os.ReadFile(name)
		require.NoError(t, err)
		files[filepath.Base(name)] = data
	}
	if prefix == "n_" {
		files["n_structure_100000_opening_arrays.json"] = []byte(strings.Repeat("[", 100_000))
		files["n_structure_open_array_object.json"] = []byte(strings.Repeat(`[{"":`, 50_000) + "\n")
	}
	return files
}

// asJSON gives the codes of what is wrong with the text as JSON, without
// FHIR's rules: the first half of Read.
func asJSON(data []byte) []code {
	d := &Document{text: string(data)}
	f := &faults{doc: d}
	if what, other := recognise(d.text); other {
		f.add(fault{code: syntax, what: what})
	} else {
		scan(d, data, DefaultLimit, f)
	}
	codes := []code{}
	for _, found := range f.findings() {
		codes = append(codes, found.Code)
	}
	return codes
}

func TestEveryMustRefuseFileIsRefusedAsJSON(t *testing.T) {
	files := corpus(t, "n_")
	require.Len(t, files, 188, "number of n_ files of JSONTestSuite at the commit in its README")
	for name, data := range files {
		t.Run(name, func(t *testing.T) {
			codes := asJSON(data)
			require.NotEmpty(t, codes)
			_, findings := Read(data, Limit{})
			for _, found := range findings {
				inDocument(t, data, found)
			}
			if strings.HasPrefix(name, "n_structure_100000_") || name == "n_structure_open_array_object.json" {
				assert.Contains(t, codes, limits, "too deep before it is malformed")
				return
			}
			assert.Contains(t, codes, syntax)
		})
	}
}

// fhirRefuses are the must-accept files of JSON that hold something FHIR's
// JSON form forbids in every place, and the code expected for it. None of the
// files is a resource, so all are refused for their root besides.
// Sources: json.html (null, [], {}, duplicate names; arrays of arrays do not
// exist), datatypes.html#string (characters, emptiness), and our limits.
var fhirRefuses = map[string]code{
	"y_array_arraysWithSpaces.json":                 structure, // [[] ]
	"y_array_empty.json":                            structure, // []
	"y_structure_whitespace_array.json":             structure, // []
	"y_object_empty.json":                           structure, // {}
	"y_object_simple.json":                          structure, // {"a":[]}
	"y_object_empty_key.json":                       structure, // {"":0}
	"y_array_heterogeneous.json":                    structure, // null and {} in an array
	"y_array_null.json":                             structure, // [null]
	"y_array_with_several_null.json":                structure, // [1,null,null,null,2]
	"y_structure_lonely_null.json":                  structure, // null
	"y_array_empty-string.json":                     value,     // [""]
	"y_structure_string_empty.json":                 value,     // ""
	"y_string_space.json":                           value,     // " "
	"y_string_u+2028_line_sep.json":                 value,     // a line separator alone
	"y_string_u+2029_par_sep.json":                  value,     // a paragraph separator alone
	"y_string_unicode_U+200B_ZERO_WIDTH_SPACE.json": value,     // nothing visible
	"y_string_unicode_U+2064_invisible_plus.json":   value,     // nothing visible
	"y_string_allowed_escapes.json":                 value,     // \b and \f
	"y_string_escaped_control_character.json":       value,     // U+0012
	"y_string_null_escape.json":                     value,     // U+0000
	"y_number_minus_zero.json":                      value,     // -0
	"y_number_negative_zero.json":                   value,     // -0
	"y_number.json":                                 limits,    // 123e65
	"y_number_real_capital_e.json":                  limits,    // 1E22
	"y_number_real_exponent.json":                   limits,    // 123e45
	"y_number_real_fraction_exponent.json":          limits,    // 123.456e78
	"y_object_extreme_numbers.json":                 limits,    // 1.0e+28
	"y_number_double_close_to_zero.json":            limits,    // 78 decimal places
	"y_object_duplicated_key.json":                  syntax,    // {"a":"b","a":"c"}
	"y_object_duplicated_key_and_value.json":        syntax,    // {"a":"b","a":"b"}
}

func TestEveryMustAcceptFileIsJSONAndFHIRRefusesWhatItForbids(t *testing.T) {
	files := corpus(t, "y_")
	require.Len(t, files, 95, "number of y_ files of JSONTestSuite at the commit in its README")
	for name := range fhirRefuses {
		require.Contains(t, files, name)
	}
	for name, data := range files {
		t.Run(name, func(t *testing.T) {
			assert.Empty(t, asJSON(data), "as JSON")
			_, findings := Read(data, Limit{})
			rest := []code{}
			root := false
			for _, found := range findings {
				inDocument(t, data, found)
				if strings.HasPrefix(found.Detail, "the document is JSON but no FHIR resource") {
					root = true
					assert.Equal(t, structure, found.Code)
					continue
				}
				rest = append(rest, found.Code)
			}
			assert.True(t, root, "no file of the corpus is a resource")
			if expected, refused := fhirRefuses[name]; !refused {
				assert.Empty(t, rest)
			} else if name == "y_structure_lonely_null.json" {
				assert.Empty(t, rest, "the root says it already")
			} else {
				require.NotEmpty(t, rest)
				for _, code := range rest {
					assert.Equal(t, expected, code)
				}
			}
		})
	}
}

// decided are the files whose answer RFC 8259 leaves to the reader. What is
// JSON for us and refused by our limits as a FHIR number stands as limits;
// the others are refused as JSON.
var decided = map[string]struct {
	json, fhir code
	why        string
}{
	"i_number_double_huge_neg_exp.json":                   {"", limits, "123.456e-789: exponent below -20"},
	"i_number_huge_exp.json":                              {"", limits, "exponent of 119 digits"},
	"i_number_neg_int_huge_exp.json":                      {"", limits, "-1e+9999"},
	"i_number_pos_double_huge_exp.json":                   {"", limits, "1.5e+9999"},
	"i_number_real_neg_overflow.json":                     {"", limits, "-123123e100000"},
	"i_number_real_pos_overflow.json":                     {"", limits, "123123e100000"},
	"i_number_real_underflow.json":                        {"", limits, "123e-10000000"},
	"i_number_too_big_neg_int.json":                       {"", limits, "33 digits"},
	"i_number_too_big_pos_int.json":                       {"", limits, "21 digits"},
	"i_number_very_big_negative_int.json":                 {"", limits, "45 digits"},
	"i_object_key_lone_2nd_surrogate.json":                {syntax, syntax, "lone surrogate in a name (RFC 7493 section 2.1)"},
	"i_string_1st_surrogate_but_2nd_missing.json":         {syntax, syntax, "lone surrogate"},
	"i_string_1st_valid_surrogate_2nd_invalid.json":       {syntax, syntax, "lone surrogate"},
	"i_string_incomplete_surrogate_and_escape_valid.json": {syntax, syntax, "lone surrogate"},
	"i_string_incomplete_surrogate_pair.json":             {syntax, syntax, "lone surrogate"},
	"i_string_incomplete_surrogates_escape_valid.json":    {syntax, syntax, "lone surrogates"},
	"i_string_invalid_lonely_surrogate.json":              {syntax, syntax, "lone surrogate"},
	"i_string_invalid_surrogate.json":                     {syntax, syntax, "lone surrogate"},
	"i_string_inverted_surrogates_U+1D11E.json":           {syntax, syntax, "pair in the wrong order"},
	"i_string_lone_second_surrogate.json":                 {syntax, syntax, "lone surrogate"},
	"i_string_UTF-16LE_with_BOM.json":                     {syntax, syntax, "UTF-16"},
	"i_string_utf16BE_no_BOM.json":                        {syntax, syntax, "UTF-16"},
	"i_string_utf16LE_no_BOM.json":                        {syntax, syntax, "UTF-16"},
	"i_string_UTF-8_invalid_sequence.json":                {syntax, syntax, "not UTF-8 (RFC 8259 section 8.1)"},
	"i_string_UTF8_surrogate_U+D800.json":                 {syntax, syntax, "surrogate in UTF-8"},
	"i_string_invalid_utf-8.json":                         {syntax, syntax, "not UTF-8"},
	"i_string_iso_latin_1.json":                           {syntax, syntax, "ISO 8859-1"},
	"i_string_lone_utf8_continuation_byte.json":           {syntax, syntax, "not UTF-8"},
	"i_string_not_in_unicode_range.json":                  {syntax, syntax, "beyond U+10FFFF"},
	"i_string_overlong_sequence_2_bytes.json":             {syntax, syntax, "overlong UTF-8"},
	"i_string_overlong_sequence_6_bytes.json":             {syntax, syntax, "overlong UTF-8"},
	"i_string_overlong_sequence_6_bytes_null.json":        {syntax, syntax, "overlong UTF-8"},
	"i_string_truncated-utf-8.json":                       {syntax, syntax, "not UTF-8"},
	"i_structure_500_nested_arrays.json":                  {limits, limits, "deeper than 64"},
	"i_structure_UTF-8_BOM_empty_object.json":             {syntax, syntax, "byte order mark (RFC 8259 section 8.1 lets a reader refuse it)"},
}

func TestEveryFileLeftToTheReaderIsDecided(t *testing.T) {
	files := corpus(t, "i_")
	require.Len(t, files, 35, "number of i_ files of JSONTestSuite at the commit in its README")
	for name, data := range files {
		t.Run(name, func(t *testing.T) {
			want, ok := decided[name]
			require.True(t, ok, "no decision for this file")
			if want.json == "" {
				assert.Empty(t, asJSON(data), want.why)
			} else {
				assert.Equal(t, []code{want.json}, unique(asJSON(data)), want.why)
			}
			_, findings := Read(data, Limit{})
			codes := []code{}
			for _, found := range findings {
				inDocument(t, data, found)
				codes = append(codes, found.Code)
			}
			assert.Contains(t, codes, want.fhir, want.why)
		})
	}
}

func unique(codes []code) []code {
	list := []code{}
	seen := map[code]bool{}
	for _, c := range codes {
		if !seen[c] {
			list = append(list, c)
		}
		seen[c] = true
	}
	return list
}
