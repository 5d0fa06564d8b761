package arithmetic

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/quantity"
)

func TestTheTableOfCustomsHoldsTogether(t *testing.T) {
	var file struct {
		Edition, Notice, Standing, Source string
		Customs                           []struct{ Of, Name, Low, Middle, High, Unit string }
	}
	require.NoError(t, json.Unmarshal(customsFile, &file))
	for says, text := range map[string]string{"edition": file.Edition, "notice": file.Notice, "standing": file.Standing, "source": file.Source} {
		assert.NotEmpty(t, text, says)
	}
	seen := map[string]bool{}
	for _, row := range file.Customs {
		assert.Contains(t, []string{"always", "pausing", "running", "pausing by mass", "running by mass"}, row.Of)
		assert.False(t, seen[row.Of+row.Name], "%s %s stands twice", row.Of, row.Name)
		seen[row.Of+row.Name] = true
		want, ok := Dimension(row.Name, quantity.Mass)
		require.True(t, ok, row.Name)
		_, fits := quantity.MustUnit(row.Unit).As(want)
		assert.True(t, fits, "%s in %s", row.Name, row.Unit)
		low, high := quantity.MustNumber(row.Low), quantity.MustNumber(row.High)
		assert.True(t, low.Less(high), row.Name)
		if row.Middle != "" {
			middle := quantity.MustNumber(row.Middle)
			assert.True(t, low.Less(middle) && middle.Less(high), row.Name)
		}
	}
}
