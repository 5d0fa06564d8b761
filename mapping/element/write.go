package element

import "github.com/go-json-experiment/json/jsontext"

// Value is JSON to be written. The zero Value is nothing and is left out of
// the object or list it is put in; so are an empty string, an object and a
// list in which nothing is left, and the number "". A boolean is always
// written. FHIR has no empty values, so code that builds a resource names
// every element and gives what it has.
type Value struct {
	kind   Kind
	keep   bool
	text   string // of a string, number or boolean
	fields []Field
	items  []Value
	node   Node
}

// Field is one member of an object.
type Field struct {
	Name  string
	Value Value
}

// F is a member: F("status", Str("active")).
func F(name string, v Value) Field { return Field{name, v} }

// Obj is an object with its members in the order given.
func Obj(fields ...Field) Value { return Value{kind: Object, fields: fields} }

// List is an array.
func List(items ...Value) Value { return Value{kind: Array, items: items} }

// Str is a string. Bytes that are not UTF-8 are written as U+FFFD.
func Str(s string) Value { return Value{kind: String, text: s} }

// Strs is an array of strings.
func Strs(list ...string) Value {
	v := Value{kind: Array, items: make([]Value, 0, len(list))}
	for _, s := range list {
		v.items = append(v.items, Str(s))
	}
	return v
}

// Num is a number, written as the literal stands: Num("0.50"). A text that is
// no JSON number is written as a string, which every reader of a number
// refuses: the fault is then seen, and the value is not lost.
func Num(literal string) Value {
	if literal != "" && !isNumber(literal) {
		return Str(literal)
	}
	return Value{kind: Number, text: literal}
}

// Int is a whole number.
func Int(n int) Value { return Value{kind: Number, text: itoa(n)} }

// Boolean is true or false; both are written.
func Boolean(b bool) Value {
	if b {
		return Value{kind: Bool, text: "true"}
	}
	return Value{kind: Bool, text: "false"}
}

// RawNode is a value that was read, with its members in document order and
// its numbers by their literals. The zero Node is nothing.
func RawNode(n Node) Value { return Value{kind: n.Kind(), node: n} }

// When is v if the condition holds, else nothing.
func When(condition bool, v Value) Value {
	if condition {
		return v
	}
	return Value{}
}

// Always is v, written even when it is empty: for schemas, not FHIR's, in
// which an empty list says that there is none.
func Always(v Value) Value {
	v.keep = true
	return v
}

// With is the object with further members behind its own.
func (v Value) With(fields ...Field) Value {
	v.kind = Object
	v.fields = append(v.fields[:len(v.fields):len(v.fields)], fields...)
	return v
}

// Append is the list with further items behind its own.
func (v Value) Append(items ...Value) Value {
	v.kind = Array
	v.items = append(v.items[:len(v.items):len(v.items)], items...)
	return v
}

// Empty says whether the value is left out when it stands in an object or a
// list.
func (v Value) Empty() bool {
	switch {
	case v.keep:
		return false
	case v.node.Exists():
		return false
	case v.kind == Object:
		for _, f := range v.fields {
			if !f.Value.Empty() {
				return false
			}
		}
		return true
	case v.kind == Array:
		for _, item := range v.items {
			if !item.Empty() {
				return false
			}
		}
		return true
	}
	return v.text == ""
}

// Encode writes a document for people and files: two spaces a level, LF, and
// a LF at the end. The same value gives the same bytes.
func Encode(v Value) []byte {
	w := writer{indent: true}
	w.value(&v, "", 0)
	return append(w.out, '\n')
}

// EncodeLine writes the value in one line that ends with LF, as NDJSON wants.
func EncodeLine(v Value) []byte { return append(Compact(v), '\n') }

// Compact writes the value without any white space.
func Compact(v Value) []byte { return AppendAs(make([]byte, 0, 1024), v, nil) }

// AppendAs appends to out what Compact(Rewrite(v, f)) gives, without making
// the values in between.
func AppendAs(out []byte, v Value, f func(name, text string) string) []byte {
	w := writer{out: out, texts: f}
	w.value(&v, "", 0)
	return w.out
}

