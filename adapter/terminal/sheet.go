package terminal

// Sheet collects lines for a terminal of what is no worksheet, in the manner
// of one: wrapped, with the sender's controls and direction marks replaced,
// and colour only beside a word.
type Sheet struct{ p page }

// NewSheet makes an empty one.
func NewSheet(color bool) *Sheet { return &Sheet{page{color: color}} }

// Title writes a gate or a verdict in its colour, and the words behind it.
func (s *Sheet) Title(mark, text string) {
	s.p.line(s.p.paint(map[string]string{"BLOCK": red, "BLOCKED": red, "HOLD": yellow}[mark], mark) + "  " + clean(text))
}

// Head writes a heading behind an empty line.
func (s *Sheet) Head(title string) { s.p.head(clean(title)) }

// Text writes wrapped text.
func (s *Sheet) Text(indent int, text string) { s.p.text(indent, text) }

// Item writes wrapped text behind a dash.
func (s *Sheet) Item(indent int, text string) { s.p.item(indent, text) }

// Field writes a label and wrapped text behind it; nothing for no text.
func (s *Sheet) Field(indent int, label, text string) { s.p.field(indent, label, text) }

// Row writes cells in columns of the given widths, indented by two.
func (s *Sheet) Row(widths []int, cells ...string) { s.p.row(widths, cells...) }

// Take gives what was written and empties the sheet.
func (s *Sheet) Take() string {
	text := s.p.b.String()
	s.p.b.Reset()
	return text
}
