package web

import (
	"net/http"
	"slices"
	"strings"
)

// Addresses are the routes that answer GET outside the API, as gin writes them (":id" is one part of an address), in order.
// Whoever walks over all pages compares a list with them. It fails on a configuration that New refuses.
func Addresses(c Config) ([]string, error) {
	s, err := newServer(c)
	if err != nil {
		return nil, err
	}
	r, err := s.engine()
	if err != nil {
		return nil, err
	}
	var found []string
	for _, route := range r.Routes() {
		if route.Method == http.MethodGet && !strings.HasPrefix(route.Path, apiPrefix) {
			found = append(found, route.Path)
		}
	}
	slices.Sort(found)
	return found, nil
}
