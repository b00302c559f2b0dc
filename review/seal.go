package review

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
)

// seal closes withheld label data: the value goes into the erasable table, the seal into an event.
func seal(id string, salt []byte, w Withheld) (SealedWithheld, Seal, error) {
	body, err := json.Marshal(w)
	if err != nil {
		return SealedWithheld{}, Seal{}, fmt.Errorf("seal label data: %w", err)
	}
	digest := sealDigest(salt, string(body))
	return SealedWithheld{ID: id, Digest: digest, Salt: salt, Body: string(body)}, Seal{ID: id, Digest: digest}, nil
}

func sealDigest(salt []byte, body string) string {
	sum := sha256.Sum256(append(append([]byte{}, salt...), body...))
	return hex.EncodeToString(sum[:])
}

// Open returns the withheld data, and an error where they are not what was sealed.
func (s SealedWithheld) Open(with Seal) (Withheld, error) {
	if sealDigest(s.Salt, s.Body) != with.Digest {
		return Withheld{}, fmt.Errorf("withheld label data %s is not what its event sealed", s.ID)
	}
	var w Withheld
	if err := json.Unmarshal([]byte(s.Body), &w); err != nil {
		return Withheld{}, fmt.Errorf("withheld label data %s: %w", s.ID, err)
	}
	return w, nil
}
