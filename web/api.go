package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
)

// api holds the handlers of the JSON API. Their inputs and outputs are structs whose tags huma reads; nothing below
// them knows huma.
type api struct {
	*Server
	doors huma.API
	// importing is taken by the one import that may be under way: what it parses takes memory.
	importing chan struct{}
}

// registerAPI adds the API and its OpenAPI document to the engine.
func (s *Server) registerAPI(r *gin.Engine) {
	group := r.Group(apiPrefix)
	a := &api{Server: s, doors: humagin.NewWithGroup(r, group, s.apiConfig()), importing: make(chan struct{}, 1)}
	a.doors.UseMiddleware(a.requireLogin)
	a.registerSessions()
	a.registerAccounts()
	a.registerPhotos(group)
	a.registerSubmissions()
	a.registerActs()
	a.registerBlind()
	a.registerSpecimens()
	a.registerPolicy()
	a.registerPermissions()
	a.registerMachines()
	a.registerKnowledge()
	a.registerComparison()
	a.registerKey()
	a.registerCharacters()
	a.registerParts()
	a.registerReleases(group)
	a.registerReassessments()
	a.registerArchive(group)
	a.registerChanges()
	a.registerFigures()
	a.registerAudit()
	a.registerReports()
	a.registerLedger()
	a.registerProof()
	a.registerPast()
	a.registerSeries()
	a.registerLabels(group)
	a.registerNews()
	a.registerLive(group)
	typeDocument(a.doors.OpenAPI())
	a.registerManual(r, group)
	a.registerDocument(group)
}

func (s *Server) apiConfig() huma.Config {
	config := huma.DefaultConfig("Revidit", s.Version)
	config.Info.Description = "Determination review for insect collections. A determination is never overwritten, only followed by another. " +
		"Every error is a problem of RFC 9457."
	config.Servers = []*huma.Server{{URL: apiPrefix}}
	// The document is served by registerDocument: huma builds it at the first request, without a lock.
	config.OpenAPIPath, config.DocsPath, config.SchemasPath, config.CreateHooks = "", "", "", nil
	config.Formats = map[string]huma.Format{"application/json": jsonFormat, "json": jsonFormat}
	config.RejectUnknownQueryParameters = true
	config.Components.SecuritySchemes = map[string]*huma.SecurityScheme{
		"bearer": {Type: "http", Scheme: "bearer", BearerFormat: "JWT", Description: "Token that POST /sessions gives, or that a curator has given to a machine"},
		"cookie": {Type: "apiKey", In: "cookie", Name: cookieName(s.Secure), Description: "Login of a browser, which the login page gives"},
	}
	config.OnAddOperation = append(config.OnAddOperation, tellPermission, func(_ *huma.OpenAPI, o *huma.Operation) {
		delete(o.Responses, "422") // huma's own for bad input; here that is 400
		if conflict, ok := o.Responses[statusText(http.StatusConflict)]; ok && o.Metadata[blindName] != nil {
			conflict.Description = http.StatusText(http.StatusConflict) + "; or the caller is drawn to look blind first (type " + blindType + ")"
		}
	})
	return config
}

// jsonFormat is JSON that must be text: UTF-8 (RFC 8259 section 8.1) without the character zero, which databases refuse.
var jsonFormat = huma.Format{Marshal: huma.DefaultJSONFormat.Marshal, Unmarshal: func(data []byte, v any) error {
	if !utf8.Valid(data) {
		return errors.New("is not UTF-8")
	}
	if err := json.Unmarshal(data, v); err != nil {
		return fmt.Errorf("is not the JSON that is asked for: %w", err)
	}
	// huma decodes everything into an untyped value first, to validate it.
	if untyped, ok := v.(*any); ok && holdsZero(*untyped) {
		return errors.New("contains the character zero")
	}
	return nil
}}

func holdsZero(v any) bool {
	switch v := v.(type) {
	case string:
		return strings.ContainsRune(v, 0)
	case []any:
		for _, item := range v {
			if holdsZero(item) {
				return true
			}
		}
	case map[string]any:
		for key, item := range v {
			if holdsZero(key) || holdsZero(item) {
				return true
			}
		}
	}
	return false
}

// registerDocument serves the OpenAPI document, built from the Go types when it is first asked for: building it takes longer
// than all other steps of a start together.
func (a *api) registerDocument(group *gin.RouterGroup) {
	asJSON := sync.OnceValues(func() ([]byte, error) { return json.Marshal(a.doors.OpenAPI()) })
	asYAML := sync.OnceValues(a.doors.OpenAPI().YAML)
	group.GET("/openapi.json", a.sendDocument("application/openapi+json", asJSON))
	group.GET("/openapi.yaml", a.sendDocument("application/openapi+yaml", asYAML))
}

func (a *api) sendDocument(contentType string, build func() ([]byte, error)) gin.HandlerFunc {
	return func(c *gin.Context) {
		text, err := build()
		if err != nil {
			a.fail(c, fmt.Errorf("web: OpenAPI document: %w", err))
			return
		}
		c.Data(http.StatusOK, contentType, text)
	}
}

// loggedIn marks an operation that somebody must be logged in for.
var loggedIn = []map[string][]string{{"bearer": {}}, {"cookie": {}}}

