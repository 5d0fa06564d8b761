package compendium

import (
	_ "embed"
	"fmt"
	"slices"
	"sync"

	"weir.example/weir/mapping/quantity"
)

//go:embed devices.json
var devicesFile []byte

// Device is a class of infusion device in generic numbers, never a product:
// the instructions of the device in hand decide. Its values by name: volume
// (nominal, mL), fill (mL), nominalRate (mL/h, one value each), rate (the
// range that can be set, mL/h), step (mL/h), residual (mL), delivered (% of
// the fill), tolerance and accuracy (%, either way), keepOpen (mL/h),
// lockout (min), battery (h), reservoir (mL), dropFactor ([drp]/mL),
// calibratedAt and worn (degrees Celsius), use and caution (words).
type Device struct {
	Class  string // elastomeric, electronic-pump, syringe-pump, gravity
	Name   string
	Values Figures
}

// The classes of devices.
var deviceClasses = []string{"elastomeric", "electronic-pump", "syringe-pump", "gravity"}

type deviceTable struct {
	Edition, Notice string
	Rows            []Device
}

var devicesKnown = sync.OnceValue(func() deviceTable { return must(parseDevices(devicesFile)) })

// DevicesFile returns the embedded table of device classes, for the schema
// check.
func DevicesFile() []byte { return devicesFile }

// Devices are the classes of devices, in the order of the file.
func Devices() []Device { return devicesKnown().Rows }

// DevicesCount counts the table and its values by standing.
func DevicesCount() Count {
	t := devicesKnown()
	c := counted(t.Edition, len(t.Rows))
	for _, d := range t.Rows {
		c.add(d.Values)
	}
	return c
}

// ParseDevices reads a table of device classes. It refuses an empty table, a
// key it does not know, a class it does not know, a row that stands twice,
// and a value without number or words, unit, source and standing.
func ParseDevices(data []byte) ([]Device, error) {
	t, err := parseDevices(data)
	return t.Rows, err
}

func parseDevices(data []byte) (deviceTable, error) {
	var t deviceTable
	if err := decodeTable("device", data, &t); err != nil {
		return t, err
	}
	if t.Edition == "" || len(t.Rows) == 0 {
		return t, fmt.Errorf("device table: no edition or no row")
	}
	seen := map[string]bool{}
	for _, d := range t.Rows {
		key := d.Class + "|" + d.Name
		switch err := d.Values.check(); {
		case err != nil:
			return t, fmt.Errorf("device table: %s, %s: %w", d.Class, d.Name, err)
		case d.Name == "" || !slices.Contains(deviceClasses, d.Class):
			return t, fmt.Errorf("device table: the row %q has class %q; use one of %v", d.Name, d.Class, deviceClasses)
		case seen[key]:
			return t, fmt.Errorf("device table: %s, %s stands twice", d.Class, d.Name)
		}
		seen[key] = true
	}
	return t, nil
}

// DevicesOf are the rows of a class; none for a class that is not listed.
func DevicesOf(class string) []Device {
	var out []Device
	for _, d := range Devices() {
		if d.Class == class {
			out = append(out, d)
		}
	}
	return out
}

// DeviceOf finds a fixed-flow device by its nominal volume and nominal rate.
// A rate near a listed one is another device, and not found.
func DeviceOf(class string, volume, rate quantity.Quantity) (Device, bool) {
	for _, d := range DevicesOf(class) {
		if d.reservoirHolds("volume", volume) && d.flowsAt(rate) {
			return d, true
		}
	}
	return Device{}, false
}

// Fits are the device classes of the table that take a volume (mL) and run
// at a rate (mL/h): a fixed-flow device when the volume lies in its range of
// fill and the rate is one of its nominal rates exactly, a pump when the
// rate can be set. How far a rate may be off is a choice of the site and not
// asked here. False means the table knows none, which is not that there is
// none.
func Fits(volume, rate quantity.Quantity) ([]Device, bool) {
	var out []Device
	for _, d := range Devices() {
		if d.Class != "gravity" && d.flowsAt(rate) && d.reservoirHolds("fill", volume) {
			out = append(out, d)
		}
	}
	return out, len(out) > 0
}

// reservoirHolds looks at every volume of the name: pumps take reservoirs of
// several sizes, and what is smaller than the largest can be put in.
func (d Device) reservoirHolds(name string, volume quantity.Quantity) bool {
	if d.Class == "elastomeric" {
		return slices.ContainsFunc(d.Values.All(name), func(f Figure) bool { return f.holds(volume) })
	}
	return slices.ContainsFunc(d.Values.All("reservoir"), func(f Figure) bool {
		band, ok := f.Quantity()
		if !ok || volume.Absent() {
			return false
		}
		in, err := volume.In(band.Unit)
		return err == nil && in.Low.Sign() > 0 && !band.High.Less(in.High)
	})
}

func (d Device) flowsAt(rate quantity.Quantity) bool {
	return slices.ContainsFunc(append(d.Values.All("nominalRate"), d.Values.All("rate")...), func(f Figure) bool { return f.holds(rate) })
}
