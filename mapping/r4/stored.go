package r4

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"strings"
	"time"

	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/order"
	"weir.example/weir/mapping/worksheet"
)

// In a store resources refer to each other as Type/id. While a patient's
// stored resources are read together each has the address Home + Type/id, so
// that answers can point at them; it is taken off again before they are
// stored.
const Home = canonical

// Key is the name and the version that an order was received under. Both are
// of the order as received: what a store rewrites does not change them.
type Key struct{ Key, Version string }

// KeyOf reads them: the key is "" when the order has neither an identifier
// nor a web address.
func KeyOf(n element.Node, fullURL string) Key {
	s := newResource(n, n.Get("resourceType").Text())
	s.url, _, _ = strings.Cut(fullURL, "/_history/")
	return Key{orderKey(s), orderVersion(n)}
}

// Identifier is the identifier that a resource is known by: of an order the
// one that its key is made of.
func Identifier(n element.Node) order.Identifier { return bestIdentifier(n) }

// Newer compares two contents of one resource by what their senders say:
// positive when a is newer, 0 when nothing tells.
func Newer(a, b element.Node) int {
	x, y := newResource(a, ""), newResource(b, "")
	if !x.updated.Time.IsZero() && !y.updated.Time.IsZero() && !x.updated.Time.Equal(y.updated.Time) {
		return x.updated.Time.Compare(y.updated.Time)
	}
	if x.version != "" && y.version != "" && x.version != y.version {
		return cmp.Or(cmp.Compare(len(x.version), len(y.version)), cmp.Compare(x.version, y.version))
	}
	p, q := instant(a, "authoredOn").Time, instant(b, "authoredOn").Time
	if p.IsZero() || q.IsZero() {
		return 0
	}
	return p.Compare(q)
}

// Sent is the version time that the sender gave, zero for none.
func Sent(n element.Node) time.Time { return newResource(n, "").updated.Time }

// SubjectOf is the Reference in which a resource says whose it is; the zero
// Node for a Patient and for what belongs to nobody.
func SubjectOf(n element.Node) element.Node {
	return newResource(n, n.Get("resourceType").Text()).subject()
}

// SamePerson reports whether two Patient resources can describe one person:
// birth date and name agree as far as both have them.
func SamePerson(a, b element.Node) bool {
	bornA, bornB := a.Get("birthDate"), b.Get("birthDate")
	if bornA.Exists() && bornB.Exists() && !agreeingDates(bornA.Text(), bornB.Text()) {
		return false
	}
	return !patientName(a).Exists() || !patientName(b).Exists() || sameName(a, b)
}

// ReadStored is ReadCases for one patient's stored resources. Known are the
// names of the orders by id, lost what could not be read, as for ReadSet. At
// every later clock that is before until the same is read; zero: at every one.
func ReadStored(docs []*element.Document, known map[string]Key, lost []string, now time.Time) (cases []order.Case, until time.Time) {
	r := emptyReader(now)
	for _, d := range docs {
		n := d.Root()
		r.add(n, Home+n.Get("resourceType").Text()+"/"+n.Get("id").Text())
	}
	r.sort()
	cases = r.readCases()
	lostLines(cases, lost)
	for i := range cases {
		rename(cases[i].Orders, known)
		rename(cases[i].Related, known)
	}
	return cases, r.until
}

func rename(list []order.Order, known map[string]Key) {
	for i := range list {
		if k, ok := known[StoredID(list[i].Ref)]; ok {
			list[i].Key, list[i].Version = k.Key, k.Version
		}
	}
}

// StoredID is the id of the stored resource that a reference of a stored case
// names.
func StoredID(ref order.Reference) string {
	_, id, _ := strings.Cut(Place(ref.URL), "/")
	return id
}

// Made is one resource of an answer as it is stored.
type Made struct {
	Type, ID string
	// Sum is the SHA-256 of the content without the clock of the judgement:
	// two answers with the same say the same.
	Sum  [32]byte
	Task worksheet.Task // of a Task; zero for the request to fulfil

	body []byte
}

// JSON is the content. It is not to be changed.
func (m Made) JSON() []byte { return m.body }

// Empty: it was written before and says what it said.
func (m Made) Empty() bool { return m.body == nil }

