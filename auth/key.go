package auth

import (
	"bytes"
	"cmp"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"
)

// KeyRing is what the processes of one club share and nobody else knows.
type KeyRing struct {
	// Keys are secrets of at least 32 bytes. The first is the one in force; what was sealed with the others is still read.
	Keys [][]byte
	// Club is the id of the club whose keys these are; empty until the file says so.
	Club string
	// Signing is the key that signs checkpoints of the history, as package proof writes it; empty until the file has one.
	Signing string
	path    string

	mu     sync.Mutex // of what follows
	tokens []TokenKey
	stamp  fileStamp
	looked time.Time
}

// fileStamp tells one state of the file from another.
type fileStamp struct {
	size int64
	at   time.Time
}

func stampOf(info fs.FileInfo) fileStamp { return fileStamp{info.Size(), info.ModTime()} }

// clubWord begins the line of a key file that says whose it is.
const clubWord = "club "

// signingWord begins the line of the key that signs checkpoints. The first one counts: of two programs that make one at once, both
// go by the same.
const signingWord = "checkpoints "

// LoadOrCreateKeys returns the keys in a file, each a line of hexadecimal digits, with the club that a line "club ID" names,
// and makes a random one of 32 bytes where there is no file. It refuses a key that is too short, and a file that others than its owner may read or write.
func LoadOrCreateKeys(path string) (*KeyRing, error) {
	ring, err := loadKeys(path)
	if !errors.Is(err, fs.ErrNotExist) {
		return ring, err
	}
	key := make([]byte, minKey)
	rand.Read(key) // never fails: crypto/rand ends the program instead
	ring = &KeyRing{Keys: [][]byte{key}, path: path, tokens: []TokenKey{newTokenKey(time.Now())}}
	draft, err := ring.draft()
	if err != nil {
		return nil, err
	}
	defer os.Remove(draft)
	// A link, not a renaming: of two programs that start at once, one makes the key and the other reads it, whole.
	err = os.Link(draft, path)
	if errors.Is(err, fs.ErrExist) {
		return loadKeys(path)
	}
	if err != nil {
		return nil, fmt.Errorf("create key: %w", err)
	}
	return loadKeys(path)
}

// LoadKeys is LoadOrCreateKeys, but makes nothing: without a file it returns an error that is fs.ErrNotExist.
func LoadKeys(path string) (*KeyRing, error) { return loadKeys(path) }

// SetClub says in the file whose keys these are. It adds a line, of which the last one counts, so that the file keeps its
// owner and no key in it can be lost.
func (r *KeyRing) SetClub(id string) error {
	if err := r.add(clubWord + id); err != nil {
		return err
	}
	r.Club = id
	return nil
}

// SetSigning adds a key that signs checkpoints, unless another program has added one first.
func (r *KeyRing) SetSigning(key string) error {
	if err := r.add(signingWord + key); err != nil {
		return err
	}
	read, err := loadKeys(r.path)
	if err != nil {
		return err
	}
	r.Signing = read.Signing
	return nil
}

// HaveTokenKey has the file hold a key that signs tokens: one of a time without has none.
func (r *KeyRing) HaveTokenKey(now time.Time) error {
	if len(r.TokenKeys()) > 0 {
		return nil
	}
	_, err := r.AddTokenKey(now)
	return err
}

// add adds a line.
func (r *KeyRing) add(line string) error {
	file, err := os.OpenFile(r.path, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return fmt.Errorf("write key: %w", err)
	}
	_, err = file.WriteString("\n" + line + "\n")
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return fmt.Errorf("write key %s: %w", r.path, err)
	}
	return nil
}

// draft writes the whole file under another name beside its place.
func (r *KeyRing) draft() (string, error) {
	var text strings.Builder
	for _, key := range r.Keys {
		text.WriteString(hex.EncodeToString(key) + "\n")
	}
	for _, key := range r.tokens {
		text.WriteString(key.line() + "\n")
	}
	file, err := os.CreateTemp(filepath.Dir(r.path), ".key-") // readable by its owner alone
	if err != nil {
		return "", fmt.Errorf("create key: %w", err)
	}
	_, err = file.WriteString(text.String())
	if err := errors.Join(err, file.Sync(), file.Close()); err != nil {
		return "", errors.Join(fmt.Errorf("write key %s: %w", r.path, err), os.Remove(file.Name()))
	}
	return file.Name(), nil
}

func loadKeys(path string) (*KeyRing, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("read key: %w", err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("the key file %s can be read by others (%o); make it your own: chmod 600 %s", path, info.Mode().Perm(), path)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read key: %w", err)
	}
	ring := &KeyRing{path: path, stamp: stampOf(info)}
	ended := map[string]bool{}
	for line := range strings.Lines(string(bytes.TrimSpace(text))) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		if club, named := strings.CutPrefix(line, clubWord); named {
			ring.Club = strings.TrimSpace(club)
			continue
		}
		if signing, named := strings.CutPrefix(line, signingWord); named {
			ring.Signing = cmp.Or(ring.Signing, strings.TrimSpace(signing))
			continue
		}
		if id, named := strings.CutPrefix(line, endedWord); named {
			ended[strings.TrimSpace(id)] = true
			continue
		}
		if text, named := strings.CutPrefix(line, tokenWord); named {
			key, err := readTokenKey(text)
			if err != nil {
				return nil, fmt.Errorf("the key file %s: %w", path, err)
			}
			ring.tokens = append(ring.tokens, key)
			continue
		}
		key, err := hex.DecodeString(line)
		if err != nil {
			return nil, fmt.Errorf("the key file %s does not hold hexadecimal digits", path)
		}
		if len(key) < minKey {
			return nil, tooShort(path, len(key))
		}
		ring.Keys = append(ring.Keys, key)
	}
	if len(ring.Keys) == 0 {
		return nil, tooShort(path, 0)
	}
	for i, key := range ring.tokens {
		ring.tokens[i].Ended = ended[key.ID]
	}
	return ring, nil
}

func tooShort(path string, bytes int) error {
	return fmt.Errorf("the key file %s holds %d bytes; at least %d are needed. Restore it from a backup, or remove it and run "+
		"revidit migrate --adopt to have a new one made, which ends all logins", path, bytes, minKey)
}
