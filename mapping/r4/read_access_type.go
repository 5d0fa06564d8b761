package r4

import (
	_ "embed"
	"encoding/json"
	"strings"
	"sync"
	"unicode"

	"weir.example/weir/mapping/order"
)

//go:embed access.json
var accessFile []byte

type accessTypes struct {
	Codes []struct {
		Code, Kind, Standing string
		Lumens               int
	}
	Words []struct{ Word, Kind string }
}

var accessTable = sync.OnceValue(func() accessTypes {
	var t accessTypes
	if err := json.Unmarshal(accessFile, &t); err != nil {
		panic("mapping/r4: access.json: " + err.Error())
	}
	return t
})

// accessKind is the kind of vascular access a concept names, by SNOMED CT, by
// our own code, or by words; "" when it names none. central says that it is
// a central catheter of a kind that is not stated.
func accessKind(c order.Concept) (kind string, lumens int) {
	for _, row := range accessTable().Codes {
		if row.Code == c.Code(snomed) {
			kind, lumens = row.Kind, row.Lumens
		}
	}
	if k := c.Code(ourCodes + "access-device"); k != "" && kind == "" {
		kind = k
	}
	if kind == "" || kind == "central" {
		if k := accessWords(words(c)); k != "" {
			kind = k
		}
	}
	return kind, lumens
}

// accessWords is the kind of line that a text names: the first row whose word
// begins a word of the text, and ends one where it is four letters or fewer
// ("PIV", and not "pivot"). A row without a kind names something that is no
// vascular line.
func accessWords(text string) string {
	text = plainly(text)
	for _, row := range accessTable().Words {
		word := " " + plainly(row.Word)
		if len(word) <= 5 {
			word += " "
		}
		if strings.Contains(" "+text+" ", word) {
			return row.Kind
		}
	}
	return ""
}

// plainly is a text in lower case with one space for all that is no letter and
// no digit: "Non-tunnelled" and "non tunnelled" are one.
func plainly(text string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }), " ")
}

// lumensIn reads single, double or triple lumen from words.
func lumensIn(text string) int {
	text = strings.NewReplacer("-", " ").Replace(strings.ToLower(text))
	for n, list := range [][]string{1: {"single lumen", "one lumen", "1 lumen"}, 2: {"double lumen", "dual lumen", "two lumen", "2 lumen"}, 3: {"triple lumen", "three lumen", "3 lumen"}} {
		for _, w := range list {
			if strings.Contains(text, w) {
				return n
			}
		}
	}
	return 0
}
