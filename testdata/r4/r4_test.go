package r4_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/testdata/examples"
	"weir.example/weir/testdata/r4"
)

func TestTheSchemaAcceptsTheOfficialExamples(t *testing.T) {
	files, err := examples.Files.ReadDir(".")
	require.NoError(t, err)
	require.Len(t, files, 40)
	for _, f := range files {
		t.Run(f.Name(), func(t *testing.T) {
			data, err := examples.Files.ReadFile(f.Name())
			require.NoError(t, err)
			assert.Empty(t, r4.Errors(data))
		})
	}
}

func TestTheSchemaNamesWhatIsWrong(t *testing.T) {
	const order = `{"resourceType":"MedicationRequest","status":"active","intent":"order","subject":{"reference":"Patient/1"},"medicationCodeableConcept":{"text":"cefazolin"}`
	for name, c := range map[string]struct{ data, at string }{
		"an unknown element":                    {order + `,"dose":"2 g"}`, ": additionalProperties 'dose' not allowed"},
		"a blank address":                       {order + `,"implicitRules":"a b"}`, "/implicitRules: "},
		"an unknown element in a contained one": {order + `,"contained":[{"resourceType":"Medication","dose":"2 g"}]}`, "/contained/0: additionalProperties 'dose' not allowed"},
		"an unknown element in an entry":        {`{"resourceType":"Bundle","type":"collection","entry":[{"resource":` + order + `,"dose":"2 g"}}]}`, "/entry/0/resource: additionalProperties 'dose' not allowed"},
		"an unknown element of an entry":        {`{"resourceType":"Bundle","type":"collection","entry":[{"dose":1,"resource":` + order + `}}]}`, "/entry/0: additionalProperties 'dose' not allowed"},
		"a type that R4 does not have":          {`{"resourceType":"MedicationOrder"}`, ": the schema has no resource type"},
		"no object":                             {`[]`, ": a resource is no object"},
		"no JSON":                               {`{`, ": unexpected EOF"},
	} {
		t.Run(name, func(t *testing.T) {
			errs := r4.Errors([]byte(c.data))
			require.Len(t, errs, 1)
			assert.Contains(t, errs[0], c.at)
		})
	}
	assert.Empty(t, r4.Errors([]byte(order+"}")))
}
