package settings

import (
	"fmt"
	"net/netip"
	"net/url"
	"strings"
)

// Target is where messages may go: scheme, host and port as they are after
// parsing, so that two spellings of one place are one and a place that only
// looks like it is another.
type Target struct{ Scheme, Host, Port string }

func (t Target) String() string {
	host := t.Host
	if strings.Contains(host, ":") {
		host = "[" + host + "]"
	}
	return t.Scheme + "://" + host + ":" + t.Port
}

// Targets are all allowed places.
type Targets []Target

// Allow says whether an address, such as a response-url, is at an allowed
// place. What cannot be read, and what names a user, is not.
func (all Targets) Allow(raw string) bool {
	got, _, err := place(raw)
	if err != nil {
		return false
	}
	for _, t := range all {
		if t == got {
			return true
		}
	}
	return false
}

// place is where an absolute address points.
func place(raw string) (Target, *url.URL, error) {
	if strings.ContainsFunc(raw, func(r rune) bool { return r <= 0x20 || r >= 0x7f || r == '\\' }) {
		return Target{}, nil, fmt.Errorf("%q holds a character that no address has", raw)
	}
	u, err := url.Parse(raw)
	if err != nil || u.Host == "" || u.Opaque != "" {
		return Target{}, nil, fmt.Errorf("%q is no address with scheme and host", raw)
	}
	if u.User != nil {
		return Target{}, nil, fmt.Errorf("a user stands in it")
	}
	t := Target{Scheme: strings.ToLower(u.Scheme), Host: strings.ToLower(u.Hostname()), Port: u.Port()}
	if ip, err := netip.ParseAddr(t.Host); err == nil {
		t.Host = ip.Unmap().String()
	}
	if t.Host == "" || strings.HasSuffix(t.Host, ".") {
		return Target{}, nil, fmt.Errorf("%q names no host", raw)
	}
	usual, known := map[string]string{"https": "443", "http": "80"}[t.Scheme]
	if !known {
		return Target{}, nil, fmt.Errorf("%q is neither https nor http", raw)
	}
	if t.Port == "" {
		t.Port = usual
	}
	return t, u, nil
}

func targets(list []string) (Targets, error) {
	var out Targets
	for _, raw := range list {
		if raw == "" {
			continue
		}
		t, u, err := place(raw)
		if err != nil {
			return nil, err
		}
		if u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.ForceQuery || strings.Contains(raw, "#") {
			return nil, fmt.Errorf("%q has more than scheme, host and port", raw)
		}
		if t.Scheme == "http" && !here(t.Host) {
			return nil, fmt.Errorf("%q would send patient data unencrypted to another machine", raw)
		}
		out = append(out, t)
	}
	return out, nil
}

// here says that a host is this machine.
func here(host string) bool {
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.IsLoopback()
}
