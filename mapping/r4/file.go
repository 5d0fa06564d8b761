package r4

// MeasurementsFile returns the embedded table of the codes of measurements
// and of what no living person exceeds, as it is signed.
func MeasurementsFile() []byte { return measurementFile }

// AccessTypesFile returns the embedded table of codes and words of lines, as
// it is signed.
func AccessTypesFile() []byte { return accessFile }

// LaboratoryFile returns the embedded table of what a laboratory order
// measures, as it is signed.
func LaboratoryFile() []byte { return laboratoryFile }

// AnswersFile returns the embedded table of what may be asked and answered,
// as it is signed.
func AnswersFile() []byte { return answersFile }
