package r4

// MeasurementsFile returns the embedded table of the codes of measurements
// and of what no living person exceeds, as it is signed.
func MeasurementsFile() []byte { return measurementFile }

// AccessTypesFile returns the embedded table of codes and words of lines, as
// it is signed.
func AccessTypesFile() []byte { return accessFile }
