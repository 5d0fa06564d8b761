package settings

import (
	"fmt"
	"strings"
)

// Page is the documentation of all settings, in Markdown: SETTINGS.md.
func Page() string {
	var b strings.Builder
	b.WriteString(`# Settings

Made from the table in this folder (` + "`WEIR_UPDATE=1 go test ./adapter/settings`" + `); do not edit.

A flag beats the environment, that beats the file, that the default. The file is YAML: ` + "`--config FILE`" + `,
else the environment's ` + "`" + ConfigEnvironment + "`" + `, else ` + "`weir/weir.yaml`" + ` in the user's configuration folder when it is there.
A name with a dot stands in a section: ` + "`limits.atOnce`" + ` is ` + "`atOnce`" + ` below ` + "`limits:`" + `. An unknown name, a name twice or a
wrong value is refused with file, line and column. ` + "`weir config show --source`" + ` says what is in force and why,
` + "`weir config check FILE`" + ` reads a file. {data} is ` + "`$XDG_DATA_HOME/weir`" + `, else ` + "`~/.local/share/weir`" + `.
A secret is never a setting: a setting names the file that holds it.

| name | flag | environment | kind | default | what it does | needs | read by |
|---|---|---|---|---|---|---|---|
`)
	for _, s := range table {
		fallback := "`" + s.Default + "`"
		if s.Default == "" {
			fallback = "empty"
		}
		kind := string(s.Kind)
		if s.Secret {
			kind += ", holds a secret"
		}
		fmt.Fprintf(&b, "| `%s` | `--%s` | `%s` | %s | %s | %s | %s | %s |\n", s.Name, s.Flag(), s.Environment(), kind, fallback, s.Text, s.Need, strings.Join(s.Commands, ", "))
	}
	return b.String()
}
