package r4

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/order"
)

// Expectations are read by eye from the Bundles and from scenarios S1 and S3.
const (
	s1    = "s1-cefazolin-elastomeric/s1-cefazolin-elastomeric.json"
	s1Now = "2026-11-10T14:20:00-05:00"
	s3    = "s3-fluorouracil-46h/s3-fluorouracil-46h.json"
	s3Now = "2026-10-30T14:10:00-04:00"
)

func TestScenario1(t *testing.T) {
	c := readFile(t, s1, s1Now)
	p := c.Patient
	assert.Equal(t, "Okonkwo-Reyes", p.Family)
	assert.Equal(t, []string{"Amara"}, p.Given)
	assert.Equal(t, "1979-08-22", p.BirthDate.Literal)
	assert.Equal(t, "female", p.Gender)
	assert.False(t, p.Deceased)
	assert.Equal(t, "https://marrowgate.example/fhir/Patient/pat-004417", p.Ref.URL)
	assert.Equal(t, "MG-004417", p.Ref.Identifier.Value)
	assert.Equal(t, "MR", p.Ref.Identifier.Type)
	assert.Len(t, p.Phones, 2)
	assert.Equal(t, []string{"English", "Igbo"}, p.Languages)
	require.Len(t, p.Addresses, 1)
	assert.Equal(t, "America/New_York", p.Addresses[0].Zone)
	assert.Empty(t, p.Conflicts)

	o := theOrder(t, c)
	assert.Equal(t, "https://marrowgate.example/order|88213007", o.Key)
	assert.Len(t, o.Version, 64)
	assert.Equal(t, "https://marrowgate.example/fhir/MedicationRequest/mr-cefazolin", o.Ref.URL)
	assert.Equal(t, "https://marrowgate.example/fhir/Encounter/enc-2026-30418", o.Encounter.URL)
	assert.Equal(t, "https://marrowgate.example/fhir/Organization/org-lanternlight", o.Dispenser.URL)
	assert.Equal(t, "active", o.Status)
	assert.Equal(t, "order", o.Intent)
	assert.Equal(t, "Bundle.entry[14].resource.status", o.StatusPlace.Expression)
	assert.Equal(t, "cefazolin", o.Drug.Name)
	assert.Equal(t, "2180", o.Drug.Concept.Code(rxnorm))
	require.Len(t, o.Drug.Ingredients, 2)
	assert.False(t, *o.Drug.Ingredients[1].Active)
	// Volume 100 mL; 2 g per 100 mL is 0.02 g/mL; dose 2 g; 30 min; every 8 h.
	assert.Equal(t, []string{"volume 100 mL", "concentration 0.02 g/mL", "dose 2 g", "duration 30 min", "interval 8 h"}, stated(o.Stated))
	assert.Equal(t, "Bundle.entry[14].resource.dosageInstruction[0].doseAndRate[0].doseQuantity", o.Stated[2].Place.Expression)
	assert.Equal(t, order.Coded, o.Stated[2].Witness)
	assert.Equal(t, "content 2 g", stated([]order.Stated{*o.Drug.Content})[0])
	assert.Equal(t, "47625008", o.Route.Code(snomed))
	require.Len(t, o.Indications, 1)
	assert.Equal(t, "M46.26", o.Indications[0].Codings[0].Code)
	assert.Equal(t, "Dr. Ilse Varga", o.Requester.Name)
	assert.Equal(t, "+1-555-0133", o.Requester.Phone)
	assert.Equal(t, "2026-11-03T22:00:00-05:00", o.Course.Start.Literal)
	assert.Equal(t, "2026-12-15T15:00:00-05:00", o.Course.End.Literal)
	assert.False(t, o.Course.Single)
	assert.Equal(t, 126, o.Ordered.Doses)
	assert.Equal(t, 1, o.Timing.Frequency)
	assert.Equal(t, "elastomeric", o.Device.Kind)
	assert.True(t, o.Device.FromText)
	assert.Empty(t, o.Device.Parameters, "the 50 mL/h stands in words only, which package sig reads")
	assert.Empty(t, o.Faults)
	assert.Equal(t, "Cefazolin 2 g IV every 8 hours over 30 min, use 100 mL elastomeric 50 mL/h, through 15 December 2026", o.Lines[0].Words)

	byName := map[string]order.Measurement{}
	for _, m := range c.Measurements {
		byName[m.Name] = m
	}
	assert.Equal(t, "74", byName["weight"].Literal)
	assert.Equal(t, "168", byName["height"].Literal)
	assert.Equal(t, "0.8", byName["creatinine"].Literal)
	assert.Equal(t, "268", byName["platelets"].Literal)
	require.Len(t, c.Allergies, 1)
	assert.True(t, c.Allergies[0].NoneKnown)
	require.Len(t, c.Administrations, 2)
	assert.Equal(t, "2026-11-10T14:00:00-05:00", c.Administrations[0].Start.Literal)
	require.Len(t, c.Access, 1)
	a := c.Access[0]
	assert.Equal(t, "picc", a.Kind)
	assert.Equal(t, 1, a.Lumens)
	assert.True(t, a.TipConfirmed)
	assert.Equal(t, "2026-11-06T10:20:00-05:00", a.Placed.Literal)
	require.Len(t, c.People, 2)
	assert.Equal(t, []string{"follows-after-discharge", "receives-results"}, c.People[0].Roles)
	require.Len(t, c.Services, 2)
	for _, s := range c.Services {
		assert.Equal(t, "laboratory", s.Kind)
		assert.Equal(t, 7, s.EveryDays)
		assert.Equal(t, []string{"mon"}, s.DaysOfWeek)
		assert.Equal(t, []string{"Dr. Ilse Varga"}, s.Recipients)
	}
	require.Len(t, c.Discharges, 1)
	assert.Equal(t, "2026-11-10T15:00:00-05:00", c.Discharges[0].At.Literal)
	assert.True(t, c.Discharges[0].Planned)
	assert.True(t, c.Discharges[0].Inpatient)
	assert.NotEmpty(t, c.Reviews)
	assert.Empty(t, c.Supplies)
	assert.Contains(t, reasons(c.Unused), "Bundle.entry[1].resource: not used: nothing that is read points at this Organization")
}

