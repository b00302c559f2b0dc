package proof

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"
)

// Checkpoint says what a tree was at a size (https://c2sp.org/tlog-checkpoint).
type Checkpoint struct {
	Origin string // of which tree: the name of the key that signs
	Size   int64  // events
	Root   Hash
}

func (c Checkpoint) text() string {
	return fmt.Sprintf("%s\n%d\n%s\n", c.Origin, c.Size, base64.StdEncoding.EncodeToString(c.Root[:]))
}

// readCheckpoint reads the text of a note. Lines that others have added below the third are passed over.
func readCheckpoint(text string) (c Checkpoint, err error) {
	lines := strings.SplitN(text, "\n", 4)
	if len(lines) < 4 || lines[0] == "" {
		return c, errors.New("this is no checkpoint: it has fewer than three lines")
	}
	if c.Size, err = strconv.ParseInt(lines[1], 10, 64); err != nil || c.Size < 0 || strconv.FormatInt(c.Size, 10) != lines[1] {
		return c, fmt.Errorf("this is no checkpoint: %q is no number of events", lines[1])
	}
	root, err := decode(lines[2])
	if err != nil || len(root) != tlog.HashSize {
		return c, fmt.Errorf("this is no checkpoint: %q is no root of a tree", lines[2])
	}
	c.Origin, c.Root = lines[0], Hash(root)
	return c, nil
}

// NewKey makes a key that signs checkpoints, in the form in which it is kept. The name of the tree is to be its own, without
// spaces and plus signs.
func NewKey(name string) (private string, err error) {
	private, _, err = note.GenerateKey(rand.Reader, name)
	return private, err
}

// Signer signs checkpoints.
type Signer struct {
	signer note.Signer
	public string
}

// NewSigner reads a key that NewKey has made. Its errors do not tell the key.
func NewSigner(private string) (*Signer, error) {
	signer, err := note.NewSigner(private)
	if err != nil {
		return nil, errors.New("the key that signs checkpoints cannot be read")
	}
	parts := strings.SplitN(private, "+", 5) // PRIVATE, KEY, name, hash, key
	secret, err := base64.StdEncoding.DecodeString(parts[len(parts)-1])
	if err != nil || len(secret) != 1+ed25519.SeedSize { // a byte tells the algorithm
		return nil, errors.New("the key that signs checkpoints cannot be read")
	}
	key := ed25519.NewKeyFromSeed(secret[1:]).Public().(ed25519.PublicKey)
	public, err := note.NewEd25519VerifierKey(signer.Name(), key)
	return &Signer{signer: signer, public: public}, err
}

// Public is the key by which everybody can tell what the signer has signed (https://c2sp.org/signed-note).
func (s *Signer) Public() string { return s.public }

// Sign returns the checkpoint of a tree as a signed note.
func (s *Signer) Sign(t Tree) (string, error) {
	c := Checkpoint{Origin: s.signer.Name(), Size: t.Size, Root: t.Root}
	signed, err := note.Sign(&note.Note{Text: c.text()}, s.signer)
	if err != nil {
		return "", fmt.Errorf("sign a checkpoint: %w", err)
	}
	return string(signed), nil
}

// ErrOtherKey: a checkpoint is signed, but not by a key that is known here.
var ErrOtherKey = errors.New("the checkpoint is not signed by this key")

// Keys are public keys that are trusted.
type Keys struct{ verifiers []note.Verifier }

// ReadKeys reads public keys as Signer.Public writes them.
func ReadKeys(public ...string) (k Keys, err error) {
	for _, key := range public {
		v, err := note.NewVerifier(strings.TrimSpace(key))
		if err != nil {
			return k, fmt.Errorf("%q is no public key; it looks like NAME+HASH+KEY: %w", key, err)
		}
		k.verifiers = append(k.verifiers, v)
	}
	return k, nil
}

// Open reads a signed checkpoint: ErrOtherKey where no trusted key has signed it, and ErrAltered where the signature of one
// does not hold.
func (k Keys) Open(signed string) (Checkpoint, error) {
	opened, err := note.Open([]byte(signed), note.VerifierList(k.verifiers...))
	var others *note.UnverifiedNoteError
	var broken *note.InvalidSignatureError
	switch {
	case errors.As(err, &others):
		return Checkpoint{}, ErrOtherKey
	case errors.As(err, &broken):
		return Checkpoint{}, fmt.Errorf("%w: the signature of a checkpoint does not hold", ErrAltered)
	case err != nil:
		return Checkpoint{}, fmt.Errorf("this is no signed checkpoint: %w", err)
	}
	c, err := readCheckpoint(opened.Text)
	if err != nil {
		return c, err
	}
	for _, s := range opened.Sigs {
		if _, err := decode(s.Base64); err != nil {
			return c, fmt.Errorf("this is no signed checkpoint: its signature: %w", err)
		}
		if s.Name == c.Origin {
			return c, nil
		}
	}
	return c, fmt.Errorf("%w: the checkpoint is one of %q, and signed by another", ErrOtherKey, c.Origin)
}
