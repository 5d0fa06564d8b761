package storetest

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
)

// The server comes back after it was stopped at once.
func TestServer(t *testing.T) {
	s, err := StartServer()
	if errors.Is(err, ErrNoServer) && !Required() {
		t.Skip(err)
	}
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	require.NoError(t, s.Do("CREATE TABLE a (b INT)"))
	for range 3 {
		s.Stop()
		require.Error(t, s.Do("SELECT 1"))
		require.NoError(t, s.Settle(true))
		require.NoError(t, s.Do("INSERT INTO a VALUES (1)"))
	}
}
