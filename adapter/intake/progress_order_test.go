package intake_test

import (
	"bytes"
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/intake"
	"weir.example/weir/mapping/element"
)

// A document may say how far tasks are and bring news of the same patient.
func TestTasksAreDoneWhileTheirOrderChanges(t *testing.T) {
	for name, change := range map[string][2]string{"nothing else": {"", ""}, "another telephone": {"+1-555-0117", "+1-555-0119"},
		"stopped": {"\"status\": \"active\",\n        \"intent\"", "\"status\": \"stopped\",\n        \"intent\""}} {
		d, f := open(t), load(t, "s1-cefazolin-elastomeric")
		d.send(t, f)
		f.Now = f.Now.Add(time.Minute)
		var list []intake.Item
		for _, x := range d.tasks(t)["requested"] {
			r, err := d.store.Get(context.Background(), "Task", x.ID)
			require.NoError(t, err)
			doc, _ := element.Read(bytes.Replace(r.JSON, []byte(`"status":"requested"`), []byte(`"status":"completed"`), 1), element.Limit{})
			list = append(list, intake.Item{Way: intake.Update, ID: x.ID, Version: r.Version, Resource: doc.Root(), At: "Task"})
		}
		require.NotEmpty(t, list)
		if change[0] != "" {
			changed := bytes.ReplaceAll(f.Document, []byte(change[0]), []byte(change[1]))
			require.False(t, bytes.Equal(f.Document, changed), name)
			list = append(list, items(t, changed, intake.Feed)...)
		}
		done := len(d.tasks(t)["requested"])
		_, err := d.Receive(context.Background(), call(f), list)
		require.NoError(t, err, name)
		assert.Len(t, d.tasks(t)["completed"], done, name)
		d.healthy(t)
	}
}
