package service

import (
	"context"

	"revidit/review"
)

// EventHead is of an event what tells where it stands and what kind it is.
type EventHead struct {
	Position int64
	Stream   string
	Kind     string
	Actor    string
}

// Moved is something that happened to a line of the queue.
type Moved struct {
	Submission string           `json:"submission"`
	Move       review.QueueMove `json:"move"`
	Actor      string           `json:"-"`
}

// headsAtOnce bounds what one look brings: who has fallen further behind looks again.
const headsAtOnce = 500

// LastPosition is that of the latest event among all, 0 where there is none.
func (s *Service) LastPosition(ctx context.Context) (int64, error) { return s.store.LastPosition(ctx) }

// MovedAfter is what has moved in the queue behind a position among all events, and from which position to go on.
func (s *Service) MovedAfter(ctx context.Context, position int64) ([]Moved, int64, error) {
	heads, err := s.store.HeadsAfter(ctx, position, headsAtOnce)
	if err != nil {
		return nil, position, err
	}
	var moved []Moved
	for _, h := range heads {
		position = h.Position
		if submission, move, ok := review.MoveOf(h.Stream, h.Kind); ok {
			moved = append(moved, Moved{Submission: submission, Move: move, Actor: h.Actor})
		}
	}
	return moved, position, nil
}