func (a *api) requireLogin(ctx huma.Context, next func(huma.Context)) {
	c := humagin.Unwrap(ctx)
	if len(ctx.Operation().Security) > 0 && !a.somebody(c) {
		return
	}
	next(ctx)
}

// somebody says whether anybody is logged in, and answers 401 where nobody is.
func (a *api) somebody(c *gin.Context) bool {
	if actorOf(c).Person != "" {
		if s := a.Server; s.needsSecond(c) && !strings.HasPrefix(c.FullPath(), apiPrefix+"/me") && c.FullPath() != apiPrefix+"/sessions" {
			a.fail(c, review.Errorf(review.KindForbidden, "This server asks curators for a second factor, and your login has none. Nothing was changed; set one up on the page My login."))
			return false
		}
		return true
	}
	a.fail(c, review.Errorf(review.KindUnknownActor, "You are not logged in, or the login has ended. Nothing was changed; get a token from POST %s/sessions and send it as a bearer token.", apiPrefix))
	return false
}

// operation describes a route for somebody who is logged in, with the errors that every such route can have.
func operation(method, path, id, tag, summary string, errs ...int) huma.Operation {
	common := []int{http.StatusBadRequest, http.StatusUnauthorized, http.StatusServiceUnavailable}
	if method != http.MethodGet {
		common = append(common, http.StatusInsufficientStorage)
	}
	if method == http.MethodPost || method == http.MethodPut {
		common = append(common, http.StatusTooManyRequests) // bodies of one address at once
	}
	return huma.Operation{Method: method, Path: path, OperationID: id, Tags: []string{tag}, Summary: summary, Security: loggedIn,
		DefaultStatus: http.StatusOK, MaxBodyBytes: maxTextBody, Errors: append(common, errs...)}
}

// reading describes a route for reading one thing that has an ETag.
func reading(path, id, tag, summary string, errs ...int) huma.Operation {
	o := operation(http.MethodGet, path, id, tag, summary, append(errs, http.StatusPreconditionFailed)...)
	o.Responses = map[string]*huma.Response{"304": {Description: http.StatusText(http.StatusNotModified)}}
	return o
}

// hiding marks an operation that shows nothing to a caller who is to look blind first: it answers 409 then.
func hiding(o huma.Operation) huma.Operation {
	if !slices.Contains(o.Errors, http.StatusConflict) {
		o.Errors = append(o.Errors, http.StatusConflict)
	}
	o.Metadata = map[string]any{blindName: true}
	return o
}

// Caller is who calls, and from where.
type Caller struct {
	actor   review.Actor
	login   string
	address string
	token   string // by which the caller is logged in
	base    string // where the pages are found
}

func (c *Caller) sender() review.Actor { return c.actor }

// Resolve takes the caller from the request.
func (c *Caller) Resolve(ctx huma.Context) []error {
	from := humagin.Unwrap(ctx)
	c.actor, c.login, c.address = actorOf(from), from.GetString(keyLogin), from.ClientIP()
	s := from.MustGet(keyServer).(*Server)
	c.token, c.base = s.tokenOf(from), s.baseURL(from)
	return nil
}

// Conditions are the preconditions of a request.
type Conditions struct {
	IfMatch     string `json:"-" header:"If-Match" doc:"ETag, or the version in double quotes, on which the change was decided; otherwise 412 and nothing is changed. Of a submission its evidence counts, which is what stands in the ETag before the hyphen: what others have said of it since makes nothing stale, and the number of the last event that was seen (seq; a draft has none) will do as well. Without it, or with *, any version will do"`
	IfNoneMatch string `json:"-" header:"If-None-Match" doc:"ETag that the client has already: 304 where it is still the present one"`
	method      string
}

// Resolve joins headers that were sent in several lines (RFC 9110 section 5.3).
func (c *Conditions) Resolve(ctx huma.Context) []error {
	r := humagin.Unwrap(ctx).Request
	c.method = r.Method
	c.IfMatch = strings.Join(r.Header.Values("If-Match"), ", ")
	c.IfNoneMatch = strings.Join(r.Header.Values("If-None-Match"), ", ")
	return nil
}

// version is what a change was decided on: review.AnyVersion where the client does not say. current reads the present
// version and its tags; the service compares the version again when it writes.
func (c *Conditions) version(current func() (int, []entityTag, error)) (int, error) {
	if c.IfMatch == "" && c.IfNoneMatch == "" {
		return service.AnyVersion, nil
	}
	version, tags, err := current()
	if err != nil {
		return 0, err
	}
	match, err := parseTags("If-Match", c.IfMatch)
	if err != nil {
		return 0, err
	}
	if match != nil {
		for i := range match.tags {
			match.tags[i] = match.tags[i].onEvidence()
		}
	}
	result, err := conditions(c.method, match, c.IfNoneMatch, tags...)
	if err != nil {
		return 0, err
	}
	if result != perform {
		return 0, errStale()
	}
	if c.IfMatch == "" {
		return service.AnyVersion, nil
	}
	return version, nil
}

// reading says with which status a present view is to be answered: 200, or 304 where the client has it.
func (c *Conditions) reading(tags ...entityTag) (int, error) {
	result, err := precondition(c.method, c.IfMatch, c.IfNoneMatch, tags...)
	if err != nil {
		return 0, err
	}
	switch result {
	case notModified:
		return http.StatusNotModified, nil
	case failed:
		return 0, errStale()
	}
	return http.StatusOK, nil
}
