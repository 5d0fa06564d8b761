package compendium

// Count tells how large a table is and how far it may be trusted: the number
// of its values by standing. A value counts once wherever it stands beside a
// source; a group of names and a limit count as values.
type Count struct {
	Edition  string
	Rows     int
	Standing map[string]int // sourced, corroborated, memory
}

func counted(edition string, rows int) Count {
	return Count{Edition: edition, Rows: rows, Standing: map[string]int{Sourced: 0, Corroborated: 0, Memory: 0}}
}

func (c Count) add(fs Figures) {
	for _, f := range fs {
		c.Standing[f.Standing]++
	}
}
