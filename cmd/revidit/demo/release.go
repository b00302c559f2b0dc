package demo

import (
	"context"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// counted is a change of the tables that was made in haste: the club counted in a few drawers of its own, and what it now holds to be
// less common was seen on names that stand. Invented, as its reason is.
var counted = diagnosis.CellEdit{Family: "Elateridae", Character: "ventrites",
	States: []diagnosis.StateWord{{State: "6", Word: "usually"}, {State: "5", Word: "often"}, {State: "rest", Word: "never"}}}

// proposed is another one, which waits.
var proposed = diagnosis.CellEdit{Family: "Melyridae", Character: "ventrites",
	States: []diagnosis.StateWord{{State: "6", Word: "usually"}, {State: "5", Word: "often"}, {State: "7", Word: "sometimes"}, {State: "rest", Word: "never"}}}

// release changes a cell, which puts names that stand in doubt, and proposes another change.
func (c Club) release(ctx context.Context, curator review.Actor) error {
	judge, err := c.Service.Judge(ctx, "")
	if err != nil {
		return err
	}
	group := judge.Tables().Group
	made, err := c.Service.ProposeCell(ctx, curator, group.ID, counted, "Six plates were counted on three of the four in drawer B2.")
	if err != nil {
		return err
	}
	if _, err := c.Service.DecideCell(ctx, curator, made.ID, service.AnyVersion, review.ProposalApproved,
		"The club has one curator; shown to the section on its September evening."); err != nil {
		return err
	}
	if _, err := c.Service.Publish(ctx, curator, service.NextRelease{Group: group.ID, Version: group.Release + "-quernholm", Base: judge.Tables().Hash,
		Notes: "Click beetles: the number of plates, as counted in the section's drawers."}); err != nil {
		return err
	}
	if _, err := c.Service.ProposeCell(ctx, curator, group.ID, proposed, "Seven of thirty in the trap series have five."); err != nil {
		return err
	}
	return c.Service.CatchUp(ctx) // what is open is assessed with the new tables on that day
}
