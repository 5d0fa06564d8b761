package store

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strconv"
	"strings"
	"time"

	"weir.example/weir/adapter"
)

// mostShelved bounds how often an effect is begun anew because others wrote
// the same shelves meanwhile.
const mostShelved = 50

// Commit writes one effect in one transaction.
func (s *Store) Commit(ctx context.Context, e adapter.Effect) error {
	if err := e.Check(); err != nil {
		return err
	}
	for range mostShelved {
		err := s.commit(ctx, e)
		var again *Again
		if !errors.As(err, &again) {
			return err
		}
	}
	return &adapter.Unavailable{Code: "many write the same resources"}
}

func (s *Store) commit(ctx context.Context, e adapter.Effect) error {
	list, err := s.shelve(ctx, e)
	if err != nil {
		return err
	}
	fresh, added := 0, false
	for _, h := range list {
		if h.fresh {
			fresh++
		}
		added = added || len(h.added) > 0
	}
	statements := effectStatements(e, list)
	err = s.write(ctx, effectLocks(e), func(tx Tx) error {
		run := statements
		if added {
			numbers, err := s.b.Numbers(ctx, tx, fresh+1)
			if err != nil {
				return err
			}
			run = append(numbered(statements, numbers), newRun(list, numbers)...)
		}
		return tx.Run(ctx, run)
	})
	if err == nil && added {
		s.tidied(ctx)
	}
	return err
}

// micros is a time as it is stored; a zero time is 0.
func micros(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixMicro()
}

// instant is a stored time.
func instant(m int64) time.Time {
	if m == 0 {
		return time.Time{}
	}
	return time.UnixMicro(m).UTC()
}

// reference is an id that may be absent.
func reference(id string) any {
	if id == "" {
		return nil
	}
	return id
}

