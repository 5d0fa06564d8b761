package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter/settings"
)

// settingFlags are the flags of the settings that a command reads.
type settingFlags struct {
	command *cobra.Command
	config  string
	one     map[string]*string
	many    map[string]*[]string
}

// everySetting stands for a command that shows all settings.
const everySetting = "*"

// addSettings gives a command --config and a flag for each setting that name
// reads by the table.
func addSettings(c *cobra.Command, name string) *settingFlags {
	f := &settingFlags{command: c, one: map[string]*string{}, many: map[string]*[]string{}}
	c.Flags().StringVar(&f.config, "config", "", "settings `FILE` (YAML)")
	for _, s := range settings.Table() {
		if name != everySetting && !s.For(name) {
			continue
		}
		words := s.Text
		if s.Default != "" {
			words += " (default " + strings.ReplaceAll(s.Default, "{data}", "~/.local/share/weir") + ")"
		}
		if s.Kind == settings.Many {
			f.many[s.Name] = c.Flags().StringArray(s.Flag(), nil, words+"; repeatable")
			continue
		}
		f.one[s.Name] = c.Flags().String(s.Flag(), "", words)
	}
	return f
}

// load puts flags, environment, file and defaults together.
func (f *settingFlags) load(s streams) (settings.Loaded, error) {
	folder, err := dataFolder()
	if err != nil {
		return settings.Loaded{}, usageError{err}
	}
	in := settings.Input{Flags: map[string][]string{}, Environment: os.Environ(), Folder: folder}
	for _, row := range settings.Table() {
		if !f.command.Flags().Changed(row.Flag()) {
			continue
		}
		if v, ok := f.one[row.Name]; ok {
			in.Flags[row.Name] = []string{*v}
		} else if v, ok := f.many[row.Name]; ok {
			in.Flags[row.Name] = *v
		}
	}
	if in.File, in.Data, err = f.file(); err != nil {
		return settings.Loaded{}, usageError{err}
	}
	out, err := settings.Load(in)
	if err != nil {
		return out, usageError{err}
	}
	for _, name := range out.Unknown {
		fmt.Fprintf(s.err, "weir: %s in the environment is no setting and has no effect; weir config show names all\n", name)
	}
	return out, nil
}

// file is the settings file that was named, or the usual one when it is there.
func (f *settingFlags) file() (string, []byte, error) {
	name, named := f.config, "--config"
	if name == "" {
		name, named = os.Getenv(settings.ConfigEnvironment), settings.ConfigEnvironment
	}
	if name == "" {
		folder, err := os.UserConfigDir()
		if err != nil {
			return "", nil, nil // a service without a home has no such folder
		}
		name, named = filepath.Join(folder, "weir", "weir.yaml"), ""
	}
	data, err := readPolicy(name)
	switch {
	case named == "" && errors.Is(err, fs.ErrNotExist):
		return "", nil, nil
	case err != nil && named != "":
		return "", nil, fmt.Errorf("%s: %w", named, err)
	}
	return name, data, err
}

// dataFolder is where what is kept for a user lies.
func dataFolder() (string, error) {
	if base := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(base) {
		return filepath.Join(base, "weir"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("%w: set XDG_DATA_HOME to the folder where data is kept", err)
	}
	return filepath.Join(home, ".local", "share", "weir"), nil
}
