// Package web is the HTTP door of Revidit: pages for people and a JSON API for programs, both over one
// review.Service. It parses requests, says who acts, and turns answers and errors into HTTP; it decides nothing about
// submissions and knows no database.
package web

import (
	"cmp"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"revidit/auth"
	"revidit/review"
	"revidit/review/photo"
	"revidit/review/service"
	"revidit/web/pages"
)

// Config is what the server needs from the program.
type Config struct {
	Service  *service.Service
	Accounts *auth.Accounts
	// Secure sends the cookie over HTTPS only, whether it is seen that a request came so or not. False only for a
	// demonstration over plain HTTP.
	Secure bool
	// Log takes one line a request, and faults; nil is slog.Default.
	Log *slog.Logger
	// Security takes a line of each login and logout, of what was refused, of what was done to accounts, and of files that left
	// the house; nil is Log.
	Security *slog.Logger
	// TrustedProxies are addresses or networks (CIDR) whose X-Forwarded-For and X-Forwarded-Proto are believed; nobody's
	// where empty.
	TrustedProxies []string
	// Origins are further origins ("https://beetles.example") from which browsers may change things: those of a proxy
	// that rewrites the Host header.
	Origins []string
	// MostConnections and MostBodies bound what one address has at a time; 0 is DefaultConnections and DefaultBodies.
	MostConnections, MostBodies int
	// UploadsPerMinute and DraftsPerMinute bound how often somebody sends files and saves drafts; 0 is DefaultUploads and
	// DefaultDrafts.
	UploadsPerMinute, DraftsPerMinute int
	// Timeout bounds the work on one request; 0 means a minute.
	Timeout time.Duration
	// SecondFactor is SecondAsked or SecondRequired of curators; empty is SecondAsked.
	SecondFactor string
	// PublicURL is where the pages are found, such as https://beetles.example, without a slash at its end; empty: where each request has
	// found them.
	PublicURL string
	// Invented are logins of a made-up club, offered on the login page with one press each; none elsewhere.
	Invented []pages.InventedLogin
	// Version of the program, for the OpenAPI document; empty is "unversioned".
	Version string
}

// Limits on request bodies, in bytes. A photo may come with the other fields of its form.
const (
	maxTextBody  = 1 << 20
	photoSurplus = 1 << 20
)

// Server is the receiver of all handlers.
type Server struct {
	Config
	origins *http.CrossOriginProtection
	proxies networks
	bodies  *crowd
	rare    map[string]*oftenness // by method and route
	pulse   pulse
	// document is that of the API, once it is registered; tests look at it.
	document *huma.OpenAPI
	live     *live
	// problemPage shows an error to a person; registerPages sets it. Where it is nil, errors are plain text.
	problemPage func(c *gin.Context, p *Problem)
}

func init() {
	// gin's debug mode prints every route and is switched for the whole process, so it is done once.
	gin.SetMode(gin.ReleaseMode)
}

// New returns a server of all pages and of the API, with the timeouts and bounds that a service open to the internet needs:
// a slow sender is cut off, a photo over a slow line is not. It fails on a configuration that it cannot use.
func New(c Config) (*http.Server, error) {
	s, err := newServer(c)
	if err != nil {
		return nil, err
	}
	r, err := s.engine()
	if err != nil {
		return nil, err
	}
	handler, err := around(r)
	if err != nil {
		return nil, err
	}
	server := &http.Server{Handler: handler, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 3 * time.Minute,
		WriteTimeout: 4 * time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 32 << 10, ConnState: s.boundConnections()}
	server.RegisterOnShutdown(s.live.close)
	return server, nil
}

// around is what stands between a connection and the routes.
func around(routes http.Handler) (http.Handler, error) {
	small, err := compressed(routes)
	return headAsGet(small), err
}

// headAsGet lets every address that answers GET answer HEAD; net/http leaves the body out.
func headAsGet(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead {
			// A copy: net/http looks at the original to know that it must send no body.
			asGet := *r
			asGet.Method = http.MethodGet
			r = &asGet
		}
		next.ServeHTTP(w, r)
	})
}

