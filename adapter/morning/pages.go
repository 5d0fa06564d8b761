package morning

import (
	"bytes"
	"context"
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/night"
	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
)

// Pages is the page of the last night. Store and Now are needed.
type Pages struct {
	Store Record
	Now   func() time.Time
	Name  string         // of the pharmacy, as its staff call it
	Zone  *time.Location // of the pharmacy; nil: UTC
	// Most bounds the patients whose orders are on the page: 200.
	Most int
}

// Record is what the page reads.
type Record interface {
	adapter.Store
	adapter.Feeds
}

// contentPolicy is that of every page: no script from anywhere, one style
// sheet and one icon of our own.
const contentPolicy = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// onScreen is the page as its template takes it.
type onScreen struct {
	Name, Clock, Problem, Do string
	None                     bool
	Report                   onPaper
}

// Handler serves the report of the last night at /night. Its style is that of
// the worklist, at /style.css. Nothing of a patient is in its address.
func (p Pages) Handler() http.Handler {
	if p.Zone == nil {
		p.Zone = time.UTC
	}
	if p.Most < 1 {
		p.Most = 200
	}
	if p.Name == "" {
		p.Name = "Pharmacy"
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", contentPolicy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Cache-Control", "no-store")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		page := onScreen{Name: p.Name, Clock: notation.Instant(p.Now().In(p.Zone), "")}
		switch {
		case r.URL.Path != "/night":
			page.Problem, page.Do = "There is no such page", "Go back to the list of orders."
			p.write(w, http.StatusNotFound, page)
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			h.Set("Allow", "GET, HEAD")
			page.Problem, page.Do = "This page can only be read", "Open the list of orders."
			p.write(w, http.StatusMethodNotAllowed, page)
		default:
			p.show(r.Context(), w, page)
		}
	})
}

func (p Pages) show(ctx context.Context, w http.ResponseWriter, page onScreen) {
	r, there, err := p.read(ctx)
	switch {
	case errors.Is(err, context.Canceled):
		return
	case err != nil: // nothing of the error itself is shown
		w.Header().Set("Retry-After", "5")
		page.Problem, page.Do = "The record cannot be read at the moment", "Nothing is lost. Load the page again in a moment; if this stays, tell who runs the server."
		p.write(w, http.StatusServiceUnavailable, page)
		return
	case !there:
		page.None = true
	default:
		page.Report = onPaper{report: r}
	}
	p.write(w, http.StatusOK, page)
}

func (p Pages) write(w http.ResponseWriter, status int, page onScreen) {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, "page.html", page); err != nil {
		http.Error(w, "The page could not be written.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes())
}

// read puts the report of the last run together from what is stored.
func (p Pages) read(ctx context.Context) (report, bool, error) {
	last, ok, err := night.ReadLast(ctx, p.Store)
	if err != nil || !ok {
		return report{}, false, err
	}
	more := last.More + max(0, len(last.Worst)-p.Most)
	last.Worst = last.Worst[:min(len(last.Worst), p.Most)]
	lines, moved, gone, err := last.Lines(ctx, p.Store)
	if err != nil {
		return report{}, false, err
	}
	c := &collector{most: 5 * p.Most, night: &last.Summary}
	for _, text := range lines {
		for l := range bytes.Lines(text) {
			if !bytes.HasPrefix(l, []byte(`{"file":`)) { // these are listed by the run
				_ = c.take(bytes.TrimSuffix(l, []byte("\n")))
			}
		}
	}
	for _, list := range [][]*order{c.stop.list, c.warned.list} {
		for _, o := range list {
			if o.Address, err = p.address(ctx, o.Order.Key); err != nil {
				return report{}, false, err
			}
		}
	}
	r := c.report(Options{Name: p.Name, Zone: p.Zone})
	if more > 0 {
		r.More = strings.TrimPrefix(r.More+", the orders of "+plural(more, "more patient"), ", ")
	}
	if moved > 0 {
		r.Remark = append(r.Remark, "A later run has looked at "+plural(moved, "patient")+" again: of these stands what it found. Load the page again when it has come to its end.")
	}
	if gone > 0 {
		r.Remark = append(r.Remark, plural(gone, "patient")+" of this report cannot be shown any more: the record was erased.")
	}
	for _, f := range last.Failed {
		row, known := finding.Lookup(finding.Code(f.Code))
		if !known {
			row.Title = "it could not be read, or not be taken in"
		}
		r.Failed = append(r.Failed, shownFailure{Place: "line " + strconv.Itoa(f.Line) + " of " + f.File, Text: row.Title + ".", Do: row.Remedy})
	}
	r.MoreFailed = max(0, last.Summary.Failed-len(last.Failed))
	return r, true, nil
}

// address is that of the page of an order; "" when there is none.
func (p Pages) address(ctx context.Context, key string) (string, error) {
	line, err := p.Store.Order(ctx, key)
	var none *adapter.NotFound
	if errors.As(err, &none) {
		return "", nil
	}
	return "/orders/" + url.PathEscape(line.Resource), err
}
