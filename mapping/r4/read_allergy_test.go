package r4

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// allergyOf reads a document with one allergy record of these members.
func allergyOf(members string) string {
	return `{"resourceType":"AllergyIntolerance","id":"al","patient":{"reference":"Patient/a"},` + members + `}`
}

func TestAnAllergyIsReadWithItsReactionAndKind(t *testing.T) {
	k := readOne(t, bundle(patientA, orderA, allergyOf(`"category":["food","medication"],"criticality":"low","code":{"text":"peanut"},
		"reaction":[{"manifestation":[{"text":"Rash"},{"text":"Itching"}],"description":"then the throat closed","severity":"mild"},{"manifestation":[{"coding":[{"display":"Nausea"}]}],"severity":"severe"}]`)), noon)
	require.Len(t, k.Allergies, 1)
	a := k.Allergies[0]
	assert.Equal(t, []string{"food", "medication"}, a.Categories)
	assert.Equal(t, "low", a.Criticality)
	assert.Equal(t, "severe", a.Severity, "the worst of all")
	require.Len(t, a.Reactions, 3)
	assert.Equal(t, "Rash; then the throat closed", a.Reactions[0].Text)
	assert.Equal(t, "Itching", a.Reactions[1].Text)
	assert.Equal(t, "Nausea", a.Reactions[2].Name())
}

func TestWhichRecordsAreAllergies(t *testing.T) {
	const verification, clinical = `"http://terminology.hl7.org/CodeSystem/allergyintolerance-verification"`, `"http://terminology.hl7.org/CodeSystem/allergyintolerance-clinical"`
	for _, c := range []struct {
		says, members     string
		read, none, count bool
	}{
		{"an allergy", `"code":{"text":"cefazolin"}`, true, false, true},
		{"refuted", `"verificationStatus":{"coding":[{"system":` + verification + `,"code":"refuted"}]},"code":{"text":"cefazolin"}`, false, false, false},
		{"entered in error", `"verificationStatus":{"coding":[{"system":` + verification + `,"code":"entered-in-error"}]},"code":{"text":"cefazolin"}`, false, false, false},
		{"unconfirmed counts", `"verificationStatus":{"coding":[{"system":` + verification + `,"code":"unconfirmed"}]},"code":{"text":"cefazolin"}`, true, false, true},
		{"inactive", `"clinicalStatus":{"coding":[{"system":` + clinical + `,"code":"inactive"}]},"code":{"text":"cefazolin"}`, true, false, false},
		{"resolved", `"clinicalStatus":{"coding":[{"system":` + clinical + `,"code":"resolved"}]},"code":{"text":"cefazolin"}`, true, false, false},
		{"none known", `"code":{"text":"No known drug allergies"}`, true, true, true},
		{"none known to a medication", `"code":{"text":"No known medication allergies."}`, true, true, true},
		{"none known but one", `"code":{"text":"NKDA except penicillin"}`, true, false, true},
		{"none known, by a code of the hospital", `"code":{"coding":[{"system":"https://a.example/codes","code":"7","display":"No known allergies"}],"text":"NKDA"}`, true, true, true},
		{"none known, beside a code without words", `"code":{"coding":[{"system":"https://a.example/codes","code":"7"}],"text":"NKDA"}`, true, false, true},
		{"no known food allergy says nothing of drugs", `"code":{"coding":[{"system":"http://snomed.info/sct","code":"429625007","display":"No known food allergy"}]}`, false, false, false},
		{"no known latex allergy is none", `"code":{"text":"No known latex allergy"}`, false, false, false},
		{"the substance of the reaction, where no code is sent", `"reaction":[{"substance":{"text":"cefazolin"},"manifestation":[{"text":"Rash"}]}]`, true, false, true},
	} {
		k := readOne(t, bundle(patientA, orderA, allergyOf(c.members)), noon)
		if !c.read {
			assert.Empty(t, k.Allergies, c.says)
			assert.NotEmpty(t, k.Unused, "%s: what is not read is said", c.says)
			continue
		}
		if assert.Len(t, k.Allergies, 1, c.says) {
			assert.Equal(t, c.none, k.Allergies[0].NoneKnown, c.says)
			assert.Equal(t, c.count, k.Allergies[0].Active, c.says)
			assert.NotEmpty(t, k.Allergies[0].Place.Expression, c.says)
		}
	}
}