// effectLocks names what the effect decides on: the identifiers that must be
// the only ones, its orders and its patients.
func effectLocks(e adapter.Effect) []string {
	var out []string
	patient := func(id string) {
		if id != "" {
			out = append(out, patientLock(id))
		}
	}
	for _, d := range e.Received {
		for _, p := range d.Patients {
			patient(p)
		}
	}
	for _, r := range e.Resources {
		patient(r.Patient)
		for _, i := range r.Identifiers {
			if i.Once {
				out = append(out, "identifier\x00"+r.Type+"\x00"+i.System+"\x00"+i.Value)
			}
		}
	}
	for _, k := range e.Cases {
		patient(k.Patient)
	}
	for _, o := range e.Orders {
		patient(o.Patient)
		out = append(out, "order\x00"+o.Key)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func patientLock(id string) string { return "patient\x00" + id }

type statements []Statement

// unlessThere makes an insert of what is there already change no row, which
// is then the failure. A broken constraint would be one too, but a server
// writes its values into its log.
const unlessThere = " ON CONFLICT DO NOTHING"

func (s *statements) add(name string, rows int64, fail error, sql string, args ...any) {
	*s = append(*s, Statement{Name: name, SQL: sql, Args: args, Rows: rows, Fail: fail})
}

// addRows inserts many rows with few statements. Groups are powers of two, so
// that there are few texts to prepare.
func (s *statements) addRows(name, head string, fail error, rows [][]any) {
	for len(rows) > 0 {
		n := 32
		for n > len(rows) {
			n /= 2
		}
		var text strings.Builder
		text.WriteString(head)
		var args []any
		for i, row := range rows[:n] {
			if i > 0 {
				text.WriteByte(',')
			}
			text.WriteByte('(')
			for j := range row {
				if j > 0 {
					text.WriteByte(',')
				}
				text.WriteByte('$')
				text.WriteString(strconv.Itoa(len(args) + j + 1))
			}
			text.WriteByte(')')
			args = append(args, row...)
		}
		text.WriteString(unlessThere)
		s.add(name, int64(n), fail, text.String(), args...)
		rows = rows[n:]
	}
}

// effectStatements is the effect in SQL, in an order that is the same for all
// effects, so that two never wait for each other.
func effectStatements(e adapter.Effect, list []*shelving) []Statement {
	var s statements
	s.fence(e.Fence)
	var patients [][]any
	for _, d := range e.Received {
		s.add("document", 1, &adapter.Duplicate{Kind: "document"},
			"INSERT INTO document(id,sha256,received,media,size,body) VALUES ($1,$2,$3,$4,$5,$6)"+unlessThere,
			d.ID, d.SHA256[:], micros(d.At), d.Media, int64(len(d.Bytes)), pack(d.Bytes))
		seen := slices.Clone(d.Patients)
		slices.Sort(seen)
		for _, p := range slices.Compact(seen) {
			patients = append(patients, []any{p, d.ID})
		}
	}
	s.addRows("document_patient", "INSERT INTO document_patient(patient,document) VALUES ", &adapter.Duplicate{Kind: "document"}, patients)
	s.shelves(list)
	s.orders(e)
	s.worksheets(e)
	s.rest(e)
	return s
}

func (s *statements) orders(e adapter.Effect) {
	list := slices.Clone(e.Orders)
	slices.SortFunc(list, func(a, b adapter.OrderWrite) int { return cmp.Compare(a.Key, b.Key) })
	for _, o := range list {
		before, again := o.Number-1, int64(0)
		switch o.Change {
		case adapter.OrderJudged:
			before = o.Number
		case adapter.OrderAgain:
			again = 1
		}
		fail := &adapter.Conflict{Kind: "order", ID: o.Key, Expected: before}
		line := []any{o.Key, o.Number, o.Version, o.Patient, o.Resource, o.Drug, o.State, o.Verdict, o.Stage, o.Weight, micros(o.Due), micros(o.Updated)}
		if before == 0 {
			s.add("order_head", 1, fail, `INSERT INTO order_head(key,number,version,patient,resource,drug,state,verdict,stage,weight,due,updated)
				VALUES ($1,$2,$3,$4,$5,$6,$7,$8,$9,$10,$11,$12)`+unlessThere, line...)
		} else {
			s.add("order_head", 1, fail, `UPDATE order_head SET number=$2,version=$3,patient=$4,resource=$5,drug=$6,state=$7,verdict=$8,
				stage=$9,weight=$10,due=$11,updated=$12 WHERE key=$1 AND number=$13 AND patient=$4`, append(line, before)...)
		}
		if o.Change == adapter.OrderJudged {
			continue
		}
		s.add("order_version", 1, &adapter.Duplicate{Kind: "order"},
			"INSERT INTO order_version(key,number,version,again,document,sent,at) VALUES ($1,$2,$3,$4,$5,$6,$7)"+unlessThere,
			o.Key, o.Number, o.Version, again, reference(o.Source), micros(o.Sent), micros(e.At))
	}
}

func (s *statements) worksheets(e adapter.Effect) {
	made := map[string]int64{}
	for _, o := range e.Orders {
		made[o.Key] = o.Number
	}
	for _, w := range e.Worksheets {
		if w.Number > made[w.Key] {
			// Asked here, for a broken reference would be logged with its key.
			s.add("worksheet", 1, &adapter.Invalid{What: "a worksheet of an order version that is not stored"},
				"UPDATE order_head SET number = number WHERE key=$1 AND number>=$2", w.Key, w.Number)
			(*s)[len(*s)-1].Gate = true
		}
		s.add("worksheet", 1, &adapter.Duplicate{Kind: "worksheet"},
			"INSERT INTO worksheet(id,key,number,stage,verdict,made,patient,body) VALUES ($1,$2,$3,$4,$5,$6,$7,$8)"+unlessThere,
			w.ID, w.Key, w.Number, w.Stage, w.Verdict, micros(w.Made), w.Patient, pack(w.JSON))
	}
}

func (s *statements) rest(e adapter.Effect) {
	cases := slices.Clone(e.Cases)
	slices.SortFunc(cases, func(a, b adapter.StoredCase) int { return cmp.Compare(a.Patient, b.Patient) })
	for _, k := range cases {
		fail := &adapter.Conflict{Kind: "case", ID: k.Patient, Expected: k.Version - 1}
		args := []any{k.Patient, k.Version, int64(k.Schema), micros(k.Updated), pack(k.JSON)}
		if k.Version == 1 {
			s.add("patient_case", 1, fail, "INSERT INTO patient_case(patient,version,schema,updated,body) VALUES ($1,$2,$3,$4,$5)"+unlessThere, args...)
		} else {
			s.add("patient_case", 1, fail, "UPDATE patient_case SET version=$2,schema=$3,updated=$4,body=$5 WHERE patient=$1 AND version=$6", append(args, k.Version-1)...)
		}
	}
	for _, m := range e.Outbox {
		s.add("outbox", 1, &adapter.Duplicate{Kind: "message"},
			"INSERT INTO outbox(id,kind,target,patient,made,sent,body) VALUES ($1,$2,$3,$4,$5,0,$6)"+unlessThere, m.ID, m.Kind, m.Target, m.Patient, micros(m.Made), pack(m.Body))
	}
	for _, id := range e.Sent {
		s.add("outbox", 1, &adapter.Conflict{Kind: "message", ID: id}, "UPDATE outbox SET sent=$2 WHERE id=$1 AND sent=0", id, micros(e.At))
	}
	for _, q := range e.Queue {
		s.add("work", 1, &adapter.Duplicate{Kind: "work"},
			"INSERT INTO work(id,kind,patient,made,done,body) VALUES ($1,$2,$3,$4,0,$5)"+unlessThere, q.ID, q.Kind, q.Patient, micros(q.Made), pack(q.Body))
		s.job(q.ID)
	}
	for _, id := range e.Finished {
		s.add("work", 1, &adapter.Conflict{Kind: "work", ID: id}, "UPDATE work SET done=$2, body=$3 WHERE id=$1 AND done=0", id, micros(e.At), pack(nil))
	}
	for _, r := range e.Replies {
		s.add("reply", 1, &adapter.Duplicate{Kind: "reply"},
			"INSERT INTO reply(key,sha256,status,patient,made,body) VALUES ($1,$2,$3,$4,$5,$6)"+unlessThere, r.Key, r.SHA256[:], int64(r.Status), r.Patient, micros(r.Made), pack(r.Body))
	}
	s.feeds(e)
	for _, a := range e.Audit {
		s.audit(a)
	}
}

func (s *statements) audit(a adapter.AuditRow) {
	s.add("audit", 1, &adapter.Duplicate{Kind: "audit"},
		"INSERT INTO audit(id,at,action,outcome,agent,patient,entity,also,request,detail,private) VALUES ($1,$2,$3,$4,$5,$6,$7,$8,$9,$10,$11)"+unlessThere,
		a.ID, micros(a.At), a.Action, a.Outcome, a.Agent, a.Patient, a.Entity, lined(a.Also), a.Request, a.Detail, nonNil(a.Private))
}

// lined is a list of ids in one text, in which each stands between two ends
// of a line.
func lined(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return "\n" + strings.Join(list, "\n") + "\n"
}

func nonNil(b []byte) []byte {
	if b == nil {
		return []byte{}
	}
	return b
}
