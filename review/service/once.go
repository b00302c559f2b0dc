package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"time"

	"revidit/review"
)

// mostKey is how many bytes an idempotency key may have.
const mostKey = 120

// lookAgain bounds how long is looked for what an act that failed has made after all.
const lookAgain = 5 * time.Second

// NothingMade stands for what a request has made that made nothing: it asked for a job, or found everything as it is.
const NothingMade = "-"

// onceKey is where the idempotency key of a request travels in its context. No act decides anything by it: only what
// commits looks at it, so that a key is taken in the same transaction as what is done under it.
type onceKey struct{}

// once is a request that is served once.
type once struct {
	person, key, digest string
	taken               bool
}

// Once serves a request of a person once: do is called unless the same request has been served under the key before. Then,
// and where do fails because the same request has been quicker, before is what that one has made: the id of a submission, a
// specimen, a photo or a proposal, the hash of a release, the version of a policy, or NothingMade. It is empty where do has
// done it. request is everything that is asked for, and is compared; a key that was used for something else is a conflict.
// Without a key do is called and nothing else. do must commit with the context that it is given.
func (s *Service) Once(ctx context.Context, actor review.Actor, key string, request any, do func(context.Context) error) (before string, err error) {
	if key == "" {
		return "", do(ctx)
	}
	if len(key) > mostKey {
		return "", review.Invalidf("Idempotency-Key", "must be at most %d letters", mostKey)
	}
	o := &once{person: actor.Person, key: key}
	if o.digest, err = digestOf(request); err != nil {
		return "", err
	}
	if before, err = s.servedBefore(ctx, o); err != nil || before != "" {
		return before, err
	}
	err = do(context.WithValue(ctx, onceKey{}, o))
	if err == nil && !o.taken { // it has committed nothing: there was nothing to do, or it can be done twice
		err = s.commit(context.WithValue(ctx, onceKey{}, o), review.NewWriter(s.moment(actor)))
	}
	if err == nil {
		return "", nil
	}
	// Whatever went wrong: the same request may have arrived twice at once, and the other one have done it, or this one have
	// done it before it failed to say so. The sender may have gone meanwhile.
	look, cancel := context.WithTimeout(context.WithoutCancel(ctx), lookAgain)
	defer cancel()
	if before, lookup := s.servedBefore(look, o); lookup == nil && before != "" {
		return before, nil
	}
	return "", err
}

// errServed is what Commit comes to where the same request, under the same key, has been quicker. Nobody is told so: Once
// answers with what that one has made.
var errServed = review.Errorf(review.KindConflict, "This has just been done by the same request. Nothing was stored a second time; send it again to see what it made.")

// lostToItself says whether a request that lost a race lost it to one that asked for the same: then there is nothing to
// try again, however often the act would be.
func (s *Service) lostToItself(ctx context.Context, o *once) bool {
	if o == nil {
		return false
	}
	before, err := s.servedBefore(ctx, o)
	return err == nil && before != ""
}

// servedBefore is what the same request has made, or empty.
func (s *Service) servedBefore(ctx context.Context, o *once) (made string, err error) {
	made, digest, err := s.store.Served(ctx, o.person, o.key)
	if review.KindOf(err) == review.KindNotFound {
		return "", nil
	}
	if err != nil {
		return "", err
	}
	if digest != o.digest {
		return "", review.Errorf(review.KindConflict, "This idempotency key has been used for another request, which has made %s. Nothing was stored; send this one with a key of its own.", made)
	}
	return made, nil
}

// MadeUnder is the submission or draft that a person has made under an idempotency key, whatever was asked for; a KindNotFound error
// where there is none.
func (s *Service) MadeUnder(ctx context.Context, actor review.Actor, key string) (review.Submission, error) {
	made, _, err := s.store.Served(ctx, actor.Person, key)
	if err != nil {
		return review.Submission{}, err
	}
	return s.begun(ctx, actor, made)
}

// digestOf is the SHA-256, in hex, of a request.
func digestOf(request any) (string, error) {
	text, err := json.Marshal(request)
	if err != nil {
		return "", fmt.Errorf("encode a request: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

// keyed adds to a batch the idempotency key under which it is asked for, unless an earlier batch of the same request has
// taken it.
func keyed(ctx context.Context, batch *review.Batch, m review.Moment) *once {
	o, _ := ctx.Value(onceKey{}).(*once)
	if o == nil || o.taken {
		return nil
	}
	made := batch.Made()
	if made == "" {
		made = NothingMade
	}
	batch.Key = &review.IdempotencyKey{Person: o.person, Key: o.key, Digest: o.digest, Made: made, At: m.Now}
	return o
}
