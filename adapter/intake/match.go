package intake

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"slices"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// piece is one item on its way in.
type piece struct {
	Item
	kind, id string
	have     *adapter.Resource // what is stored under the id
	patient  string            // whose it is, "" for what belongs to nobody
	body     []byte            // the content to be stored
	doc      *element.Document // the same as read
	node     element.Node      // its root
	sum      string            // of the content without id and meta
	key      r4.Key            // of an order
	outcome  Outcome
	once     []adapter.Identity // must be its alone
}

// reading is what an entry with that body reads.
func (p *piece) reading(body []byte) *reading {
	if bytes.Equal(body, p.body) {
		return &reading{p.doc}
	}
	return &reading{}
}

// taking is one attempt to take in a document.
type taking struct {
	*Service
	ctx    context.Context
	call   Call
	pieces []*piece
	places map[string]string // the sender's addresses → Type/id
	// outside are the places of addresses that the document does not have: the
	// store's, else the address itself. They are looked up once.
	outside map[string]string
	// origins are what a feed brings, by type and address, as it is stored.
	origins map[[2]string][]adapter.Resource
	cases   map[string]*held
	done    []Done
	effect  adapter.Effect
	night   *Night // nil: not a run of the night
	states  []State
	written element.Again // reads what is written
}

// held is a patient's case as stored, and as it will be.
type held struct {
	*file
	version  int64 // 0: not stored yet
	before   []byte
	was      []entry // its resources before
	touched  bool
	advanced bool                       // a task of his is further
	written  bool                       // a new version of it is in the effect
	older    map[string]json.RawMessage // what came and is older than what is stored, by place
	here     bool                       // compared as it stands
	absent   map[string]bool            // ids of orders that a run of the night did not see
	draws    []time.Time                // planned for him
	last     *Tonight                   // nil unless nothing of him is another than at the last run
}

// match finds out what each item is in the store: by the version it replaces,
// by the identifier it is asked for by, or by the one it is known by.
func (t *taking) match(items []Item) error {
	if err := t.ahead(items); err != nil {
		return err
	}
	urls, targets, fresh := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, i := range items {
		p := &piece{Item: i, kind: i.kind()}
		if notStored[p.kind] {
			return &Refused{NotTaken, i.At}
		}
		if i.FullURL != "" && urls[i.FullURL] {
			return &Refused{Twice, i.At}
		}
		urls[i.FullURL] = true
		if err := t.find(p); err != nil {
			return err
		}
		if p.have != nil {
			p.id = p.have.ID
			if targets[p.kind+"/"+p.id] {
				return &Refused{Twice, i.At}
			}
			targets[p.kind+"/"+p.id] = true
		} else {
			p.id = t.NewID()
			for _, by := range p.once { // two of them could not both be stored
				key := p.kind + "|" + by.System + "|" + by.Value
				if fresh[key] {
					return &Refused{Twice, i.At}
				}
				fresh[key] = true
			}
		}
		if p.kind == "MedicationRequest" {
			if p.key = r4.KeyOf(i.Resource, i.FullURL); p.key.Key == "" {
				return &Refused{Unkeyed, i.At}
			}
			if len(p.key.Key) > mostKey {
				return &Refused{LongKey, i.At}
			}
		}
		t.pieces = append(t.pieces, p)
	}
	return nil
}

// mostKey bounds the key of an order, in bytes; our own choice, no source.
const mostKey = 1000

// notStored are the types that carry others or answer something: they are
// nothing by themselves. Every other type is stored, read or not: nothing is
// dropped.
var notStored = map[string]bool{"Bundle": true, "Parameters": true, "OperationOutcome": true, "MessageHeader": true, "Binary": true}

