package worklist_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
	"weir.example/weir/testdata/orders"
)

// Who could be taken for the patient of an order is named on its page, and
// nobody else: twins, namesakes, a birth date with day and month exchanged.
// Names are compared without case and accents. Same family name and birth date
// as the mark of both is common practice, no source.
func TestWhoCouldBeTakenForThePatient(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	const care = "Take care whom it is for"
	for name, c := range map[string]struct {
		family, given, born, link string // of the other
		says                      string // "" for nothing
	}{
		"a twin":                     {"Fenwick-Oakes", "Wilmot", "1958-03-04", "", "Wilmot"},
		"a namesake":                 {"FENWICK-OAKES", "Róbin", "1958-03-04", "", "Róbin (the same)"},
		"day and month exchanged":    {"Fenwick-Oakes", "Wilmot", "1958-04-03", "", "Wilmot (day and month of the birth date exchanged)"},
		"another birth date":         {"Fenwick-Oakes", "Robin", "1958-03-05", "", ""},
		"another family":             {"Fenwick", "Robin", "1958-03-04", "", ""},
		"the same person, by a link": {"Fenwick-Oakes", "Robin", "1958-03-04", "w-pat", ""},
	} {
		t.Run(name, func(t *testing.T) {
			s := opened(t)
			e, k := judged(t, reference(t), f, "w-")
			patient := func(id, family, given, born, link string) adapter.Resource {
				if link != "" {
					link = fmt.Sprintf(`,"link":[{"other":{"reference":"Patient/%s"},"type":"replaces"}]`, k[0].Line.Patient)
				}
				text := fmt.Appendf(nil, `{"resourceType":"Patient","id":%q,"name":[{"family":%q,"given":[%q]}],"birthDate":%q%s}`, id, family, given, born, link)
				r := adapter.Resource{Type: "Patient", ID: id, Version: 1, Updated: f.Now, Patient: id, Source: "d", JSON: text}
				r.Identifiers, r.Values = index.Of(element.ReadAgain(text, 1).Root())
				return r
			}
			for i, r := range e.Resources {
				if r.Type == "Patient" {
					e.Resources[i] = patient(r.ID, "Fenwick-Oakes", "Robin", "1958-03-04", "")
				}
			}
			e.Resources = append(e.Resources, patient("w-second", c.family, c.given, c.born, c.link))
			require.NoError(t, s.Commit(context.Background(), e))
			h := pages(s).Handler()
			p := open(t, h, k[0].Path)
			assert.NotContains(t, get(t, h, k[0].Path).Body.String(), "w-second", "the other is not led to")
			if c.says == "" {
				assert.NotContains(t, p.text, care)
				return
			}
			p.has(care + ": 1 other patient of this pharmacy could be taken for this one by family name and birth date. Confirm full given name, birth date, number and address before anything is released. Given name " + c.says)
		})
	}
}

// Without a birth date or a family name it is said that nobody was looked for.
func TestWhoCouldBeTakenForSomebodyUnknown(t *testing.T) {
	f, err := orders.Load("s1-cefazolin-elastomeric")
	require.NoError(t, err)
	s := opened(t)
	e, k := judged(t, reference(t), f, "w-")
	for i, r := range e.Resources {
		if r.Type == "Patient" {
			e.Resources[i].JSON = []byte(strings.Replace(string(r.JSON), `"birthDate"`, `"_without"`, 1))
		}
	}
	require.NoError(t, s.Commit(context.Background(), e))
	open(t, pages(s).Handler(), k[0].Path).has("Whether another patient of this pharmacy has the same family name and birth date was not looked for")
}
