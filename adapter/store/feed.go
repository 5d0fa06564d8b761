package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"strings"

	"weir.example/weir/adapter"
)

var _ adapter.Feeds = (*Store)(nil)

// feeds writes what the night keeps of patients.
func (s *statements) feeds(e adapter.Effect) {
	for _, c := range e.Cases { // what was found of the patient rests on another case now: the next night looks at him, unless this effect is of one
		s.add("feed", -1, nil, "UPDATE feed_line SET basis=$2 WHERE patient=$1", c.Patient, make([]byte, sha256.Size))
	}
	for _, f := range e.Feeds {
		s.add("feed", 1, &adapter.Invalid{What: "line of the feed"},
			`INSERT INTO feed_line(key,patient,sum,basis,watch,night,orders,report,at,place) VALUES ($1,$2,$3,$4,$5,$6,$7,$8,$9,$10)
			ON CONFLICT (key) DO UPDATE SET patient=$2,sum=$3,basis=$4,watch=$5,night=$6,orders=$7,report=$8,at=$9,place=$10`,
			f.Key, f.Patient, f.Sum[:], f.Basis[:], micros(f.Watch), f.Night, f.Orders, pack(f.Report), f.At, f.Place)
	}
	for keys := e.Seen.Keys; len(keys) > 0; {
		n := 64
		for n > len(keys) {
			n /= 2
		}
		args := []any{e.Seen.Night}
		places := make([]string, n)
		for i, k := range keys[:n] {
			args = append(args, k)
			places[i] = fmt.Sprintf("$%d", i+2)
		}
		s.add("seen", int64(n), &adapter.Conflict{Kind: "feed"}, "UPDATE feed_line SET night=$1 WHERE key IN ("+strings.Join(places, ",")+")", args...)
		keys = keys[n:]
	}
}

// feedLines selects what feedLine reads. A version is above 0; that it is asked
// for here has SQLite read an index instead of the case's own page.
const feedLines = `SELECT f.key,f.patient,f.sum,f.basis,f.watch,f.night,f.orders,f.report,f.at,COALESCE(c.version,0),f.place
	FROM feed_line f LEFT JOIN patient_case c ON c.patient = f.patient AND c.version > 0 WHERE `

func feedLine(r Rows) (f adapter.FeedLine, err error) {
	var sum, basis, report []byte
	var watch int64
	if err := r.Scan(&f.Key, &f.Patient, &sum, &basis, &watch, &f.Night, &f.Orders, &report, &f.At, &f.Now, &f.Place); err != nil {
		return f, err
	}
	if len(sum) != sha256.Size || len(basis) != sha256.Size {
		return f, &adapter.Damaged{Kind: "feed"}
	}
	f.Sum, f.Basis, f.Watch = [32]byte(sum), [32]byte(basis), instant(watch)
	if f.Report, err = unpack(report); err != nil {
		return f, &adapter.Damaged{Kind: "feed"}
	}
	return f, nil
}

// feedRange asks for the bounds first: SQLite begins to read at the first lower
// bound of the text, and the one that names the index would be its beginning.
const feedRange = feedLines + "f.place >= $1 AND f.place < $2 AND f.place > 0 ORDER BY f.place"

// FeedRange reads what the night keeps of the patients of one stretch.
func (s *Store) FeedRange(ctx context.Context, from, to int64, take func(adapter.FeedLine) error) error {
	return each(ctx, s.b.Query, func(r Rows) error {
		f, err := feedLine(r)
		if err != nil {
			return err
		}
		return take(f)
	}, feedRange, from, to)
}

// Remembered reads one part of what the night remembers of its last feed.
func (s *Store) Remembered(ctx context.Context, kind string, number int) (body []byte, err error) {
	err = each(ctx, s.b.Query, func(r Rows) error {
		var b []byte
		err := r.Scan(&b)
		body = bytes.Clone(b)
		return err
	}, "SELECT body FROM feed_memory WHERE kind = $1 AND number = $2", kind, int64(number))
	return body, err
}

// Remember writes parts of it.
func (s *Store) Remember(ctx context.Context, parts []adapter.MemoryPart, count int) error {
	var list statements
	for _, p := range parts {
		if p.Body == nil {
			list.add("memory", -1, nil, "DELETE FROM feed_memory WHERE kind=$1 AND number=$2", p.Kind, int64(p.Number))
			continue
		}
		list.add("memory", 1, &adapter.Invalid{What: "part of the memory of a night"},
			"INSERT INTO feed_memory(kind,number,body) VALUES ($1,$2,$3) ON CONFLICT (kind,number) DO UPDATE SET body=$3", p.Kind, int64(p.Number), p.Body)
	}
	if count > 0 {
		list.add("memory", -1, nil, "DELETE FROM feed_memory WHERE number>=$1", int64(count))
	}
	return s.write(ctx, []string{"feed memory"}, func(tx Tx) error { return tx.Run(ctx, list) })
}

// FeedLines reads what the night keeps of patients.
func (s *Store) FeedLines(ctx context.Context, keys []string) (map[string]adapter.FeedLine, error) {
	out := make(map[string]adapter.FeedLine, len(keys))
	for len(keys) > 0 {
		n := 256
		for n > len(keys) {
			n /= 2
		}
		var args []any
		places := make([]string, n)
		for i, k := range keys[:n] {
			args = append(args, k)
			places[i] = fmt.Sprintf("$%d", i+1)
		}
		keys = keys[n:]
		err := each(ctx, s.b.Query, func(r Rows) error {
			f, err := feedLine(r)
			out[f.Key] = f
			return err
		}, feedLines+"f.key IN ("+strings.Join(places, ",")+")", args...)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// NotSeen names patients with an active order whom a run did not see.
func (s *Store) NotSeen(ctx context.Context, night, after string, limit int) ([]string, error) {
	var out []string
	err := each(ctx, s.b.Query, func(r Rows) error {
		var p string
		err := r.Scan(&p)
		out = append(out, p)
		return err
	}, `SELECT DISTINCT o.patient FROM order_head o WHERE o.state = 'active' AND o.patient > $2 AND NOT EXISTS
		(SELECT 1 FROM feed_line f WHERE f.patient = o.patient AND f.night = $1) ORDER BY o.patient LIMIT $3`, night, after, int64(limit))
	return out, err
}

// Active counts the active orders.
func (s *Store) Active(ctx context.Context) (n int64, err error) {
	err = each(ctx, s.b.Query, func(r Rows) error { return r.Scan(&n) }, "SELECT COUNT(*) FROM order_head WHERE state = 'active'")
	return n, err
}