func (t *taking) find(p *piece) error {
	switch {
	case p.Way == Update:
		r, err := t.Store.Get(t.ctx, p.kind, p.ID)
		var none *adapter.NotFound
		switch {
		case errors.As(err, &none):
			return &Refused{Unknown, p.At}
		case err != nil:
			return err
		case p.Version == 0:
			return &Refused{Unversioned, p.At}
		case r.Version != p.Version:
			return &Refused{Stale, p.At}
		}
		p.have = &r
		return nil
	case p.Way == Feed && p.Where != nil:
		return t.identified(p, *p.Where)
	case p.Once != nil:
		return t.identified(p, *p.Once)
	case p.Way == Feed && p.kind != "MedicationRequest" && isWeb(p.FullURL):
		// The sender's own place of a resource tells it, whatever else of it
		// has changed, its identifiers too.
		if err := t.origin(p); err != nil || p.have != nil {
			return err
		}
	}
	switch {
	case p.kind == "MedicationRequest":
		if id := r4.Identifier(p.Resource); id.Value != "" {
			return t.known(p, index.Identity(id.System, id.Value))
		}
		return t.origin(p)
	case p.kind == "Patient":
		return t.person(p)
	case p.Way == Feed:
		return t.itself(p)
	}
	return nil
}

// itself finds a resource of a feed by its first identifier with a system.
func (t *taking) itself(p *piece) error {
	for _, by := range identities(p.Resource) {
		if by.System != "" {
			return t.known(p, by)
		}
	}
	return nil
}

// identified finds by the identifier that the sender asks by. The resource
// must carry it, or the next one would not be found.
func (t *taking) identified(p *piece, by adapter.Identity) error {
	if !slices.Contains(identities(p.Resource), by) {
		return &Refused{Unidentified, p.At}
	}
	return t.known(p, by)
}

func (t *taking) known(p *piece, by adapter.Identity) error {
	list, err := t.Store.ByIdentifier(t.ctx, p.kind, by)
	switch {
	case err != nil:
		return err
	case len(list) > 1:
		return &Refused{Several, p.At}
	case len(list) == 1:
		p.have = &list[0]
	}
	p.once = []adapter.Identity{by}
	return nil
}

// origin finds an order that has no identifier by the sender's address.
func (t *taking) origin(p *piece) error {
	list, err := t.from(p.kind, plain(p.FullURL))
	if err != nil || len(list) == 0 {
		return err
	}
	if len(list) > 1 {
		return &Refused{Several, p.At}
	}
	p.have = &list[0]
	return nil
}

// ahead asks once for everything that a feed brings with an address.
func (t *taking) ahead(items []Item) error {
	var asked []adapter.Asked
	var keys [][2]string
	for _, i := range items {
		if i.Way == Feed && isWeb(i.FullURL) {
			url := plain(i.FullURL)
			asked, keys = append(asked, adapter.Asked{Type: i.kind(), Name: origin, Text: index.Short(url)}), append(keys, [2]string{i.kind(), url})
		}
	}
	found, err := t.Store.ByValues(t.ctx, asked)
	for i, key := range keys {
		if err == nil {
			t.origins[key] = found[i]
		}
	}
	return err
}

// from searches by the address that a sender keeps a resource at.
func (t *taking) from(kind, url string) ([]adapter.Resource, error) {
	if url == "" {
		return nil, nil
	}
	if list, asked := t.origins[[2]string{kind, url}]; asked {
		return list, nil
	}
	s, err := t.Store.Search(t.ctx, adapter.Query{Type: kind, All: []adapter.Criterion{{Name: origin, Few: true,
		Any: []adapter.Match{{Op: adapter.OpEqual, Text: index.Short(url)}}}}}, adapter.Page{Limit: 2})
	return s.Resources, err
}

// origin is the search value that holds the sender's address of a resource.
const origin = "_origin"

// person finds a Patient that is created without being asked for by an
// identifier: one with the same identifier is the same person, and must then
// have the same name and birth date.
func (t *taking) person(p *piece) error {
	for _, by := range identities(p.Resource) {
		if by.System == "" {
			continue
		}
		list, err := t.Store.ByIdentifier(t.ctx, p.kind, by)
		if err != nil {
			return err
		}
		for _, r := range list {
			if p.have != nil && p.have.ID != r.ID {
				return &Refused{Several, p.At}
			}
			if p.have != nil {
				continue
			}
			if !r4.SamePerson(element.ReadAgain(r.JSON, 1).Root(), p.Resource) {
				return &Refused{OtherPerson, p.At}
			}
			p.have = &r
		}
		p.once = append(p.once, by)
	}
	return nil
}

func identities(n element.Node) []adapter.Identity {
	var out []adapter.Identity
	for _, id := range n.Get("identifier").Each() {
		if v := id.Get("value").Text(); v != "" {
			out = append(out, index.Identity(id.Get("system").Text(), v))
		}
	}
	return out
}
