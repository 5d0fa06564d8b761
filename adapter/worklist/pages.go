package worklist

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"errors"
	"html/template"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"

	"weir.example/weir/adapter"
)

// Pages are the worklist and the page of one order. Store and Now are
// needed.
type Pages struct {
	Store adapter.Store
	Now   func() time.Time
	Name  string         // of the pharmacy, as its staff call it
	Zone  *time.Location // of the pharmacy, for times where no patient's zone is known; nil: UTC
	// Public is the server's address as clients see it, without a slash at the
	// end, for the command that an empty list shows; "": the default one.
	Public string
	// Opened is told of each order whose page was shown to a person; nil: nobody.
	Opened func(context.Context, adapter.OrderLine)
	Rows   int // orders on one page of the list, 1 to 200; 0: 25
}

//go:embed templates/*.html
var templateFiles embed.FS

//go:embed style.css
var style []byte

//go:embed icon.svg
var icon []byte

var templates = template.Must(template.New("").Funcs(template.FuncMap{
	"sent": sent, "badge": badge, "words": words, "plural": count, "add": func(a, b int) int { return a + b },
}).ParseFS(templateFiles, "templates/*.html"))

// policy is the Content-Security-Policy of every page: no script from
// anywhere, one style sheet and one icon of our own.
const policy = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// Handler serves the list at /, an order at /orders/ID, and the style sheet.
func (p Pages) Handler() http.Handler {
	p.Name = cmp.Or(p.Name, "Pharmacy")
	p.Public = cmp.Or(p.Public, "http://127.0.0.1:8765")
	if p.Zone == nil {
		p.Zone = time.UTC
	}
	if p.Rows < 1 || p.Rows > 200 {
		p.Rows = 25
	}
	r := chi.NewRouter()
	r.Use(secure, headAsGet)
	r.NotFound(func(w http.ResponseWriter, r *http.Request) { p.fail(w, notHere) })
	r.MethodNotAllowed(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Allow", "GET, HEAD")
		p.fail(w, onlyRead)
	})
	r.Get("/", p.page(p.list))
	r.Get("/orders/{id}", p.page(p.order))
	r.Get("/style.css", asset("text/css; charset=utf-8", style))
	r.Get("/icon.svg", asset("image/svg+xml", icon))
	return r
}

// secure sets what every answer has.
func secure(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Cache-Control", "no-store")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		next.ServeHTTP(w, r)
	})
}

// headAsGet lets HEAD find the routes of GET; the server sends no body.
func headAsGet(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if c := chi.RouteContext(r.Context()); r.Method == http.MethodHead && c != nil {
			c.RouteMethod = http.MethodGet
		}
		next.ServeHTTP(w, r)
	})
}

func asset(media string, data []byte) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", media)
		w.Header().Set("Content-Length", strconv.Itoa(len(data)))
		_, _ = w.Write(data)
	}
}

// frame is what every page has around its content.
type frame struct {
	Title    string // without a word about the patient
	Pharmacy string
	Now      string
	Home     bool // this is the list
	Page     any
}

// problem is a page that cannot be shown. What and Do hold no patient data.
type problem struct {
	Status   int
	What, Do string
}

func (p problem) Error() string { return p.What }

var (
	notHere  = problem{http.StatusNotFound, "There is no such page", "Go back to the list of orders and open the order from there."}
	noOrder  = problem{http.StatusNotFound, "There is no such order", "It may have been erased, or the address was cut short. Open the order from the list."}
	onlyRead = problem{http.StatusMethodNotAllowed, "These pages can only be read", "Open the list of orders. To send an order, post it to the FHIR address."}
	oldLink  = problem{http.StatusBadRequest, "This link to a page of the list no longer holds", "Begin again at the first page of the list."}
	badAsk   = problem{http.StatusBadRequest, "The list cannot be limited like that", "Choose from the fields above the list."}
	away     = problem{http.StatusServiceUnavailable, "The record cannot be read at the moment", "Nothing is lost. Load the page again in a moment; if this stays, tell who runs the server."}
	unread   = problem{http.StatusInternalServerError, "A stored answer cannot be read", "Do not act on this order from memory: tell who runs the server, and call the prescriber about what is due."}
)

// page runs one reading of the record and writes its template whole, or the
// page that says why not.
func (p Pages) page(read func(*http.Request) (name string, f frame, err error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		name, f, err := read(r)
		if err != nil {
			p.fail(w, err)
			return
		}
		p.write(w, http.StatusOK, name, f)
	}
}

func (p Pages) write(w http.ResponseWriter, status int, name string, f frame) {
	f.Pharmacy = shown(p.Name)
	f.Now = p.moment(p.Now())
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, f); err != nil {
		http.Error(w, "The page could not be written.", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Content-Length", strconv.Itoa(b.Len()))
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes())
}

// fail writes the page of a problem. Nothing of the error itself is shown.
func (p Pages) fail(w http.ResponseWriter, err error) {
	var known problem
	var cursor *adapter.BadCursor
	var none *adapter.NotFound
	switch {
	case errors.As(err, &known):
	case errors.As(err, &cursor):
		known = oldLink
	case errors.As(err, &none):
		known = noOrder
	case errors.Is(err, context.Canceled):
		return
	default:
		known = away
	}
	if known.Status == http.StatusServiceUnavailable {
		w.Header().Set("Retry-After", "5")
	}
	p.write(w, known.Status, "problem.html", frame{Title: known.What, Page: known})
}
