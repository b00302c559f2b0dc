package web

import (
	"strings"

	"github.com/gin-gonic/gin"

	"revidit/auth"
)

// clientOf is from where a browser logs in.
func clientOf(c *gin.Context) auth.Client {
	return auth.Client{Address: c.ClientIP(), Browser: browserOf(c.GetHeader("User-Agent"))}
}

// agentWord is a word that a browser says of itself, and what that stands for.
type agentWord struct{ said, is string }

// Browsers also name those that they are built like (RFC 9110 section 10.1.5), so that the first one found counts.
var (
	browsers = []agentWord{{"Edg", "edge"}, {"OPR/", "opera"}, {"Firefox/", "firefox"}, {"FxiOS/", "firefox"}, {"CriOS/", "chrome"}, {"Chrome/", "chrome"},
		{"Chromium/", "chrome"}, {"Safari/", "safari"}}
	systems = []agentWord{{"Android", "android"}, {"iPhone", "ios"}, {"iPad", "ios"}, {"CrOS", "chromeos"}, {"Windows", "windows"}, {"Mac OS X", "macos"}, {"Linux", "linux"}}
)

// browserOf is what a User-Agent says, as two of our own words, a browser and a system: nothing that was sent is stored. It is for a
// person to tell the own logins apart, and proves nothing. "other other" is any other browser, and empty one that says nothing.
func browserOf(agent string) string {
	if agent == "" {
		return ""
	}
	first := func(of []agentWord) string {
		for _, n := range of {
			if strings.Contains(agent, n.said) {
				return n.is
			}
		}
		return "other"
	}
	return first(browsers) + " " + first(systems)
}
