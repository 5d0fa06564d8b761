package reconciliation

import (
	"strings"
	"time"

	"weir.example/weir/mapping/finding"
	"weir.example/weir/mapping/notation"
	"weir.example/weir/mapping/policy"
	"weir.example/weir/mapping/quantity"
)

// Delivered is what came of the hospital's state as a whole, before anything
// of it is compared.
type Delivered struct {
	Now     time.Time
	Time    time.Time // of the feed: the manifest's, else the newest meta.lastUpdated; zero: none is known
	Lines   int       // read
	Failed  int       // lines that are no resource, or could not be read
	Short   []string  // types of which a file holds fewer lines than the manifest counts
	Missing []string  // types whose file is named in the manifest and not there
	Broken  []string  // types of which a file ends inside a line
	Active  int       // orders held active before this night
	Absent  int       // of them not in the hospital's state
}

// FeedResult is what is said of the feed. Allowed: automatic release may go
// on; a silent, shrunken or broken feed stops it for all orders, since a stop
// may be in what did not come.
type FeedResult struct {
	Findings []finding.Finding
	Allowed  bool
}

// Feed judges the hospital's state as a whole: row m21. Thresholds are the
// site's; common practice, no source.
func Feed(d Delivered, p *policy.Policy) FeedResult {
	var r FeedResult
	say := func(observed, expected string) {
		r.Findings = append(r.Findings, finding.Finding{Code: "nightly-feed-silent", Observed: observed, Expected: expected})
	}
	age := time.Duration(p.Night.FeedAge)
	switch {
	case d.Time.IsZero():
		say("nothing tells of when the data are", "data not older than "+notation.Duration(age))
	case d.Now.Sub(d.Time) > age:
		say("newest data of "+notation.Instant(d.Time.UTC(), "")+", "+notation.Duration(d.Now.Sub(d.Time).Truncate(time.Minute))+" old", "data not older than "+notation.Duration(age))
	}
	if len(d.Short) > 0 {
		say("fewer lines than the manifest counts: "+strings.Join(d.Short, ", "), "every line that the manifest counts")
	}
	if len(d.Missing) > 0 {
		say("named in the manifest and not there: "+strings.Join(d.Missing, ", "), "every file of the manifest")
	}
	if len(d.Broken) > 0 {
		say("a file ends inside a line: "+strings.Join(d.Broken, ", "), "files that end with a whole line")
	}
	if d.Failed > 0 {
		say(counted(d.Failed, "line", "lines")+" of "+notation.Number(quantity.Int(int64(d.Lines)))+" could not be read", "every line read")
	}
	if share := p.Night.AbsentShare.Number; d.Active > 0 && share.Less(quantity.Ratio(int64(d.Absent), int64(d.Active))) {
		say(notation.Number(quantity.Int(int64(d.Absent)))+" of "+notation.Number(quantity.Int(int64(d.Active)))+" orders held active are absent", "at most "+notation.Number(share.Mul(quantity.Int(100)))+" % absent")
	}
	r.Allowed = len(r.Findings) == 0
	return r
}
