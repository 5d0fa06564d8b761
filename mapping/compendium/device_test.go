package compendium_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/compendium"
	"weir.example/weir/mapping/quantity"
)

func of(n, unit string) quantity.Quantity {
	return quantity.Point(quantity.MustNumber(n), quantity.MustUnit(unit))
}

func TestEveryDeviceIsFoundByItsClassVolumeAndRate(t *testing.T) {
	classes := 0
	for _, class := range []string{"elastomeric", "electronic-pump", "syringe-pump", "gravity"} {
		rows := compendium.DevicesOf(class)
		assert.NotEmpty(t, rows, class)
		classes += len(rows)
	}
	assert.Len(t, compendium.Devices(), classes, "every row has one of the classes")
	for _, d := range compendium.DevicesOf("elastomeric") {
		volume, ok := d.Values.One("volume", "")
		require.True(t, ok, d.Name)
		for _, rate := range d.Values.All("nominalRate") {
			for _, n := range []string{volume.Low, volume.High} {
				got, ok := compendium.DeviceOf("elastomeric", of(n, "mL"), of(rate.Value, "mL/h"))
				require.True(t, ok, "%s mL at %s", n, rate.Value)
				assert.Contains(t, got.Values.All("nominalRate"), rate, "%s mL at %s", n, rate.Value)
			}
		}
	}
}

// Published: mean flow rate within 15 % of the nominal, ISO 28620:2020 clause
// 5.1; 110 mL at 100 mL/h, 100 mL at 5 mL/h (Anesth Pain Med 2014;4:e14989),
// 240 mL at 10 mL/h (J Pharm Pract Res 2005); drop factors 10, 15, 20 and 60
// (Open RN, Nursing Skills, 23.8).
func TestPublishedNumbersOfDevices(t *testing.T) {
	for _, d := range compendium.DevicesOf("elastomeric") {
		f, ok := d.Values.One("tolerance", "")
		require.True(t, ok)
		assert.Equal(t, "15 % sourced", f.Value+" "+f.Unit+" "+f.Standing)
		assert.Equal(t, "ISO 28620:2020 clause 5.1", f.Source)
	}
	for _, x := range []struct{ volume, rate string }{{"110", "100"}, {"100", "5"}, {"240", "10"}} {
		d, ok := compendium.DeviceOf("elastomeric", of(x.volume, "mL"), of(x.rate, "mL/h"))
		require.True(t, ok, x)
		for _, r := range d.Values.All("nominalRate") {
			if r.Value == x.rate {
				assert.Equal(t, compendium.Sourced, r.Standing, x)
			}
		}
	}
	var factors []string
	for _, d := range compendium.DevicesOf("gravity") {
		f, ok := d.Values.One("dropFactor", "")
		require.True(t, ok)
		assert.Equal(t, "[drp]/mL", f.Unit)
		factors = append(factors, f.Value)
	}
	assert.Equal(t, []string{"10", "15", "20", "60"}, factors)
}

func TestAnotherDeviceIsNotFound(t *testing.T) {
	for _, x := range []struct{ class, volume, unit, rate, per string }{
		{"elastomeric", "100", "mL", "99", "mL/h"}, // near is another device
		{"elastomeric", "99.9", "mL", "100", "mL/h"},
		{"elastomeric", "100", "mg", "100", "mL/h"},
		{"elastomeric", "100", "mL", "100", "mg/h"},
		{"ball pump", "100", "mL", "100", "mL/h"}, {"", "100", "mL", "100", "mL/h"},
	} {
		_, ok := compendium.DeviceOf(x.class, of(x.volume, x.unit), of(x.rate, x.per))
		assert.False(t, ok, x)
	}
	_, ok := compendium.DeviceOf("elastomeric", quantity.Quantity{}, of("100", "mL/h"))
	assert.False(t, ok, "no volume")
	assert.Empty(t, compendium.DevicesOf("balloon"))
}