type writer struct {
	out    []byte
	indent bool
	texts  func(name, text string) string // see Rewrite; nil: every text stays
	other  int                            // texts that did not stay
}

// value writes v, which stands in a member of that name, and says whether
// there is anything of it. What is empty is written too, and taken back by
// the object or list that leaves it out.
func (w *writer) value(v *Value, name string, level int) bool {
	switch {
	case v.node.Exists():
		return w.node(v.node, name, level)
	case v.kind == Object:
		w.open('{')
		written := 0
		for i := range v.fields {
			f := &v.fields[i]
			start := len(w.out)
			w.next(written, level+1)
			w.name(f.Name)
			if w.value(&f.Value, f.Name, level+1) {
				written++
			} else {
				w.out = w.out[:start]
			}
		}
		w.close('}', written, level)
		return written > 0 || v.keep
	case v.kind == Array:
		w.open('[')
		written := 0
		for i := range v.items {
			start := len(w.out)
			w.next(written, level+1)
			if w.value(&v.items[i], name, level+1) {
				written++
			} else {
				w.out = w.out[:start]
			}
		}
		w.close(']', written, level)
		return written > 0 || v.keep
	case v.kind == String:
		text, _ := w.text(name, v.text)
		w.string(text)
		return text != "" || v.keep
	case v.text != "":
		w.out = append(w.out, v.text...)
		return true
	}
	w.out = append(w.out, "null"...)
	return v.keep
}

// node writes a value that was read. It is empty only when other texts made
// it so: an empty object that was sent stays.
func (w *writer) node(n Node, name string, level int) bool {
	other := w.other
	switch n.Kind() {
	case Object:
		w.open('{')
		written := 0
		for c := n.firstChild(); c.Exists(); c = c.sibling() {
			start := len(w.out)
			w.next(written, level+1)
			w.name(c.Name())
			if w.node(c, c.Name(), level+1) {
				written++
			} else {
				w.out = w.out[:start]
			}
		}
		w.close('}', written, level)
		return written > 0 || w.other == other
	case Array:
		w.open('[')
		written := 0
		for c := n.firstChild(); c.Exists(); c = c.sibling() {
			start := len(w.out)
			w.next(written, level+1)
			if w.node(c, name, level+1) {
				written++
			} else {
				w.out = w.out[:start]
			}
		}
		w.close(']', written, level)
		return written > 0 || w.other == other
	case String:
		text, changed := w.text(name, n.Text())
		w.string(text)
		return text != "" || !changed
	case Null:
		w.out = append(w.out, "null"...)
	default:
		w.out = append(w.out, n.Literal()...)
	}
	return true
}

func (w *writer) text(name, text string) (string, bool) {
	if w.texts == nil {
		return text, false
	}
	x := w.texts(name, text)
	if x == text {
		return text, false
	}
	w.other++
	return x, true
}

func (w *writer) open(sign byte) { w.out = append(w.out, sign) }

func (w *writer) close(sign byte, written, level int) {
	if written > 0 {
		w.line(level)
	}
	w.out = append(w.out, sign)
}

func (w *writer) next(written, level int) {
	if written > 0 {
		w.out = append(w.out, ',')
	}
	w.line(level)
}

func (w *writer) line(level int) {
	if !w.indent {
		return
	}
	w.out = append(w.out, '\n')
	for range level {
		w.out = append(w.out, ' ', ' ')
	}
}

func (w *writer) name(name string) {
	w.string(name)
	w.out = append(w.out, ':')
	if w.indent {
		w.out = append(w.out, ' ')
	}
}

// string escapes what JSON demands and nothing else (RFC 8785, 3.2.2.2).
func (w *writer) string(s string) {
	if !plain(s) {
		w.out, _ = jsontext.AppendQuote(w.out, s)
		return
	}
	w.out = append(w.out, '"')
	w.out = append(w.out, s...)
	w.out = append(w.out, '"')
}

// plain says that a string is ASCII in which nothing is escaped.
func plain(s string) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			return false
		}
	}
	return true
}
