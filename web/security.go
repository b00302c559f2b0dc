package web

import (
	"context"
	"log/slog"

	"github.com/gin-gonic/gin"

	"revidit/auth"
)

// security writes the one kind of line that tells of logins and of what was refused: who (the login of an account, empty
// where there is none), from which address, and the request where it is known. No password, token or text of a request
// is in it.
func (s *Server) security(level slog.Level, event, account, address, request string) {
	s.Log.Log(context.Background(), level, "security", "event", event, "account", account, "address", address, "request_id", request)
}

// attempted logs an attempt to log in.
func (s *Server) attempted(a auth.Attempt) {
	level := slog.LevelWarn
	if a.Outcome == auth.LoggedIn {
		level = slog.LevelInfo
	}
	s.security(level, string(a.Outcome), a.Login, a.Address, "")
}

// ended logs that a request came with a token by which nobody is logged in: whose it was, if it was ever one of ours.
func (s *Server) ended(c *gin.Context, token string) {
	login, ours, err := s.Accounts.Formerly(c.Request.Context(), token)
	if err != nil {
		s.fail(c, err)
		return
	}
	event := "login has ended"
	if !ours {
		event = "unknown token"
	}
	s.security(slog.LevelWarn, event, login, c.ClientIP(), requestID(c))
}

// refused logs that a request was refused to whoever acts in it.
func (s *Server) refused(c *gin.Context, event string) {
	s.security(slog.LevelWarn, event, c.GetString(keyLogin), c.ClientIP(), requestID(c))
}
