package api

import (
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"
)

// Bounds of one question. What is over is refused, never cut.
const (
	mostSearchBody = 1 << 20 // bytes of a form
	mostParameters = 100
	mostChoices    = 500 // values in all, one of which is enough
	mostAddress    = 24 << 10
)

// pair is one parameter as it was sent, unescaped.
type pair struct{ name, value string }

// split parts the name from its modifier.
func (p pair) split() (base, modifier string) {
	base, modifier, _ = strings.Cut(p.name, ":")
	return base, modifier
}

// pairs reads a query or a form in its own order.
func pairs(text string) ([]pair, *refusal) {
	var out []pair
	for text != "" {
		var part string
		if part, text, _ = strings.Cut(text, "&"); part == "" {
			continue
		}
		if len(out) == mostParameters {
			return nil, tooCostly("there are more parameters than are read")
		}
		name, value, _ := strings.Cut(part, "=")
		name, err := url.QueryUnescape(name)
		value, wrong := url.QueryUnescape(value)
		if err != nil || wrong != nil || !plain(name) || !plain(value) {
			return nil, malformed("", "the query cannot be read", "Client: send UTF-8 without NUL, escaped as RFC 3986 asks.")
		}
		out = append(out, pair{name, value})
	}
	return out, nil
}

func plain(s string) bool { return utf8.ValidString(s) && strings.IndexByte(s, 0) < 0 }

func encode(list []pair) string {
	var b strings.Builder
	for i, p := range list {
		if i > 0 {
			b.WriteByte('&')
		}
		b.WriteString(url.QueryEscape(p.name) + "=" + url.QueryEscape(p.value))
	}
	return b.String()
}

func tooCostly(what string) *refusal {
	return &refusal{status: http.StatusBadRequest, issue: "too-costly", code: "search-too-costly", what: what, todo: "Client: ask for less at a time."}
}

// asksFor reads the parameters of a search: those of the address, and of the
// form when it is a POST. Those of how to answer are taken out and put where
// the rest of the door reads them.
func (d *door) asksFor(w http.ResponseWriter, r *http.Request) ([]pair, *http.Request, *refusal) {
	list, x := pairs(r.URL.RawQuery)
	if x != nil {
		return nil, r, x
	}
	if r.Method == http.MethodPost {
		form, x := d.form(w, r)
		if x != nil {
			return nil, r, x
		}
		more, x := pairs(form)
		if x != nil {
			return nil, r, x
		}
		if list = append(list, more...); len(list) > mostParameters {
			return nil, r, tooCostly("there are more parameters than are read")
		}
	}
	var how []pair
	list = slices.DeleteFunc(list, func(p pair) bool {
		if p.name == "_format" || p.name == "_pretty" {
			how = append(how, p)
			return true
		}
		return false
	})
	r = r.Clone(r.Context())
	r.URL.RawQuery = encode(how)
	return list, r, acceptable(r)
}

// form reads the body of a POST.
func (d *door) form(w http.ResponseWriter, r *http.Request) (string, *refusal) {
	kind, params, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if charset := strings.ToLower(params["charset"]); err != nil || kind != "application/x-www-form-urlencoded" || charset != "" && charset != "utf-8" || r.Header.Get("Content-Encoding") != "" {
		return "", &refusal{status: http.StatusUnsupportedMediaType, issue: "not-supported", code: "media-not-read", what: "a search is read as a form in UTF-8", todo: "Client: send application/x-www-form-urlencoded.", at: "Content-Type"}
	}
	most := min(mostSearchBody, d.Limits.Body)
	data, err := io.ReadAll(io.LimitReader(r.Body, most+1))
	switch {
	case err != nil:
		return "", unreadableBody()
	case int64(len(data)) > most:
		return "", &refusal{status: http.StatusRequestEntityTooLarge, issue: "too-long", code: "body-too-long", what: "the body is longer than is read", todo: "Client: ask for less at a time."}
	}
	return string(data), nil
}

// choices splits a value at its commas. Escapes stay until each part is read
// (https://hl7.org/fhir/R4/search.html#escaping).
func choices(value string) []string { return cut(value, ',', -1) }

// cut splits at a sign that no backslash stands before, into at most n parts.
func cut(s string, sign byte, n int) []string {
	var out []string
	from := 0
	for i := 0; i < len(s) && (n < 0 || len(out)+1 < n); i++ {
		switch s[i] {
		case '\\':
			i++
		case sign:
			out = append(out, s[from:i])
			from = i + 1
		}
	}
	return append(out, s[from:])
}

// unescape takes the backslashes away; false when one stands before nothing
// that may be escaped.
func unescape(s string) (string, bool) {
	if strings.IndexByte(s, '\\') < 0 {
		return s, true
	}
	var b strings.Builder
	for i := 0; i < len(s); i++ {
		if s[i] == '\\' {
			if i++; i == len(s) || !strings.ContainsRune(`\,|$`, rune(s[i])) {
				return "", false
			}
		}
		b.WriteByte(s[i])
	}
	return b.String(), true
}
