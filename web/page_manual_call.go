package web

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
)

// call is an example of an operation for a shell: what has to be there, and no more.
func (m manual) call(o *huma.Operation) (string, error) {
	lines := []string{"curl"}
	if o.Method != "GET" {
		lines[0] += " -X " + o.Method
	}
	path, query := o.Path, url.Values{}
	for _, p := range o.Parameters {
		switch {
		case p.In == "path":
			path = strings.ReplaceAll(path, "{"+p.Name+"}", "$"+strings.ToUpper(p.Name))
		case p.In == "query" && p.Required:
			query.Set(p.Name, fmt.Sprint(m.exampleOf(p.Schema, 0)))
		case p.Name == idempotencyHeader:
			lines = append(lines, `-H "`+idempotencyHeader+`: $(uuidgen)"`)
		}
	}
	if len(query) > 0 {
		path += "?" + query.Encode()
	}
	lines[0] += ` "$REVIDIT` + apiPrefix + path + `"`
	if len(o.Security) > 0 {
		lines = append(lines, `-H "Authorization: Bearer $TOKEN"`)
	}
	body, err := m.sent(o)
	if err != nil {
		return "", err
	}
	return strings.Join(append(lines, body...), " \\\n  "), nil
}

// sent are the arguments that send a body.
func (m manual) sent(o *huma.Operation) ([]string, error) {
	if o.RequestBody == nil {
		return nil, nil
	}
	content := o.RequestBody.Content
	if body := content["application/json"]; body != nil {
		text, known := manualBodies[o.OperationID]
		if !known {
			least, err := json.Marshal(m.exampleOf(body.Schema, 0))
			if err != nil {
				return nil, err
			}
			text = string(least)
		}
		return []string{`-H "Content-Type: application/json"`, "-d " + quotedBody(text)}, nil
	}
	media := slices.Min(slices.Collect(maps.Keys(content)))
	media = strings.Replace(media, "image/*", "image/jpeg", 1)
	return []string{`-H "Content-Type: ` + media + `"`, `--data-binary "@$FILE"`}, nil
}

// deepest is how deep an example goes into what is made of itself.
const deepest = 6

// exampleOf is the least that a schema takes: what has to be there, with the first choice or the least number.
func (m manual) exampleOf(s *huma.Schema, depth int) any {
	if s.Ref != "" {
		s = m.things[thingName(s.Ref)]
	}
	switch {
	case depth > deepest:
		return nil
	case len(s.Examples) > 0:
		return s.Examples[0]
	case len(s.Enum) > 0:
		return s.Enum[0]
	case s.Default != nil:
		return s.Default
	}
	switch s.Type {
	case "object":
		return m.exampleObject(s, depth)
	case "array":
		list := []any{}
		for range deref(s.MinItems) {
			list = append(list, m.exampleOf(s.Items, depth+1))
		}
		return list
	case "integer", "number":
		return max(deref(s.Minimum), 0)
	case "boolean":
		return false
	case "string":
		return exampleText(s)
	}
	return nil
}

func (m manual) exampleObject(s *huma.Schema, depth int) map[string]any {
	object := map[string]any{}
	for _, name := range s.Required {
		object[name] = m.exampleOf(s.Properties[name], depth+1)
	}
	return object
}

func exampleText(s *huma.Schema) string {
	switch s.Format {
	case "date-time":
		return "2026-05-14T12:00:00Z"
	case "date":
		return "2026-05-14"
	}
	text := "…"
	for len([]rune(text)) < deref(s.MinLength) {
		text += "…"
	}
	return text
}

// deref is what a pointer leads to, or zero.
func deref[T any](p *T) (v T) {
	if p != nil {
		v = *p
	}
	return v
}
