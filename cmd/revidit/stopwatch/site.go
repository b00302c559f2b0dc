// Package stopwatch measures what people wait for: pages and acts of two sites side by side, a small one and one that
// has grown a hundredfold, and how many submits a second the service gets out of a database.
package stopwatch

import (
	"cmp"
	"context"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"time"

	"revidit/auth"
	"revidit/cmd/revidit/collection"
	"revidit/models"
	"revidit/review"
	"revidit/review/service"
)

// Site is a service over a filled database.
type Site struct {
	Submissions int
	DB          *models.DB
	Service     *service.Service
	Accounts    *auth.Accounts
	Handler     http.Handler
	Moulds      *collection.Moulds
	Password    string // of everybody

	dice    *rand.Rand
	actors  map[string]review.Actor // by login
	cookies map[string]*http.Cookie
	waiting []string // open submissions that nobody has reviewed here yet
}

// logIn lets the people in who look at pages.
func (s *Site) logIn(ctx context.Context) error {
	s.dice = rand.New(rand.NewPCG(uint64(s.Submissions), uint64(time.Now().UnixNano()))) // a collection may be measured again
	s.actors, s.cookies = map[string]review.Actor{}, map[string]*http.Cookie{}
	for _, login := range []string{curator, reviewer, otherReviewer, member} {
		token, actor, err := s.Accounts.Login(ctx, login, s.Password, "192.0.2.1")
		if err != nil {
			return fmt.Errorf("log in as %s: %w", login, err)
		}
		s.actors[login], s.cookies[login] = actor, &http.Cookie{Name: "revidit", Value: token}
	}
	return nil
}

// The people who look.
const (
	curator       = "curator-1"
	reviewer      = "reviewer-1"
	otherReviewer = "reviewer-2"
	member        = "member-1"
)

// answer is what a page came to.
type answer struct {
	took   time.Duration
	status int
	bytes  int
}

// get asks for a page as a person's browser does, without a network between.
func (s *Site) get(ctx context.Context, login, address string) answer {
	request := httptest.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	request.AddCookie(s.cookies[login])
	response := httptest.NewRecorder()
	began := time.Now()
	s.Handler.ServeHTTP(response, request)
	return answer{took: time.Since(began), status: response.Code, bytes: response.Body.Len()}
}

// Pair is the same site before and after it has grown.
type Pair struct {
	Small, Large *Site
	Rounds       int // of each measurement at most, at least 1
}

// Line is one thing that was measured on both sites of a pair.
type Line struct {
	Kind         string // of Kinds
	What         string
	Small, Large time.Duration // medians
	Rounds       int
	// SmallBytes and LargeBytes are how long the pages are: a short first page is not as much work as a full one.
	SmallBytes, LargeBytes int
	// Fault says what is wrong with the figure, such as a page that was not shown.
	Fault string
}

// Growth is how many times as long it takes on the large site.
func (l Line) Growth() float64 { return l.Large.Seconds() / l.Small.Seconds() }

// Kinds are what growth is told of, in the order of the figures.
var Kinds = []string{"queue", "list", "search", "home", "figures", "act"}

// Worst is the line of a kind that grows most.
func Worst(lines []Line, kind string) (Line, bool) {
	of := slices.DeleteFunc(slices.Clone(lines), func(l Line) bool { return l.Kind != kind })
	if len(of) == 0 {
		return Line{}, false
	}
	return slices.MaxFunc(of, func(a, b Line) int { return cmp.Compare(a.Growth(), b.Growth()) }), true
}

// Median is the middle one of some times, of which there is one at least; it sorts them.
func Median(times []time.Duration) time.Duration {
	slices.Sort(times)
	return times[len(times)/2]
}
