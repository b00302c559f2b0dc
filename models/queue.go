package models

import (
	"context"
	"fmt"
	"maps"
	"math"
	"time"

	"revidit/review"
	"revidit/review/service"
)

// queuePosition is where a page of FindQueue has ended, in both orders that it goes by. It carries the weights of the
// first page, so that all pages are cut from one order.
type queuePosition struct {
	Weights map[string]float64 `json:"weights,omitempty"`
	Given   int                `json:"given"` // places of the present five that are given, 0 to 4
	Gain    *mark              `json:"gain,omitempty"`
	Wait    *mark              `json:"wait,omitempty"`
}

// Of placesOfRound places the last one goes to who has waited longest.
const placesOfRound = 5

func (p *queuePosition) valid() bool {
	for region, weight := range p.Weights {
		if !storable(region) || !validWeight(weight) {
			return false
		}
	}
	return len(p.Weights) <= maxWeights && p.Given >= 0 && p.Given < placesOfRound && (p.Gain != nil || p.Wait != nil) && p.Gain.valid() && p.Wait.valid()
}

// maxWeights is more than there are regions of a body.
const maxWeights = 100

func validWeight(w float64) bool { return w >= 0 && !math.IsInf(w, 1) }

// FindQueue implements review.Reader. What somebody holds at AsOf stays in the list, with HeldBy and HeldUntil. Weights
// of a cursor take the place of those of the filter.
func (db *DB) FindQueue(ctx context.Context, f service.QueueFilter, page service.Page) ([]service.QueueLine, string, error) {
	if err := checkSize(page); err != nil {
		return nil, "", err
	}
	if err := checkQueueFilter(f); err != nil {
		return nil, "", err
	}
	at := queuePosition{Weights: telling(f.Weights)}
	if page.Cursor != "" {
		at = queuePosition{}
		if err := decodeCursor(page.Cursor, &at); err != nil {
			return nil, "", err
		}
	}
	w, err := db.weaving(ctx, f, at, page.Size)
	if err != nil {
		return nil, "", fmt.Errorf("list the queue: %w", err)
	}
	lines, next := []service.QueueLine{}, ""
	for {
		before := w.at
		line, err := w.next()
		if err != nil {
			return nil, "", fmt.Errorf("list the queue: %w", err)
		}
		if line == nil {
			return lines, "", nil
		}
		if len(lines) == page.Size {
			next, err = encodeCursor(before)
			return lines, next, err
		}
		lines = append(lines, line.fromRow(f.AsOf))
	}
}

func checkQueueFilter(f service.QueueFilter) error {
	err := checkFilter("viewer", f.Viewer, "group", f.Group, "family", f.Family, "trip", f.Trip, "drawer", f.Drawer, "families", string(f.Families), "machines", string(f.Machines))
	if err != nil {
		return err
	}
	if len(f.Weights) > maxWeights {
		return review.Invalidf("weights", "at most %d regions", maxWeights)
	}
	for region, weight := range f.Weights {
		if !storable(region) || !validWeight(weight) {
			return review.Invalidf("weights", "%q has a weight of %v; it must be a number from 0", region, weight)
		}
	}
	return nil
}

// telling leaves out weights that change nothing, which keeps cursors short.
func telling(weights map[string]float64) map[string]float64 {
	weights = maps.Clone(weights)
	maps.DeleteFunc(weights, func(_ string, weight float64) bool { return weight == 1 })
	return weights
}

// weaving gives the places of the queue one after another.
type weaving struct {
	at        queuePosition
	byGain    *ordered
	byWaiting *ordered
}

func (db *DB) weaving(ctx context.Context, f service.QueueFilter, at queuePosition, size int) (*weaving, error) {
	names, err := db.queueLists(ctx, f)
	if err != nil {
		return nil, err
	}
	gains, waiting := db.merge(ctx, f), db.merge(ctx, f)
	for _, name := range names {
		kind, group, region := listParts(name)
		switch {
		case f.Group != "" && group != f.Group, kind == listRecheck && !asksForPanel(f):
		case kind == listGain:
			gains.add(name, weightOf(at.Weights, region), at.Gain)
		default:
			waiting.add(name, 1, at.Wait)
		}
	}
	// One more than the page shows whether there is a next one.
	gains.chunk, waiting.chunk = size+1, size/placesOfRound+2
	return &weaving{at: at, byGain: &ordered{merged: gains, weights: at.Weights}, byWaiting: &ordered{merged: waiting, weights: at.Weights}}, nil
}

// asksForPanel: that a family's queue holds a recheck would tell the name.
func asksForPanel(f service.QueueFilter) bool { return f.Rechecks && f.Family == "" }

// weightOf is the weight of a region; a gain of the whole specimen has none.
func weightOf(weights map[string]float64, region string) float64 {
	if weight, named := weights[region]; named && region != "" {
		return weight
	}
	return 1
}

// next is the one that has the next place, or nil at the end. Whoever has got a place in one order is passed over in the
// other: an order has given all that stand before its mark.
func (w *weaving) next() (*candidate, error) {
	var c *candidate
	var err error
	if w.at.Given < placesOfRound-1 {
		c, err = w.byGain.next(func(c *candidate) bool { return c.gain.passed(w.at.Gain) || c.wait.passed(w.at.Wait) })
	}
	if c != nil {
		w.at.Gain = &c.gain
	}
	if c == nil && err == nil {
		c, err = w.byWaiting.next(func(c *candidate) bool {
			return c.wait.passed(w.at.Wait) || c.gain.Urgency > 0 && c.gain.passed(w.at.Gain)
		})
		if c != nil {
			w.at.Wait, c.longest = &c.wait, true
		}
	}
	w.at.Given = (w.at.Given + 1) % placesOfRound
	return c, err
}

func (c *candidate) fromRow(asOf time.Time) service.QueueLine {
	line := c.line.fromRow()
	if c.line.HoldUntil == nil || !c.line.HoldUntil.After(asOf) {
		line.HeldBy, line.HeldUntil = "", nil
	}
	return service.QueueLine{SubmissionLine: line, Gain: c.gain.Urgency, Region: c.region, Recheck: c.line.RecheckOpen,
		WaitsSince: timeOfUnix(-c.wait.Urgency), LongestWaiting: c.longest, OwnName: c.line.OwnName && !c.line.RecheckOpen}
}
