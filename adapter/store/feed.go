package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"fmt"
	"strings"
	"sync"

	"github.com/klauspost/compress/gzip"

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
			`INSERT INTO feed_line(key,patient,sum,basis,watch,night,orders,report,at) VALUES ($1,$2,$3,$4,$5,$6,$7,$8,$9)
			ON CONFLICT (key) DO UPDATE SET patient=$2,sum=$3,basis=$4,watch=$5,night=$6,orders=$7,report=$8,at=$9`,
			f.Key, f.Patient, f.Sum[:], f.Basis[:], micros(f.Watch), f.Night, f.Orders, pack(f.Report), f.At)
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

// FeedLines reads what the night keeps of patients.
func (s *Store) FeedLines(ctx context.Context, keys []string) (map[string]adapter.FeedLine, error) {
	out := make(map[string]adapter.FeedLine, len(keys))
	u := unpackers.Get().(*unpacker)
	defer unpackers.Put(u)
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
			var f adapter.FeedLine
			var sum, basis, report []byte
			var watch int64
			err := r.Scan(&f.Key, &f.Patient, &sum, &basis, &watch, &f.Night, &f.Orders, &report, &f.At, &f.Now)
			if err == nil && (len(sum) != sha256.Size || len(basis) != sha256.Size) {
				err = &adapter.Damaged{Kind: "feed"}
			}
			if err == nil {
				f.Sum, f.Basis, f.Watch = [32]byte(sum), [32]byte(basis), instant(watch)
				if f.Report, err = u.unpack(report); err != nil {
					err = &adapter.Damaged{Kind: "feed"}
				}
			}
			out[f.Key] = f
			return err
		}, "SELECT f.key,f.patient,f.sum,f.basis,f.watch,f.night,f.orders,f.report,f.at,COALESCE(c.version,0) FROM feed_line f LEFT JOIN patient_case c ON c.patient = f.patient WHERE f.key IN ("+strings.Join(places, ",")+")", args...)
		if err != nil {
			return nil, err
		}
	}
	return out, nil
}

// unpacker takes one report after the other: making a reader of gzip costs
// five times as much as reading a report with it.
type unpacker struct {
	in  bytes.Reader
	zip gzip.Reader
	out bytes.Buffer
}

var unpackers = sync.Pool{New: func() any { return new(unpacker) }}

func (u *unpacker) unpack(data []byte) ([]byte, error) {
	u.in.Reset(data)
	u.out.Reset()
	if err := u.zip.Reset(&u.in); err != nil {
		return nil, err
	}
	if _, err := u.out.ReadFrom(&u.zip); err != nil {
		return nil, err
	}
	return bytes.Clone(u.out.Bytes()), u.zip.Close()
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
