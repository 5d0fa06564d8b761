package arithmetic

// CustomsFile returns the embedded table of customary values, as it is
// signed.
func CustomsFile() []byte { return customsFile }
