// Package settings is the one table of what whoever runs the program may set:
// name, kind, default, words and who reads it. Flags, environment, file,
// `weir config` and the page SETTINGS.md are made from it. What decides about
// an order is no setting: it is the site's policy, which is signed.
package settings

import (
	"slices"
	"strings"
	"time"
)

// Settings are the settings in force.
type Settings struct {
	Listen string // host:port of the FHIR door
	Inner  string // host:port of health and metrics, "" for none
	Public string // address as clients see it, without a slash at the end; "" for the one listened on
	Policy string // file, "" for the defaults

	Store             string // sqlite:PATH or postgres://…, never with a password
	StorePasswordFile string // file that holds the password of the database, "" for none
	CursorKeyFile     string // file that holds the key of cursors, "" for the usual place

	Retention struct{ Days int } // 0 keeps for ever
	Limits    struct {
		Body    int64 // bytes
		AtOnce  int
		Queue   int // documents that may wait
		Waiting time.Duration
	}
	Drain   time.Duration
	Workers int // of background jobs; 0: one a processor
	Night   struct{ Folder, At string }
	Log     struct{ Level, Format string }
	Message struct{ Targets Targets }
}

// Setting is one row of the table.
type Setting struct {
	Name     string // as in the file, sections with a dot: limits.atOnce
	Kind     Kind
	Default  string // as typed; {data} is the user's data folder
	Text     string // what it does, one line
	Need     string // what a value must be, for who typed another
	Commands []string
	Secret   bool // the file it names holds a secret; the secret itself is never a setting

	set func(*Settings, []string) error
}

// Kind is what a value looks like.
type Kind string

// The kinds. A Many is a list in the file, a repeated flag, and words with
// spaces between them in the environment.
const (
	Text     Kind = "text"
	Address  Kind = "host:port"
	Number   Kind = "number"
	Size     Kind = "size"
	Duration Kind = "duration"
	File     Kind = "file"
	Word     Kind = "word"
	Many     Kind = "list"
)

// Flag is its flag: --limits-at-once.
func (s Setting) Flag() string { return strings.Join(s.words(), "-") }

// Environment is its environment variable: WEIR_LIMITS_AT_ONCE.
func (s Setting) Environment() string {
	return "WEIR_" + strings.ToUpper(strings.Join(s.words(), "_"))
}

// words are the parts of the name in lower case.
func (s Setting) words() []string {
	var b strings.Builder
	for _, r := range s.Name {
		switch {
		case r == '.':
			b.WriteByte(' ')
		case r >= 'A' && r <= 'Z':
			b.WriteByte(' ')
			b.WriteRune(r - 'A' + 'a')
		default:
			b.WriteRune(r)
		}
	}
	return strings.Fields(b.String())
}

// For says that a command reads it.
func (s Setting) For(command string) bool { return slices.Contains(s.Commands, command) }

// Table are all settings, in the order they are shown in.
func Table() []Setting { return slices.Clone(table) }

// ConfigEnvironment names the settings file when no --config does.
const ConfigEnvironment = "WEIR_CONFIG"
