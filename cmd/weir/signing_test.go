package main

import (
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/mapping/policy"
)

func signing(file, name string, more ...string) []string {
	return append([]string{"tables", "sign", "--policy", file, "--name", name, "--role", "pharmacist", "--license", "EX 1"}, more...)
}

func signatures(t *testing.T, file string) policy.Signatures {
	data, err := os.ReadFile(signaturesOf(file))
	require.NoError(t, err)
	list, err := policy.ReadSignatures(data)
	require.NoError(t, err)
	return list
}

func TestOfManyWhoSignAtOnceNobodyIsLost(t *testing.T) {
	const signers = 16
	file := site(t, "# nothing of its own\n")
	hashes := map[string]string{"drugs": fmt.Sprintf("%064x", 1)}
	var all sync.WaitGroup
	for i := range signers {
		all.Go(func() {
			s, err := policy.NewSignature(fmt.Sprintf("Signer %d", i), "pharmacist", "EX 1", "2026-09-01", hashes)
			assert.NoError(t, err)
			assert.NoError(t, addSignature(file, s))
		})
	}
	all.Wait()
	assert.Len(t, signatures(t, file), signers)
	left, err := os.ReadDir(filepath.Dir(file))
	require.NoError(t, err)
	assert.Len(t, left, 2, "the policy and its signatures, no lock and no half file")
}

func TestASignatureIsNotWrittenThroughALink(t *testing.T) {
	file := site(t, "# nothing of its own\n")
	other := filepath.Join(t.TempDir(), "other.json")
	require.NoError(t, os.WriteFile(other, []byte(`{"signatures":[]}`), 0o600))
	require.NoError(t, os.Symlink(other, signaturesOf(file)))
	_, said, code := told(t, signing(file, "J. Example", "--on", "2026-09-01")...)
	assert.NotZero(t, code)
	assert.Contains(t, said, "is a link")
	data, err := os.ReadFile(other)
	require.NoError(t, err)
	assert.Equal(t, `{"signatures":[]}`, string(data))
	info, err := os.Lstat(signaturesOf(file))
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&os.ModeSymlink, "the link stands as it stood")
}

func TestALockLeftBehindIsNamed(t *testing.T) {
	was := signingWait
	signingWait = 50 * time.Millisecond
	t.Cleanup(func() { signingWait = was })
	file := site(t, "# nothing of its own\n")
	lock := signaturesOf(file) + ".lock"
	require.NoError(t, os.WriteFile(lock, nil, 0o600))
	_, said, code := told(t, signing(file, "J. Example", "--on", "2026-09-01")...)
	assert.NotZero(t, code)
	assert.Contains(t, said, lock+" exists")
	assert.NoFileExists(t, signaturesOf(file))
	assert.FileExists(t, lock, "it is not ours to take away")
	require.NoError(t, os.Remove(lock))
	_, said, code = told(t, signing(file, "J. Example", "--on", "2026-09-01")...)
	assert.Zero(t, code, said)
	assert.NoFileExists(t, lock)
}

// A day that has not come is refused when it is signed, and does not count
// when somebody wrote it into the file.
func TestNobodySignsForTomorrow(t *testing.T) {
	file := site(t, "# nothing of its own\n")
	_, said, code := told(t, signing(file, "J. Example", "--on", "2099-01-01")...)
	assert.Equal(t, exitUsage, code)
	assert.Contains(t, said, "dated in the future")
	assert.NoFileExists(t, signaturesOf(file))
	_, said, code = told(t, signing(file, "J.\u202eExample", "--on", "2026-09-01")...)
	assert.Equal(t, exitUsage, code)
	assert.Contains(t, said, "name")

	ref, err := reference(file)
	require.NoError(t, err)
	s, err := policy.NewSignature("J. Example", "pharmacist", "EX 1", "2099-01-01", ref.Hashes())
	require.NoError(t, err)
	require.NoError(t, addSignature(file, s))
	for _, x := range listed(t, "--policy", file) {
		assert.Equal(t, "dated in the future", x.State, x.Name)
	}
	out, _, _ := told(t, "tables", "list", "--policy", file)
	assert.Contains(t, out, "dated in the future")
	assert.Contains(t, out, "are not signed: nothing is released.")
}
