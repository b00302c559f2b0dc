package bag

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var today = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

// packed is a bag of some files.
func packed(t *testing.T, folder, name string, former *Bag) *Bag {
	t.Helper()
	w, err := Create(folder, name)
	require.NoError(t, err)
	place, err := w.Folder("database")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(place, "rows"), []byte("rows"), 0o600))
	require.NoError(t, w.Took("database/rows"))
	for name, text := range map[string]string{"photos/ab/one": "first", "photos/ab/two": "second", "note": ""} {
		again, err := w.Again(former, name)
		require.NoError(t, err)
		require.Equal(t, former != nil, again, name)
		if !again {
			require.NoError(t, w.Add(name, strings.NewReader(text)))
		}
	}
	b, err := w.Close(today, Label{"Contact-Name", "nobody"})
	require.NoError(t, err)
	return b
}

func verified(t *testing.T, b *Bag) error { return b.Verify(t.Context(), func(int, int) {}) }

func TestABagIsReadAsItWasWritten(t *testing.T) {
	b := packed(t, t.TempDir(), "one", nil)
	require.NoError(t, verified(t, b))
	require.Equal(t, []string{"database/rows", "note", "photos/ab/one", "photos/ab/two"}, b.Names("."))
	require.Equal(t, []string{"photos/ab/one", "photos/ab/two"}, b.Names("photos"))
	var text bytes.Buffer
	require.NoError(t, b.Copy("photos/ab/one", &text))
	require.Equal(t, "first", text.String())
	require.Equal(t, "2026-05-14", b.Label(LabelDate))
	require.Equal(t, "15.4", b.Label(LabelOxum), "RFC 8493, section 2.2.2: bytes, a dot, files")
	require.Equal(t, "nobody", b.Label("Contact-Name"))
}

// TestOthersCanCheckIt: RFC 8493, section 2.1.3, takes its lines from the lists of these programs.
func TestOthersCanCheckIt(t *testing.T) {
	b := packed(t, t.TempDir(), "one", nil)
	for _, list := range []string{"manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		check := exec.CommandContext(t.Context(), "sha256sum", "--check", "--strict", list)
		check.Dir = b.Path
		said, err := check.CombinedOutput()
		require.NoError(t, err, string(said))
	}
	declared, err := os.ReadFile(filepath.Join(b.Path, "bagit.txt"))
	require.NoError(t, err)
	require.Equal(t, "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", string(declared), "RFC 8493, section 2.1.1")
}

func TestEveryChangeShows(t *testing.T) {
	whole := packed(t, t.TempDir(), "one", nil)
	var files []string
	require.NoError(t, filepath.WalkDir(whole.Path, func(name string, entry os.DirEntry, err error) error {
		if err == nil && !entry.IsDir() {
			files = append(files, name)
		}
		return err
	}))
	require.Len(t, files, 8)
	for _, name := range files {
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		for what, change := range map[string]func() error{
			"removed": func() error { return os.Remove(name) },
			"longer":  func() error { return os.WriteFile(name, append(bytes.Clone(text), 'x'), 0o600) },
			"altered": func() error { return os.WriteFile(name, append([]byte{text[0] ^ 1}, text[1:]...), 0o600) },
		} {
			if what == "altered" && len(text) == 0 {
				continue
			}
			require.NoError(t, change())
			b, err := Open(whole.Path)
			if err == nil {
				err = verified(t, b)
			}
			require.ErrorIs(t, err, ErrDamaged, "%s %s", name, what)
			require.NoError(t, os.WriteFile(name, text, 0o600))
		}
	}
	require.NoError(t, verified(t, whole))
	require.NoError(t, os.WriteFile(filepath.Join(whole.Path, "data", "more"), nil, 0o600))
	_, err := Open(whole.Path)
	require.ErrorIs(t, err, ErrDamaged, "a file that is not its own")
}

// TestTheDigestTellsOfEverything: whoever writes all lists anew cannot keep the digest.
func TestTheDigestTellsOfEverything(t *testing.T) {
	one := packed(t, t.TempDir(), "one", nil)
	same := packed(t, t.TempDir(), "same", nil)
	require.Equal(t, one.Digest, same.Digest)
	w, err := Create(t.TempDir(), "other")
	require.NoError(t, err)
	require.NoError(t, w.Add("note", strings.NewReader("other")))
	other, err := w.Close(today)
	require.NoError(t, err)
	require.NotEqual(t, one.Digest, other.Digest)
}

func TestWhatIsThereAlreadyIsNotWrittenAgain(t *testing.T) {
	folder := t.TempDir()
	first := packed(t, folder, "one", nil)
	second := packed(t, folder, "two", first)
	require.NoError(t, verified(t, second))
	for name, same := range map[string]bool{"photos/ab/one": true, "database/rows": false} {
		a, err := os.Stat(filepath.Join(first.Path, "data", name))
		require.NoError(t, err)
		b, err := os.Stat(filepath.Join(second.Path, "data", name))
		require.NoError(t, err)
		require.Equal(t, same, os.SameFile(a, b), name)
	}
	require.NoError(t, os.RemoveAll(first.Path))
	require.NoError(t, verified(t, second), "each stands by itself")
}

func TestNewest(t *testing.T) {
	folder := t.TempDir()
	none, err := Newest(filepath.Join(folder, "missing"))
	require.NoError(t, err)
	require.Nil(t, none)
	packed(t, folder, "2026-05-14", nil)
	packed(t, folder, "2026-05-15", nil)
	unfinishedOne, err := Create(folder, "2026-05-16")
	require.NoError(t, err)
	b, err := Newest(folder)
	require.NoError(t, err)
	require.Equal(t, "2026-05-15", filepath.Base(b.Path))
	require.NoError(t, unfinishedOne.Abandon())
	_, err = Create(folder, "2026-05-15")
	require.ErrorContains(t, err, "is there already")
}

func TestNamesThatLeadOut(t *testing.T) {
	w, err := Create(t.TempDir(), "one")
	require.NoError(t, err)
	for _, name := range []string{"", "../a", "/a", "a/../../b", "a\nb", "a//b", "a%b"} {
		require.Error(t, w.Add(name, strings.NewReader("")), name)
		_, err := parseSums("list", []byte(strings.Repeat("0", 64)+"  "+name+"\n"))
		require.Error(t, err, name)
	}
	require.NoError(t, w.Abandon())
}
