// Package static holds the files that pages need besides their HTML: stylesheets and scripts, all our own, with no other
// origin involved. Every page has style.css and pages.js; forms have forms.js, and that on which a submission is judged has
// bench.css and bench.js too; what is told of the queue while somebody looks at it has live.js, what asks for a passkey passkeys.js, what shows the tool to whoever is new has visit.css, and the manual of the API manual.css.
package static

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"net/http"
	"path"
	"strings"
	"time"
)

//go:embed *.css *.js
var files embed.FS

// tags are the first 16 hex digits of the SHA-256 of each file, by name.
var tags = tagsOf(files)

func tagsOf(files embed.FS) map[string]string {
	made := map[string]string{}
	entries, err := files.ReadDir(".")
	if err != nil {
		panic(err) // embedded above: cannot be missing
	}
	for _, entry := range entries {
		data, err := files.ReadFile(entry.Name())
		if err != nil {
			panic(err) // as above
		}
		sum := sha256.Sum256(data)
		made[entry.Name()] = hex.EncodeToString(sum[:8])
	}
	return made
}

// URL is the address of a file with its content tag, so that a browser may keep it for ever.
func URL(name string) string {
	return "/static/" + name + "?v=" + tags[name]
}

// Handler serves the files below /static/.
func Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := path.Base(r.URL.Path)
		tag, ok := tags[name]
		data, err := files.ReadFile(name)
		if !ok || err != nil || strings.TrimPrefix(r.URL.Path, "/static/") != name {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Vary", "Accept-Encoding") // the same for everybody: neither a login nor a cookie makes a browser fetch it again
		w.Header().Set("ETag", `"`+tag+`"`)
		w.Header().Set("Cache-Control", "no-cache")
		if r.URL.Query().Get("v") == tag {
			w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
		}
		http.ServeContent(w, r, name, time.Time{}, bytes.NewReader(data))
	})
}
