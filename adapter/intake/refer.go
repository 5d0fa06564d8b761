package intake

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net/url"
	"slices"
	"strings"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/index"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/r4"
)

// settle gives every piece its content as it will be stored: references as
// Type/id, and the patient it belongs to. A resource without identifiers that
// is stored already with the same content is that one; since this can change
// what others refer to, it is done until nothing changes.
func (t *taking) settle() error {
	for _, p := range t.pieces {
		t.name(p)
	}
	for again := true; again; {
		again = false
		for _, p := range t.pieces {
			if err := t.content(p); err != nil {
				return err
			}
		}
		for _, p := range t.pieces {
			twin, err := t.twin(p)
			if err != nil {
				return err
			}
			if twin != nil {
				p.have, p.id, again = twin, twin.ID, true
				t.name(p)
			}
		}
	}
	return nil
}

// name lets others find the piece by the sender's address.
func (t *taking) name(p *piece) {
	if p.FullURL != "" {
		t.places[plain(p.FullURL)] = p.kind + "/" + p.id
	}
}

func plain(address string) string {
	address, _, _ = strings.Cut(address, "/_history/")
	return address
}

func isWeb(address string) bool {
	return strings.HasPrefix(address, "https://") || strings.HasPrefix(address, "http://")
}

func (t *taking) content(p *piece) error {
	var failed error
	v := element.Edit(element.RawNode(p.Resource), element.F("id", element.Str(p.id)))
	p.body = element.AppendAs(make([]byte, 0, p.Resource.Size()+100), v, func(name, text string) string {
		if name != "reference" || failed != nil {
			return text
		}
		var place string
		place, failed = t.place(p, text)
		return place
	})
	if failed != nil {
		return failed
	}
	p.doc = element.ReadAgain(p.body, 1)
	p.node = p.doc.Root()
	sum := sha256.Sum256(element.Canonical(p.node, "id", "meta"))
	p.sum = hex.EncodeToString(sum[:])
	return t.belongs(p)
}

// place is a reference as it stands in the store. What leads out of document
// and store stays an absolute address, so that it never meets an id of ours.
func (t *taking) place(p *piece, literal string) (string, error) {
	if literal == "" || literal[0] == '#' {
		return literal, nil
	}
	if strings.Contains(literal, "?") {
		return t.conditional(p, literal)
	}
	address, version, versioned := strings.Cut(literal, "/_history/")
	if versioned {
		version = "/_history/" + version
	}
	if !isWeb(address) && !strings.HasPrefix(address, "urn:") {
		base := strings.TrimSuffix(plain(p.FullURL), p.kind+"/"+lastPart(plain(p.FullURL)))
		if !isWeb(base) || base == t.Base+"/" {
			return literal, nil // the store's own
		}
		address = base + address
	}
	if place, ok := t.places[address]; ok {
		return place + version, nil
	}
	if own, ok := strings.CutPrefix(address, t.Base+"/"); ok && t.Base != "" {
		return own + version, nil
	}
	if !isWeb(address) {
		return literal, nil
	}
	place, asked := t.outside[address]
	if !asked {
		list, err := t.from(kindIn(address), address)
		if err != nil {
			return "", err
		}
		if place = address; len(list) == 1 {
			place = list[0].Type + "/" + list[0].ID
		}
		t.outside[address] = place
	}
	return place + version, nil
}

func lastPart(address string) string { return address[strings.LastIndex(address, "/")+1:] }

func kindIn(address string) string {
	parts := strings.Split(address, "/")
	if len(parts) < 2 {
		return ""
	}
	return parts[len(parts)-2]
}

// conditional resolves Type?identifier=system|value to the one resource of
// document or store that has the identifier.
func (t *taking) conditional(p *piece, literal string) (string, error) {
	kind, query, _ := strings.Cut(literal, "?")
	values, err := url.ParseQuery(query)
	by, ok := ParseIdentity(values)
	if err != nil || !ok {
		return "", &Refused{Unresolved, p.At}
	}
	places := map[string]bool{}
	for _, other := range t.pieces {
		for _, i := range identities(other.Resource) {
			if other.kind == kind && i == by {
				places[kind+"/"+other.id] = true
			}
		}
	}
	list, err := t.Store.ByIdentifier(t.ctx, kind, by)
	if err != nil {
		return "", err
	}
	for _, r := range list {
		places[kind+"/"+r.ID] = true
	}
	if len(places) != 1 {
		return "", &Refused{Unresolved, p.At}
	}
	for place := range places {
		return place, nil
	}
	return "", nil
}

// ParseIdentity reads the one search that conditions may use:
// identifier=system|value. A bar or a comma in it is escaped, as in any search
// (https://hl7.org/fhir/R4/search.html#escaping); a comma that is not would
// ask for one of two.
func ParseIdentity(query url.Values) (adapter.Identity, bool) {
	list := query["identifier"]
	if len(query) != 1 || len(list) != 1 {
		return adapter.Identity{}, false
	}
	parts, escaped := []string{""}, false
	for _, r := range list[0] {
		last := &parts[len(parts)-1]
		switch {
		case escaped:
			*last, escaped = *last+string(r), false
		case r == '\\':
			escaped = true
		case r == ',':
			return adapter.Identity{}, false
		case r == '|':
			parts = append(parts, "")
		default:
			*last += string(r)
		}
	}
	if len(parts) != 2 || parts[1] == "" || escaped {
		return adapter.Identity{}, false
	}
	return index.Identity(parts[0], parts[1]), true
}

