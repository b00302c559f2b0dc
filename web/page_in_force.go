package web

import (
	"context"

	"revidit/review"
)

// releasesInForce are the releases in force that were published here, one of a group at most.
func (s *Server) releasesInForce(ctx context.Context) ([]review.Release, error) {
	judges, err := s.Service.Groups(ctx)
	if err != nil {
		return nil, err
	}
	var found []review.Release
	for _, j := range judges {
		releases, _, err := s.Service.Releases(ctx, j.Tables().Group.ID)
		if err != nil {
			return nil, err
		}
		if len(releases) > 0 {
			found = append(found, releases[0])
		}
	}
	return found, nil
}
