package web

import (
	"context"
	"fmt"
	"net/http"
	"net/netip"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/auth"
)

// Names of the cookie that holds the login token of a browser. A browser takes one with the prefix from this very host over
// TLS alone, so that no neighbouring host and nobody on the way can put another login there (RFC 6265bis section 4.1.3).
const (
	plainCookie = "revidit"
	hostCookie  = "__Host-" + plainCookie
)

// clearsAtLogout is what a browser forgets of this site at logout. The cookie is taken back by itself: "cookies" would
// also clear those of every other host under the same registered name.
const clearsAtLogout = `"cache", "storage"`

// overTLS says whether the request came over TLS: here, or to a proxy that is believed and says so.
func (s *Server) overTLS(c *gin.Context) bool {
	if c.Request.TLS != nil {
		return true
	}
	scheme, _, _ := strings.Cut(c.GetHeader("X-Forwarded-Proto"), ",")
	return strings.EqualFold(strings.TrimSpace(scheme), "https") && s.proxies.contain(c.Request.RemoteAddr)
}

// secured says whether the login of a request is for HTTPS alone.
func (s *Server) secured(c *gin.Context) bool { return s.Secure || s.overTLS(c) }

func cookieName(secure bool) string {
	if secure {
		return hostCookie
	}
	return plainCookie
}

// outlast is how much longer than its token a cookie stays: so that it is known whose a form is that is sent after the token has
// run out.
const outlast = 7 * 24 * time.Hour

// setSession keeps a login in the browser for as long as its token lasts, and a while longer, when nobody acts by it any more. Lax, not Strict: a link in a mail must find
// its reader logged in.
func (s *Server) setSession(c *gin.Context, token string) {
	s.endFormer(c)
	s.sessionCookie(c, token, int((auth.TokenLife+outlast)/time.Second))
}

// endFormer ends the login that the browser had before another one takes its place.
func (s *Server) endFormer(c *gin.Context) {
	former, _ := c.Cookie(cookieName(s.secured(c)))
	if former == "" {
		return
	}
	if err := s.Accounts.Logout(c.Request.Context(), former); err != nil {
		s.Log.Error("a login that another one follows was not ended", "error", err.Error(), "request_id", requestID(c))
	}
}

// clearSession makes the browser forget the login.
func (s *Server) clearSession(c *gin.Context) { s.sessionCookie(c, "", -1) }

func (s *Server) sessionCookie(c *gin.Context, value string, maxAge int) {
	secure := s.secured(c)
	http.SetCookie(c.Writer, &http.Cookie{Name: cookieName(secure), Value: value, Path: "/", MaxAge: maxAge, HttpOnly: true,
		Secure: secure, SameSite: http.SameSiteLaxMode})
}

// tokenOf is the token that a request brings, or empty.
func (s *Server) tokenOf(c *gin.Context) string {
	token, bearer := bearerToken(c.GetHeader("Authorization"))
	if !bearer {
		token, _ = c.Cookie(cookieName(s.secured(c)))
	}
	return token
}

// accountOf is the account that acts by the token of a request: a program's in the header, a browser's in the cookie. Neither
// kind of token counts in the other's place.
func (s *Server) accountOf(ctx context.Context, c *gin.Context) (auth.Account, error) {
	token := s.tokenOf(c)
	if _, bearer := bearerToken(c.GetHeader("Authorization")); bearer {
		return s.Accounts.Program(ctx, token)
	}
	return s.Accounts.Account(ctx, token)
}

// bearerToken returns the token of an Authorization header, and whether the header has the scheme (RFC 6750 2.1; the
// scheme's case does not matter, RFC 9110 11.1).
func bearerToken(header string) (token string, ok bool) {
	scheme, token, found := strings.Cut(header, " ")
	if !found || !strings.EqualFold(scheme, "bearer") {
		return "", false
	}
	return strings.TrimSpace(token), true
}

// networks are addresses and networks.
type networks []netip.Prefix

// networksOf reads addresses and networks (CIDR).
func networksOf(texts []string) (networks, error) {
	var found networks
	for _, text := range texts {
		if address, err := netip.ParseAddr(text); err == nil {
			found = append(found, netip.PrefixFrom(address, address.BitLen()))
			continue
		}
		network, err := netip.ParsePrefix(text)
		if err != nil {
			return nil, fmt.Errorf("%q is neither an address nor a network", text)
		}
		found = append(found, network)
	}
	return found, nil
}

// contain says whether an address with its port, as a connection has it, is one of them.
func (n networks) contain(remote string) bool {
	from, err := netip.ParseAddrPort(remote)
	if err != nil {
		return false
	}
	for _, network := range n {
		if network.Contains(from.Addr().Unmap()) || network.Contains(from.Addr()) {
			return true
		}
	}
	return false
}