// WriteStored is WriteBundle for the store: the resources alone, in the same
// order and with the same ids, referring to each other and to what was
// received as Type/id.
func WriteStored(w worksheet.Worksheet) []Made {
	list := bundlerFor(w, ordinals{}).all()
	s := shelf{stored: placed(list), now: w.Sources.Now}
	tasks := 0
	out := make([]Made, 0, len(list))
	for _, e := range list {
		m := s.made(e)
		if e.kind == "Task" {
			if tasks > 0 {
				m.Task = w.Tasks[tasks-1]
			}
			tasks++
		}
		out = append(out, m)
	}
	return out
}

// placed gives references of an answer as they stand in a store.
func placed(list []entry) func(name, text string) string {
	places := make(map[string]string, len(list))
	for _, e := range list {
		places[e.url()] = e.kind + "/" + e.id
	}
	return func(name, text string) string {
		if name != "reference" {
			return text
		}
		if place, ours := places[text]; ours {
			return place
		}
		return strings.TrimPrefix(text, Home)
	}
}

// shelf makes the resources of one answer as they are stored.
type shelf struct {
	stored func(name, text string) string
	now    string
	page   []byte // what is written, behind each other
	text   []byte
}

// Most resources of an answer have 1 to 2 kB; some orders have a hundred.
const pageSize = 64 << 10

func (s *shelf) made(e entry) Made {
	at := s.open()
	s.page = append(append(append(append(s.page, `{"resourceType":"`...), e.kind...), `","id":"`...), e.id...)
	s.page = append(s.page, '"')
	rest := len(s.page)
	if s.page = element.AppendAs(s.page, element.Obj(e.fields...), s.stored); len(s.page) > rest+2 {
		s.page[rest] = ','
	} else {
		s.page = append(s.page[:rest], '}')
	}
	return s.close(e, at)
}

// edited is a resource with content of its own, which has type and id.
func (s *shelf) edited(e entry, content element.Value) Made {
	at := s.open()
	s.page = element.AppendAs(s.page, content, s.stored)
	return s.close(e, at)
}

func (s *shelf) open() int {
	if cap(s.page)-len(s.page) < pageSize/16 {
		s.page = make([]byte, 0, pageSize)
	}
	return len(s.page)
}

func (s *shelf) close(e entry, at int) Made {
	body := s.page[at:len(s.page):len(s.page)]
	return Made{Type: e.kind, ID: e.id, Sum: sha256.Sum256(s.lasting(body)), body: body}
}

// lasting is a content without the members that hold the clock.
func (s *shelf) lasting(body []byte) []byte {
	now := []byte(`"` + s.now + `"`)
	if s.text = s.text[:0]; s.now == "" {
		return body
	}
	from := 0
	for at := bytes.Index(body, now); at >= 0; {
		next := at + len(now)
		begin := bytes.LastIndexByte(body[:max(at-2, 0)], '"') // before the name
		if begin < 1 || body[at-1] != ':' || body[at-2] != '"' || clocked[string(body[begin+1:at-2])] && body[begin-1] != ',' {
			return s.without(body) // alone in a list or an object, which may then be left out
		}
		if clocked[string(body[begin+1:at-2])] {
			s.text, from = append(s.text, body[from:begin-1]...), next
		}
		if at = bytes.Index(body[next:], now); at >= 0 {
			at += next
		}
	}
	if from == 0 {
		return body
	}
	s.text = append(s.text, body[from:]...)
	return s.text
}

// without is lasting by the rules of writing: what is left empty is left out.
func (s *shelf) without(body []byte) []byte {
	s.text = element.AppendAs(s.text[:0], element.RawNode(element.ReadAgain(body, 1).Root()), func(name, text string) string {
		if text == s.now && clocked[name] {
			return ""
		}
		return text
	})
	return s.text
}

// clocked are the elements that an answer writes its clock into. A task that
// is due at that very instant is due then, whenever it is looked at again.
var clocked = map[string]bool{"authoredOn": true, "lastModified": true, "identifiedDateTime": true, "created": true, "recorded": true}

// Place is a reference or an expression of an answer as it stands in a store.
func Place(text string) string { return strings.TrimPrefix(text, Home) }
