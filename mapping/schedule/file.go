package schedule

// AbbreviationsFile returns the embedded table of timing codes, as it is
// signed.
func AbbreviationsFile() []byte { return abbreviationFile }
