package r4

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"weir.example/weir/mapping/element"
)

// remember reads lines as members. A line that begins with ! counts as one
// that failed.
func remember(t require.TestingT, lines ...string) []Member {
	var out []Member
	for _, line := range lines {
		text, failed := strings.CutPrefix(line, "!")
		d, _ := element.Read([]byte(text), element.Limit{})
		m := Remember(d)
		m.Sum, m.Failed = sha256.Sum256([]byte(text)), failed
		out = append(out, m)
	}
	return out
}

func line(kind, id string, members ...string) string {
	return fmt.Sprintf(`{"resourceType":"%s","id":"%s"%s}`, kind, id, strings.Join(append([]string{""}, members...), ","))
}

func ref(name, to string) string { return fmt.Sprintf(`"%s":{"reference":"%s"}`, name, to) }

// told lists the parts by Type/id.
func told(members []Member, parts []Part) (list []string) {
	for _, p := range parts {
		var names []string
		for _, i := range p.Members {
			names = append(names, members[i].Type[:3]+"/"+members[i].ID)
		}
		for _, i := range p.Lost {
			names = append(names, "lost "+members[i].ID)
		}
		list = append(list, strings.Join(names, " "))
	}
	return list
}

func TestWhatIsReadTogether(t *testing.T) {
	order := func(id, patient string, more ...string) string {
		return line("MedicationRequest", id, append([]string{ref("subject", "Patient/"+patient)}, more...)...)
	}
	number := `"identifier":[{"system":"urn:mrn","value":"7"}]`
	named := func(family, given string) string {
		return fmt.Sprintf(`"name":[{"family":"%s","given":["%s"]}]`, family, given)
	}
	for name, x := range map[string]struct {
		lines []string
		want  []string
	}{
		"each patient alone": {[]string{order("b", "2"), order("a", "1"), line("Patient", "1"), line("Patient", "2"),
			line("Observation", "o", ref("subject", "Patient/2"))}, []string{"Med/a Pat/1", "Med/b Obs/o Pat/2"}},
		"what is nobody's goes to each that points at it": {[]string{order("a", "1", ref("medicationReference", "Medication/m")),
			order("b", "2", ref("medicationReference", "Medication/m")), line("Medication", "m", ref("manufacturer", "Organization/x")), line("Organization", "x")},
			[]string{"Med/m Med/a Org/x", "Med/m Med/b Org/x"}},
		"records with one number": {[]string{order("a", "1"), line("Patient", "1", number), line("Patient", "2", number), line("Observation", "o", ref("subject", "Patient/2"))},
			[]string{"Med/a Obs/o Pat/1 Pat/2"}},
		"a number without system unites nobody": {[]string{order("a", "1"), line("Patient", "1", `"identifier":[{"value":"7"}]`), line("Patient", "2", `"identifier":[{"value":"7"}]`)},
			[]string{"Med/a Pat/1"}},
		"a link": {[]string{order("a", "1"), line("Patient", "1", `"link":[{"other":{"reference":"Patient/2"},"type":"replaces"}]`), line("Patient", "2")},
			[]string{"Med/a Pat/1 Pat/2"}},
		"namesakes are apart": {[]string{order("a", "1"), order("b", "2"), line("Patient", "1", named("Cole", "Ann")), line("Patient", "2", named("Cole", "Ann"))},
			[]string{"Med/a Pat/1", "Med/b Pat/2"}},
		"a contained copy sees all namesakes": {[]string{
			line("MedicationRequest", "a", `"contained":[{"resourceType":"Patient","id":"p",`+named("Cole", "A")+`}]`, ref("subject", "#p")),
			line("Patient", "1", named("Cole", "Ann")), line("Patient", "2", named("Cole", "Amy")), line("Patient", "3", named("Cole", "Bo"))},
			[]string{"Med/a Pat/1 Pat/2"}},
		"another patient's fact pointed at": {[]string{order("a", "1", `"supportingInformation":[{"reference":"Observation/o"}]`), order("b", "2"), line("Patient", "1"), line("Patient", "2"),
			line("Observation", "o", ref("subject", "Patient/2"))}, []string{"Med/a Med/b Obs/o Pat/1 Pat/2"}},
		"by number alone": {[]string{line("MedicationRequest", "a", `"subject":{"identifier":{"system":"urn:mrn","value":"7"}}`), line("Patient", "1", number)},
			[]string{"Med/a Pat/1"}},
		"a place that both name is no tie": {[]string{order("a", "1"), order("b", "2"), line("SupplyRequest", "s", ref("deliverTo", "Location/l")), line("SupplyRequest", "t", ref("deliverTo", "Location/l"))},
			[]string{"Med/a", "Med/b"}},
		"a missing prescriber is no tie": {[]string{order("a", "1", ref("requester", "Practitioner/x")), order("b", "2", ref("requester", "Practitioner/x"))},
			[]string{"Med/a", "Med/b"}},
		"a witness goes to each it names": {[]string{order("a", "1"), order("b", "2"), order("c", "3"),
			line("Provenance", "w", `"target":[{"reference":"MedicationRequest/a"},{"reference":"MedicationRequest/c"}]`)},
			[]string{"Med/a Pro/w", "Med/b", "Med/c Pro/w"}},
		"lost lines go to their patient": {[]string{order("a", "1"), order("b", "2"), "!" + line("AllergyIntolerance", "x", ref("patient", "Patient/2"))},
			[]string{"Med/a", "Med/b lost x"}},
		"an order that is lost is none":       {[]string{"!" + order("a", "1"), line("Patient", "1")}, nil},
		"a patient without an order":          {[]string{line("Patient", "1"), line("Observation", "o", ref("subject", "Patient/1"))}, nil},
		"a versioned reference names the one": {[]string{order("a", "1/_history/3"), line("Patient", "1")}, []string{"Med/a Pat/1"}},
	} {
		members := remember(t, x.lines...)
		parts, _ := Group(members)
		assert.Equal(t, x.want, told(members, parts), name)
	}
}