func TestScenario3(t *testing.T) {
	c := readFile(t, s3, s3Now)
	o := theOrder(t, c)
	assert.Equal(t, "https://fenwicktarn.example/order|ONC-3304518", o.Key)
	assert.Equal(t, "urn:uuid:563081b5-0977-5a09-aa43-4d1b571862e4", o.Ref.URL)
	assert.Equal(t, "fluorouracil", o.Drug.Name)
	assert.Equal(t, "body-surface-area", o.DoseBasis)
	// 4,390 mg in 92 mL is 47.7174 mg/mL to six digits.
	assert.Equal(t, []string{"volume 92 mL", "concentration 47.7174 mg/mL", "dosePerArea 2400 mg/m2", "dose 4390 mg", "rate 47.7 mL/h", "duration 46 h"}, stated(o.Stated))
	assert.Equal(t, "ordered", o.Stated[2].Label)
	assert.Equal(t, "calculated", o.Stated[3].Label)
	assert.Equal(t, "47.7", o.Stated[4].Literal)
	require.NotNil(t, o.Drug.Ingredients[0].Stock)
	assert.Equal(t, "50", o.Drug.Ingredients[0].Stock.NumeratorLiteral)
	assert.True(t, o.Course.Single)
	assert.Equal(t, "America/New_York", o.Course.Start.Zone)
	assert.True(t, o.Timing.Events[0].Equal(time.Date(2026, 10, 31, 15, 0, 0, 0, time.UTC)))
	assert.Equal(t, 1, o.Ordered.Doses)
	assert.Equal(t, "elastomeric", o.Device.Kind)
	assert.False(t, o.Device.FromText)
	assert.Empty(t, o.Device.Parameters)
	assert.Len(t, o.Companions, 2)
	assert.Empty(t, o.Faults)
	require.Len(t, c.Related, 2)
	assert.Equal(t, "flush", c.Related[0].Role)
	assert.Equal(t, "lock", c.Related[1].Role)
	assert.Equal(t, []string{"concentration 100 [USP'U]/mL", "volume 5 mL"}, stated(c.Related[1].Stated))
	require.Len(t, c.Access, 1)
	assert.Equal(t, "port", c.Access[0].Kind)
	assert.True(t, c.Access[0].TipConfirmed)
	assert.Equal(t, "present", c.Access[0].BloodReturn)
	kinds := map[string]int{}
	for _, s := range c.Services {
		kinds[s.Kind]++
	}
	assert.Equal(t, map[string]int{"laboratory": 1, "visit": 2, "access-plan": 1}, kinds)
	assert.Len(t, c.Supplies, 3)
	for _, p := range c.People {
		if p.Roles[0] == "on-call" {
			assert.Equal(t, "+1-555-0164", p.Phone, "the number in the words of the role, not the hospital's switchboard")
		}
	}
	require.Len(t, c.Administrations, 1)
	assert.Equal(t, "community", c.Administrations[0].Setting)
	assert.Empty(t, c.Patient.Conflicts)
}

func TestFactsAfterTheClockAreListedAndNotUsed(t *testing.T) {
	c := readFile(t, s1, "2026-11-09T00:00:00-05:00")
	for _, m := range c.Measurements {
		assert.NotEqual(t, "weight", m.Name)
	}
	assert.Contains(t, reasons(c.Unused), "Bundle.entry[9].resource: not used: it lies after the clock")
	assert.Len(t, c.Administrations, 1, "only the first dose had been given")
}