func newServer(c Config) (*Server, error) {
	if c.Service == nil || c.Accounts == nil {
		return nil, fmt.Errorf("web: a service and accounts are needed")
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	if c.Security == nil {
		c.Security = c.Log
	}
	if c.Timeout == 0 {
		c.Timeout = time.Minute
	}
	if c.Version == "" {
		c.Version = "unversioned"
	}
	if c.MostConnections < 0 || c.MostBodies < 0 {
		return nil, fmt.Errorf("web: bounds for one address are positive")
	}
	c.MostConnections, c.MostBodies = cmp.Or(c.MostConnections, DefaultConnections), cmp.Or(c.MostBodies, DefaultBodies)
	s := &Server{Config: c, origins: http.NewCrossOriginProtection(), bodies: newCrowd(c.MostBodies)}
	s.live = newLive(c.Service, func(err error) { c.Log.Error("what moves in the queue cannot be read", "error", err.Error()) })
	var err error
	if s.rare, err = rarely(cmp.Or(c.UploadsPerMinute, DefaultUploads), cmp.Or(c.DraftsPerMinute, DefaultDrafts)); err != nil {
		return nil, err
	}
	if s.proxies, err = networksOf(c.TrustedProxies); err != nil {
		return nil, fmt.Errorf("web: trusted proxies: %w", err)
	}
	c.Accounts.Watch(s.attempted)
	c.Accounts.WatchChanges(s.changed)
	for _, origin := range c.Origins {
		if err := s.origins.AddTrustedOrigin(origin); err != nil {
			return nil, fmt.Errorf("web: trusted origin: %w", err)
		}
	}
	return s, nil
}

func (s *Server) engine() (*gin.Engine, error) {
	r := gin.New()
	if err := r.SetTrustedProxies(s.TrustedProxies); err != nil {
		return nil, fmt.Errorf("web: trusted proxies: %w", err)
	}
	// Redirects are answered before any middleware runs, so they would escape it.
	r.RedirectTrailingSlash = false
	r.HandleMethodNotAllowed = true
	r.Use(s.identify, s.record, s.rescue, s.speak, s.harden, s.checkOrigin, s.bound, s.refuseBadText, s.resolveActor, know, s.tell, s.seldom)
	r.NoRoute(func(c *gin.Context) {
		s.fail(c, review.Errorf(review.KindNotFound, "There is nothing at this address."))
	})
	r.NoMethod(func(c *gin.Context) {
		s.failWith(c, newProblem(http.StatusMethodNotAllowed, "This address does not do that."))
	})
	r.GET(healthPath, s.health)
	s.registerAPI(r)
	s.registerPages(r)
	return r, checkRoutes(r)
}

// bodyLimit is how large the body of a request may be, in bytes. A form of a page brings all photos of a submission; it
// is read part by part, and each photo is held to its own limit.
func bodyLimit(r *http.Request) int64 {
	switch {
	case carriesArchive(r) && strings.HasPrefix(r.URL.Path, apiPrefix+"/intakes"):
		return service.MostIntake + 1
	case carriesTable(r) && r.URL.Path == apiPrefix+"/intakes":
		return service.MostInventory + 1
	case carriesArchive(r):
		return maxArchive
	case !carriesPhotos(r):
		return maxTextBody
	case !isForm(r):
		return photo.DefaultLimits.Bytes
	case strings.HasPrefix(r.URL.Path, "/api/"):
		return photo.DefaultLimits.Bytes + photoSurplus
	}
	return maxFormPhotos*photo.DefaultLimits.Bytes + photoSurplus
}

func isForm(r *http.Request) bool {
	return strings.HasPrefix(strings.ToLower(r.Header.Get("Content-Type")), "multipart/form-data")
}

func carriesTable(r *http.Request) bool {
	media, _, _ := strings.Cut(strings.ToLower(r.Header.Get("Content-Type")), ";")
	return isTable(strings.TrimSpace(media))
}

func carriesPhotos(r *http.Request) bool {
	media := strings.ToLower(r.Header.Get("Content-Type"))
	return isForm(r) || strings.HasPrefix(media, "image/") || strings.HasPrefix(media, "application/octet-stream")
}
