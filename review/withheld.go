package review

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
)

// Withholding ties events to withheld data without holding any: Digest is the SHA-256, in hex, of a random salt followed by
// the data as stored. When data and salt are erased the digest tells nothing.
type Withholding struct {
	ID     string `json:"id,omitempty"`
	Digest string `json:"digest,omitempty"`
}

// WithheldRecord is a Withheld on its way into or out of the store. Body is the JSON text that the digest was made of.
type WithheldRecord struct {
	ID, Digest string
	Salt       []byte
	Body       string
}

// Withhold closes withheld label data: the record goes into the erasable table, the Withholding into an event.
func Withhold(id string, salt []byte, w Withheld) (WithheldRecord, Withholding, error) {
	body, err := json.Marshal(w)
	if err != nil {
		return WithheldRecord{}, Withholding{}, fmt.Errorf("withhold label data: %w", err)
	}
	digest := withheldDigest(salt, string(body))
	return WithheldRecord{ID: id, Digest: digest, Salt: salt, Body: string(body)}, Withholding{ID: id, Digest: digest}, nil
}

func withheldDigest(salt []byte, body string) string {
	sum := sha256.Sum256(append(append([]byte{}, salt...), body...))
	return hex.EncodeToString(sum[:])
}

// Open returns the withheld data, and an error where they are not what the event tells of.
func (s WithheldRecord) Open(with Withholding) (Withheld, error) {
	if withheldDigest(s.Salt, s.Body) != with.Digest {
		return Withheld{}, fmt.Errorf("withheld label data %s is not what its event tells of", s.ID)
	}
	var w Withheld
	if err := json.Unmarshal([]byte(s.Body), &w); err != nil {
		return Withheld{}, fmt.Errorf("withheld label data %s: %w", s.ID, err)
	}
	return w, nil
}
