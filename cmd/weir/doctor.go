package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/settings"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/schedule"
)

// symptom is one line of the doctor: what was looked at, how it is, and what to
// do where it is wrong.
type symptom struct {
	Check string `json:"check"`
	State string `json:"state"` // ok, wrong, unknown
	Says  string `json:"says"`
	Do    string `json:"do,omitempty"`

	again bool // wrong now, and may be right without anybody's doing
}

const (
	signOK      = "ok"
	signWrong   = "wrong"
	signUnknown = "unknown" // could not be looked at: never ok
)

func newDoctor(s streams) *cobra.Command {
	var output string
	var deep bool
	c := &cobra.Command{
		Use: "doctor", Short: "Look at settings, policy, store, disk, clock, zones, keys and addresses; say what is wrong and what to do",
		Long: "doctor changes nothing. Each line is ok, wrong or unknown (could not be looked at), with what to do.\n" +
			"Exit 0: all ok; 2: something is wrong; 5: only what may be right at the next try (the store cannot be reached).",
		Example: "  weir doctor\n  weir doctor --read-all --output json",
		Args:    noArgs,
	}
	from := addSettings(c, "doctor")
	c.Flags().BoolVar(&deep, "read-all", false, "read the whole store and compare everything with its hashes; takes a while for a large one")
	c.Flags().StringVar(&output, "output", "text", "text or json")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := textOrJSON(output); err != nil {
			return err
		}
		signs := examine(c.Context(), s, from, deep)
		if err := c.Context().Err(); err != nil {
			return err
		}
		if err := writeSigns(s, output, signs); err != nil {
			return err
		}
		code := 0
		for _, x := range signs {
			switch {
			case x.State == signWrong && !x.again:
				return exit{exitUsage}
			case x.State != signOK && x.again:
				code = exitAgain
			}
		}
		if code != 0 {
			return exit{code}
		}
		return nil
	}
	return c
}

func writeSigns(s streams, output string, signs []symptom) error {
	if output == "json" {
		data, err := json.MarshalIndent(signs, "", "  ")
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.out, "%s\n", data)
		return err
	}
	for _, x := range signs {
		line := fmt.Sprintf("%-8s %-11s %s", strings.ToUpper(x.State), x.Check, x.Says)
		if x.State == signOK {
			line = fmt.Sprintf("%-8s %-11s %s", x.State, x.Check, x.Says)
		}
		if x.Do != "" {
			line += "\n" + strings.Repeat(" ", 21) + "do: " + x.Do
		}
		if _, err := fmt.Fprintln(s.out, line); err != nil {
			return err
		}
	}
	return nil
}

// judge is ok without an error, else wrong with what to do.
func judge(check string, err error, says, do string) symptom {
	if err == nil {
		return symptom{Check: check, State: signOK, Says: says}
	}
	var off *adapter.Unavailable
	return symptom{Check: check, State: signWrong, Says: err.Error(), Do: do, again: errors.As(err, &off)}
}

func examine(ctx context.Context, s streams, from *settingFlags, deep bool) []symptom {
	set, err := from.load(s)
	if err != nil {
		return []symptom{judge("settings", err, "", "correct it (weir config check FILE names every fault of a file); nothing else was looked at")}
	}
	file, _, _ := from.file()
	says := "no settings file"
	if file != "" {
		says = file + " fits"
	}
	signs := []symptom{judge("settings", nil, says, "")}
	for _, name := range set.Unknown {
		signs = append(signs, symptom{Check: "settings", State: signWrong, Says: name + " in the environment is no setting and has no effect", Do: "correct its name, or take it out"})
	}
	signs = append(signs, lookAtPolicy(s, set.Settings)...)
	signs = append(signs, lookAtStore(ctx, s, set.Settings, deep)...)
	return append(signs, lookAtAddresses(ctx, set.Settings)...)
}

func lookAtPolicy(s streams, set settings.Settings) []symptom {
	ref, err := reference(set.Policy)
	if err != nil {
		return []symptom{judge("policy", err, "", "correct it: weir tables check FILE")}
	}
	says := set.Policy + " fits"
	if set.Policy == "" {
		says = "no file: the shipped defaults"
	}
	return []symptom{judge("policy", nil, says, ""), lookAtTables(ref.At(s.now()), set.Policy), lookAtZones(ref, s.now())}
}

func lookAtTables(ref policy.Reference, file string) symptom {
	open := ref.Unsigned()
	if len(open) == 0 {
		return judge("tables", nil, ref.SignedBy(), "")
	}
	if file == "" {
		file = "FILE"
	}
	return symptom{Check: "tables", State: signWrong, Says: "not signed, so that nothing is released: " + strings.Join(open, ", "),
		Do: "a pharmacist of the site reads and signs them: weir tables sign --policy " + file}
}

// zoneYears is how many calendar years old the zone data may be: rules of
// daylight time change several times a year somewhere.
const zoneYears = 1

func lookAtZones(ref policy.Reference, now time.Time) symptom {
	x := symptom{Check: "zones", State: signOK, Says: "zone data " + schedule.ZoneVersion}
	var year int
	if _, err := fmt.Sscanf(schedule.ZoneVersion, "%4d", &year); err != nil || now.Year()-year > zoneYears {
		x.State, x.Says, x.Do = signWrong, x.Says+", older than the year before this one", "use a newer release of the program"
	}
	if home := ref.Policy.Home.Zone; home != "" {
		if z, err := ref.Zones.Zone(home); err != nil || !z.Known() {
			x.State, x.Says, x.Do = signWrong, "the policy's home zone is not known", "write it as the zone data do: America/New_York"
		}
	}
	return x
}

// lookAtAddresses asks whether serve could listen, or does already.
func lookAtAddresses(ctx context.Context, set settings.Settings) []symptom {
	var out []symptom
	for _, x := range []struct{ name, address, path string }{{"listen", set.Listen, "/fhir/metadata"}, {"inner", set.Inner, "/livez"}} {
		if x.address == "" {
			continue
		}
		if err := loopback(x.address); err != nil {
			out = append(out, judge(x.name, err, "", "name an address of this machine"))
			continue
		}
		l, err := net.Listen("tcp", x.address)
		switch {
		case err == nil:
			_ = l.Close()
			out = append(out, judge(x.name, nil, x.address+" is free", ""))
		case answers(ctx, "http://"+x.address+x.path, x.path == "/fhir/metadata"):
			out = append(out, judge(x.name, nil, "weir serve answers on "+x.address, ""))
		default:
			out = append(out, symptom{Check: x.name, State: signWrong, Says: x.address + " cannot be listened on, and no weir answers there", Do: "end the other program, or name another address"})
		}
	}
	return out
}

// answers says that a server of ours answers at an address of this machine.
func answers(ctx context.Context, address string, ours bool) bool {
	ctx, cancel := context.WithTimeout(ctx, 2*time.Second)
	defer cancel()
	ask, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return false
	}
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	r, err := client.Do(ask)
	if err != nil {
		return false
	}
	defer r.Body.Close()
	if r.StatusCode != http.StatusOK || !ours {
		return r.StatusCode == http.StatusOK
	}
	var statement struct {
		Software struct{ Name string }
	}
	return json.NewDecoder(http.MaxBytesReader(nil, r.Body, 8<<20)).Decode(&statement) == nil && strings.EqualFold(statement.Software.Name, "weir")
}

// modeOf says who may open a file; only its owner should.
func modeOf(name string) (os.FileMode, error) {
	info, err := os.Stat(name)
	if err != nil {
		return 0, err
	}
	return info.Mode().Perm(), nil
}
