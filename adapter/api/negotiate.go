package api

import (
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"
)

// jsonTypes are what we read and write, in the words of Content-Type, Accept
// and _format (https://hl7.org/fhir/R4/http.html#mime-type).
var jsonTypes = []string{"application/fhir+json", "application/json"}

// acceptable refuses a request that wants another format, another FHIR
// version or a parameter that is not known. _format wins over Accept.
func acceptable(r *http.Request, known ...string) *refusal {
	query, err := url.ParseQuery(r.URL.RawQuery)
	if err != nil {
		return &refusal{status: http.StatusBadRequest, issue: "invalid", code: "parameter-malformed", what: "the query cannot be read", todo: "Client: escape the query as RFC 3986 asks."}
	}
	if format := query["_format"]; len(format) > 0 {
		kind := strings.ReplaceAll(format[len(format)-1], " ", "+") // a plus that was not escaped
		if kind != "json" && !isJSON(kind) {
			return unacceptable("_format")
		}
	} else if !accepts(r.Header.Values("Accept")) {
		return unacceptable("Accept")
	}
	if slices.Contains(preferences(r), "handling=lenient") {
		return nil
	}
	for name := range query {
		if name != "_format" && name != "_pretty" && !slices.Contains(known, name) {
			return &refusal{status: http.StatusBadRequest, issue: "not-supported", code: "parameter-unknown", what: "a parameter of the query is not known here", todo: "Client: leave it out, or send Prefer: handling=lenient to have it ignored."}
		}
	}
	if pretty := query.Get("_pretty"); pretty != "" && pretty != "true" && pretty != "false" {
		return &refusal{status: http.StatusBadRequest, issue: "value", code: "parameter-malformed", what: "_pretty is neither true nor false", todo: "Client: send true or false.", at: "_pretty"}
	}
	return nil
}

func unacceptable(at string) *refusal {
	return &refusal{status: http.StatusNotAcceptable, issue: "not-supported", code: "format-not-served", what: "only FHIR R4 as JSON is served", todo: "Client: ask for application/fhir+json.", at: at}
}

func preferences(r *http.Request) []string {
	var out []string
	for _, line := range r.Header.Values("Prefer") {
		for _, p := range strings.FieldsFunc(line, func(c rune) bool { return c == ',' || c == ';' }) {
			out = append(out, strings.ToLower(strings.ReplaceAll(strings.TrimSpace(p), " ", "")))
		}
	}
	return out
}

// accepts reads Accept as far as it decides between us and nothing.
func accepts(lines []string) bool {
	asked := false
	for _, line := range lines {
		for _, part := range strings.Split(line, ",") {
			if strings.TrimSpace(part) == "" {
				continue
			}
			asked = true
			kind, params, err := mime.ParseMediaType(part)
			if err != nil || params["q"] == "0" || params["q"] == "0.0" {
				continue
			}
			if kind == "*/*" || kind == "application/*" || isJSON(part) {
				return true
			}
		}
	}
	return !asked
}

// isJSON is one of our types, in UTF-8 and of FHIR version 4.0.
func isJSON(text string) bool {
	kind, params, err := mime.ParseMediaType(text)
	if err != nil || !slices.Contains(jsonTypes, kind) {
		return false
	}
	charset, version := strings.ToLower(params["charset"]), params["fhirversion"]
	return (charset == "" || charset == "utf-8") && (version == "" || version == "4.0" || version == "4.0.1")
}

func prefers(r *http.Request, wish string) bool { return slices.Contains(preferences(r), wish) }