func TestOneWitnessOfTooMany(t *testing.T) {
	for _, n := range []int{mostWitnessed, mostWitnessed + 1} {
		var lines, targets []string
		for i := range n {
			id := fmt.Sprintf("m%03d", i)
			lines = append(lines, line("MedicationRequest", id, ref("subject", "Patient/"+id)))
			targets = append(targets, fmt.Sprintf(`{"reference":"MedicationRequest/%s"}`, id))
		}
		members := remember(t, append(lines, line("Provenance", "w", `"target":[`+strings.Join(targets, ",")+`]`))...)
		parts, left := Group(members)
		require.Len(t, parts, n)
		if n > mostWitnessed {
			assert.Len(t, parts[0].Members, 1)
			assert.Equal(t, []LeftOver{{"Provenance", "it names more than 100 patients", 1}}, left)
		} else {
			assert.Len(t, parts[0].Members, 2)
			assert.Empty(t, left)
		}
	}
}

// Whatever refers to whatever: every order stands in one part, every resource
// of a patient in at most one, nothing is lost from the count, and the order
// of the members changes nothing.
func TestGroupingHasNoOrderAndLosesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var lines []string
		pick := func(label string) string { return fmt.Sprint(rapid.IntRange(0, 4).Draw(t, label)) }
		for i := range rapid.IntRange(1, 14).Draw(t, "n") {
			id := fmt.Sprint(i % 5)
			kind := rapid.SampledFrom([]string{"MedicationRequest", "Patient", "Observation", "Medication", "Provenance"}).Draw(t, "kind")
			var more []string
			if kind == "MedicationRequest" || kind == "Observation" {
				more = append(more, ref("subject", "Patient/"+pick("subject")))
			}
			if rapid.Bool().Draw(t, "points") {
				more = append(more, fmt.Sprintf(`"extra":[{"reference":"%s/%s"}]`, rapid.SampledFrom([]string{"Medication", "Observation", "MedicationRequest", "Patient"}).Draw(t, "to"), pick("to id")))
			}
			if rapid.Bool().Draw(t, "dated") {
				more = append(more, fmt.Sprintf(`"meta":{"lastUpdated":"2026-11-0%sT00:00:00Z"}`, fmt.Sprint(1+rapid.IntRange(0, 2).Draw(t, "day"))))
			}
			lines = append(lines, line(kind, id, append(more, fmt.Sprintf(`"n":%d`, i))...))
		}
		members := remember(t, lines...)
		parts, left := Group(members)
		seen, used := map[int]int{}, map[int]bool{}
		for _, p := range parts {
			for _, i := range p.Members {
				used[i] = true
				if members[i].Owned() {
					seen[i]++
				}
			}
		}
		total := len(used)
		for _, l := range left {
			total += l.Count
		}
		require.Equal(t, len(members), total, "each member is read or counted")
		for i, n := range seen {
			require.Equal(t, 1, n, lines[i])
		}
		shuffled := rapid.Permutation(lines).Draw(t, "shuffled")
		again := remember(t, shuffled...)
		other, rest := Group(again)
		require.Equal(t, told(members, parts), told(again, other))
		require.Equal(t, left, rest)
	})
}
