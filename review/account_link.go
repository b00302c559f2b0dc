package review

import (
	"crypto/sha256"
	"encoding/hex"
	"time"
)

// LinkPurpose is what the link of an account is for.
type LinkPurpose string

const (
	// LinkInvites makes an account: who follows it chooses login and password.
	LinkInvites LinkPurpose = "invitation"
	// LinkResets sets another password of an account that is there.
	LinkResets LinkPurpose = "reset"
)

// How long links of accounts are good for (our own choice): an invitation lies in a letter box for some days, and somebody who asks
// for another password sits in front of it.
const (
	InvitationLife = 7 * 24 * time.Hour
	ResetLife      = time.Hour
)

// AccountLink is a link by which somebody who is not logged in gets into an account, once. It is personal data: it stands outside
// the events, and goes when it is used, taken back or long past.
type AccountLink struct {
	ID      string      `json:"id"`
	Purpose LinkPurpose `json:"-"`
	Person  string      `json:"person" doc:"Id that the account has, or will have"`
	// Name, Role and Address are of an invitation.
	Name    string `json:"name" doc:"As whoever invited has written it; the person may write it otherwise"`
	Role    Role   `json:"role"`
	Address string `json:"address,omitempty" doc:"Where the link is sent; empty: it was handed over"`
	// Digest is SecretDigest of the token; empty while none is out. The token itself is stored nowhere.
	Digest string `json:"-"`
	// Mailed: the token went to Address, so that whoever has it reads mail there.
	Mailed    bool      `json:"-"`
	By        string    `json:"by" doc:"Id of who made it"`
	MadeAt    time.Time `json:"made_at"`
	ExpiresAt time.Time `json:"expires_at"`
}

// SecretDigest is what is stored of a secret of chance, such as the token of a link, of a program or of a machine, or a recovery code: its
// SHA-256, in hex. They have 80 bits and more (crypto/rand.Text), so that no slow hash is needed.
func SecretDigest(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return hex.EncodeToString(sum[:])
}