// belongs finds the patient of the piece.
func (t *taking) belongs(p *piece) error {
	if p.kind == "Patient" {
		p.patient = p.id
		return nil
	}
	ref := r4.SubjectOf(p.node)
	literal := ref.Get("reference").Text()
	kind, id, _ := strings.Cut(plain(literal), "/")
	switch {
	case strings.HasPrefix(literal, "#") && p.kind == "MedicationRequest":
		p.patient = p.id // the patient stands inside: the order is a case of its own
		return nil
	case !ref.Exists() && p.kind != "MedicationRequest":
		p.patient = ""
		return nil
	case kind == "Patient" && id != "":
		known, err := t.stands(id)
		if err != nil {
			return err
		}
		if known {
			p.patient = id
			return t.numbered(p, ref)
		}
	case literal == "" && ref.Get("identifier").Exists():
		by := index.Identity(ref.Get("identifier").Get("system").Text(), ref.Get("identifier").Get("value").Text())
		for _, other := range t.pieces {
			for _, i := range identities(other.Resource) {
				if other.kind == "Patient" && i == by {
					p.patient = other.id
					return nil
				}
			}
		}
		list, err := t.Store.ByIdentifier(t.ctx, "Patient", by)
		if err != nil {
			return err
		}
		if len(list) == 1 {
			p.patient = list[0].ID
			return nil
		}
	case kind != "Patient" && literal != "" && !isWeb(literal) && !strings.HasPrefix(literal, "urn:") && p.kind != "MedicationRequest":
		p.patient = "" // about a place, a group or a device
		return nil
	}
	return &Refused{NoPatient, p.At}
}

// numbered refuses a reference to one patient beside which stands the number
// of another one that is known: it may be either's.
func (t *taking) numbered(p *piece, ref element.Node) error {
	by := index.Identity(ref.Get("identifier").Get("system").Text(), ref.Get("identifier").Get("value").Text())
	if by.System == "" || by.Value == "" {
		return nil
	}
	others := false
	for _, other := range t.pieces {
		if other.kind != "Patient" || !slices.Contains(identities(other.Resource), by) {
			continue
		}
		if other.id == p.patient {
			return nil
		}
		others = true
	}
	list, err := t.Store.ByIdentifier(t.ctx, "Patient", by)
	if err != nil {
		return err
	}
	for _, r := range list {
		if r.ID == p.patient {
			return nil
		}
		others = true
	}
	if others {
		return &Refused{OtherPatient, p.At}
	}
	return nil
}

// stands says whether the document or the store has the patient.
func (t *taking) stands(id string) (bool, error) {
	for _, p := range t.pieces {
		if p.kind == "Patient" && p.id == id {
			return true, nil
		}
	}
	if _, loaded := t.cases[id]; loaded {
		return true, nil
	}
	_, err := t.Store.Get(t.ctx, "Patient", id)
	var none *adapter.NotFound
	if errors.As(err, &none) {
		return false, nil
	}
	return err == nil, err
}

// twin is what is stored already with the content of a piece that nothing
// else identifies.
func (t *taking) twin(p *piece) (*adapter.Resource, error) {
	if p.have != nil || p.Way == Update || p.Once != nil || p.Where != nil || p.kind == "Patient" || p.kind == "MedicationRequest" {
		return nil, nil
	}
	patients := []string{p.patient}
	if p.patient == "" {
		patients = patients[:0]
		for _, other := range t.pieces {
			if other.patient != "" {
				patients = append(patients, other.patient)
			}
		}
	}
	for _, patient := range patients {
		h, err := t.load(patient)
		if err != nil {
			return nil, err
		}
		for i := range h.Resources {
			e := &h.Resources[i]
			if e.Type != p.kind || e.Sum != p.sum || e.Shared != (p.patient == "") || t.taken(e.Type, e.ID) {
				continue
			}
			r, err := t.Store.Get(t.ctx, e.Type, e.ID)
			return &r, err
		}
	}
	return nil, nil
}

func (t *taking) taken(kind, id string) bool {
	for _, p := range t.pieces {
		if p.kind == kind && p.id == id {
			return true
		}
	}
	return false
}

// load reads a patient's case once.
func (t *taking) load(patient string) (*held, error) {
	if h := t.cases[patient]; h != nil {
		return h, nil
	}
	h := &held{file: &file{}}
	stored, err := t.Store.Case(t.ctx, patient)
	var none *adapter.NotFound
	switch {
	case errors.As(err, &none):
	case err != nil:
		return nil, err
	default:
		if h.file, err = readCase(stored); err != nil {
			return nil, err
		}
		h.version, h.before, h.was = stored.Version, stored.JSON, slices.Clone(h.Resources)
	}
	t.cases[patient] = h
	return h, nil
}