func TestFitsAnswersKnownClassesOrUnknown(t *testing.T) {
	names := func(volume, rate string) (classes []string) {
		list, ok := compendium.Fits(of(volume, "mL"), of(rate, "mL/h"))
		assert.Equal(t, ok, len(list) > 0)
		for _, d := range list {
			classes = append(classes, d.Class)
		}
		return classes
	}
	assert.Equal(t, []string{"elastomeric", "electronic-pump"}, names("100", "200"))
	assert.Equal(t, []string{"elastomeric", "electronic-pump"}, names("100", "2"), "the slow one")
	assert.Equal(t, []string{"electronic-pump"}, names("100", "77"), "only a pump is set to 77")
	assert.Equal(t, []string{"electronic-pump"}, names("2000", "80"))
	assert.Equal(t, []string{"electronic-pump", "syringe-pump"}, names("20", "40"))
	assert.Empty(t, names("5000", "80"), "larger than any reservoir")
	assert.Empty(t, names("100", "900"), "faster than any pump")
	_, ok := compendium.Fits(of("100", "mg"), of("200", "mL/h"))
	assert.False(t, ok)
	_, ok = compendium.Fits(quantity.Quantity{}, of("200", "mL/h"))
	assert.False(t, ok, "no volume")
	_, ok = compendium.Fits(of("0.1", "L"), of("200", "mL/h"))
	assert.True(t, ok, "units are converted")
}

func TestFaultyTablesOfDevicesAreRefused(t *testing.T) {
	const value = `{"name": "dropFactor", "value": "20", "unit": "[drp]/mL", "standing": "memory", "source": "s"}`
	row := func(values string) string {
		return `{"edition": "2026-11", "notice": "n", "rows": [{"class": "gravity", "name": "set", "values": [` + values + `]}]}`
	}
	got, err := compendium.ParseDevices([]byte(row(value)))
	require.NoError(t, err)
	assert.Len(t, got, 1)
	for says, text := range map[string]string{
		"no row":             `{"edition": "2026-11", "rows": []}`,
		"no edition":         `{"rows": [{"class": "gravity", "name": "set", "values": [` + value + `]}]}`,
		"no value":           row(""),
		"no source":          row(`{"name": "dropFactor", "value": "20", "unit": "[drp]/mL", "standing": "memory"}`),
		"no standing":        row(`{"name": "dropFactor", "value": "20", "unit": "[drp]/mL", "source": "s"}`),
		"a standing of ours": row(`{"name": "dropFactor", "value": "20", "unit": "[drp]/mL", "standing": "local", "source": "s"}`),
		"no unit":            row(`{"name": "dropFactor", "value": "20", "standing": "memory", "source": "s"}`),
		"a unit of no code":  row(`{"name": "dropFactor", "value": "20", "unit": "gtt/mL", "standing": "memory", "source": "s"}`),
		"no number":          row(`{"name": "dropFactor", "value": "twenty", "unit": "[drp]/mL", "standing": "memory", "source": "s"}`),
		"a number as such":   row(`{"name": "dropFactor", "value": 20, "unit": "[drp]/mL", "standing": "memory", "source": "s"}`),
		"number and range":   row(`{"name": "dropFactor", "value": "20", "low": "1", "unit": "[drp]/mL", "standing": "memory", "source": "s"}`),
		"high to low":        row(`{"name": "dropFactor", "low": "20", "high": "10", "unit": "[drp]/mL", "standing": "memory", "source": "s"}`),
		"a unit for words":   row(`{"name": "use", "says": "w", "unit": "mL", "standing": "memory", "source": "s"}`),
		"nothing":            row(`{"name": "use", "standing": "memory", "source": "s"}`),
		"no name of value":   row(`{"says": "w", "standing": "memory", "source": "s"}`),
		"another population": row(`{"name": "use", "says": "w", "population": "old", "standing": "memory", "source": "s"}`),
		"another gate":       row(`{"name": "use", "says": "w", "gate": "stop", "standing": "memory", "source": "s"}`),
		"a value twice":      row(value + "," + value),
		"an unknown key":     row(`{"name": "use", "say": "w", "standing": "memory", "source": "s"}`),
		"another class":      `{"edition": "2026-11", "rows": [{"class": "balloon", "name": "set", "values": [` + value + `]}]}`,
		"a row twice":        `{"edition": "2026-11", "rows": [{"class": "gravity", "name": "set", "values": [` + value + `]}, {"class": "gravity", "name": "set", "values": [` + value + `]}]}`,
		"something behind":   row(value) + "{}",
		"no JSON":            `{`,
	} {
		_, err := compendium.ParseDevices([]byte(text))
		assert.Error(t, err, says)
	}
}
