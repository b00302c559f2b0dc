package web

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"net/http"
	"slices"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
)

// idempotencyHeader is the header of a request that its sender may send again.
const idempotencyHeader = "Idempotency-Key"

// Keyed is a request that its sender may send again. It is exported because huma looks into exported parts only.
type Keyed struct {
	Key string `json:"-" header:"Idempotency-Key" maxLength:"120" doc:"Up to 120 letters of the caller's own choice, kept for a week. The same request sent again under the same key is served once, and answered with what it has made, as that is now; another request under the same key is refused with 409"`
}

func (k *Keyed) idempotencyKey() string { return k.Key }

// keyParameter describes the header of the routes that stand on gin.
func keyParameter() *huma.Param {
	longest := 120
	return &huma.Param{Name: idempotencyHeader, In: "header", Schema: &huma.Schema{Type: huma.TypeString, MaxLength: &longest},
		Description: "The same request sent again under the same key is served once; another one under the same key is refused with 409"}
}

// keyedInput is a pointer to the input of an operation that changes something.
type keyedInput[In any] interface {
	*In
	sender() review.Actor
	idempotencyKey() string
}

// changes registers an operation that changes something, so that it is served once under a key. shown is the answer where
// it has been served before: made is what that has made.
func changes[In, Out any, P keyedInput[In]](a *api, o huma.Operation, do func(context.Context, *In) (*Out, error), shown func(ctx context.Context, in *In, made string) (*Out, error)) {
	name := o.OperationID
	if !slices.Contains(o.Errors, http.StatusConflict) {
		o.Errors = append(o.Errors, http.StatusConflict)
	}
	huma.Register(a.doors, o, func(ctx context.Context, in *In) (*Out, error) {
		var out *Out
		// Preconditions are no part of the request: who sends it again may have read a newer version meanwhile.
		asked := struct {
			Of string
			In *In
		}{name, in}
		before, err := a.Service.Once(ctx, P(in).sender(), P(in).idempotencyKey(), asked, func(ctx context.Context) (err error) {
			out, err = do(ctx, in)
			return err
		})
		if err == nil && before != "" {
			return shown(ctx, in, before)
		}
		return out, err
	})
}

// once does what a form of a page asks for; the same form sent twice, by a double click or after going back, is served once.
// Several forms of a page bear one key, and what stands in a form belongs to it: another form is another request.
func (s *Server) once(c *gin.Context, sent *sentForm, do func(context.Context) error) (before string, err error) {
	asked := struct {
		Path   string
		Values map[string][]string
	}{c.Request.URL.Path, sent.values}
	key := sent.get("key")
	if key != "" {
		text, err := json.Marshal(asked)
		if err != nil {
			return "", fmt.Errorf("encode a form: %w", err)
		}
		sum := sha256.Sum256(append(text, key...))
		key = "form-" + hex.EncodeToString(sum[:])
	}
	return s.Service.Once(c.Request.Context(), actorOf(c), key, asked, do)
}

// goesTo is the submission to go on to: the one that a form has made, when it was sent first.
func goesTo(before, done string) string {
	if before != "" && before != service.NothingMade {
		return before
	}
	return done
}
