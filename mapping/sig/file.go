package sig

// WordsFile returns the embedded table of words of directions, as it is
// signed.
func WordsFile() []byte { return wordsFile }

// UnitsFile returns the embedded table of units in words, as it is signed.
func UnitsFile() []byte { return unitsFile }
