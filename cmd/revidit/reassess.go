package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

type reassessCommand struct {
	clubFlags
	As    string `help:"Login of the curator under whom it is recorded." required:"" placeholder:"LOGIN"`
	Group string `help:"Group of tables; empty: all, or with --table, --policy, --confidence or --reliability the first." placeholder:"ID"`

	Table       string  `help:"Tell what other tables would do to all that is settled: the version or hash of a release that was published, approved (the approved changes), or a folder of tables." placeholder:"NEW"`
	Policy      string  `help:"The same of another policy: the version of one that was in force, or a file with one as JSON." placeholder:"N|FILE"`
	Confidence  float64 `help:"The same of another least confidence." placeholder:"P"`
	Reliability *int    `help:"The same of another version of what is known of people." placeholder:"N"`
	Pick        []int   `help:"Open reviews of what these lines of the answer hold, by their numbers." placeholder:"LINE"`
	Reason      string  `help:"Why the reviews are opened." placeholder:"TEXT"`
}

// Validate checks what belongs together.
func (c *reassessCommand) Validate() error {
	if len(c.Pick) > 0 && (!c.asksWhatIf() || strings.TrimSpace(c.Reason) == "") {
		return errors.New("--pick goes with --reason and one of --table, --policy, --confidence and --reliability; nothing was changed")
	}
	return nil
}

func (c *reassessCommand) asksWhatIf() bool {
	return c.Table != "" || c.Policy != "" || c.Confidence != 0 || c.Reliability != nil
}

// Run assesses what waits for reviewers and was assessed with other tables than those in force; or tells what a change would do to what
// is settled, which changes nothing.
func (c *reassessCommand) Run(ctx context.Context, io console) error {
	return c.clubFlags.with(ctx, func(club club) error {
		actor, err := club.curator(ctx, c.As)
		if err != nil {
			return err
		}
		if c.asksWhatIf() {
			return c.tell(ctx, io, club, actor)
		}
		return c.assessOpen(ctx, io, club)
	})
}

func (c *reassessCommand) assessOpen(ctx context.Context, io console, club club) error {
	judges, err := club.service.Groups(ctx)
	if err != nil {
		return err
	}
	looked := false
	for _, j := range judges {
		group := j.Tables().Group
		if c.Group != "" && c.Group != group.ID {
			continue
		}
		looked = true
		done := 0
		count := func(step service.JobStep) { done += len(step.Batch.Submissions) }
		if err := club.service.Do(ctx, jobs.Reassess(group.ID, j.Tables().Hash), count); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "%s, release %s: %d %s assessed anew.\n", group.ID, group.Release, done, plural(done, "submission", "submissions"))
	}
	if !looked {
		return fmt.Errorf("there is no group %q of tables; nothing was changed. Run revidit tables list to see what there is", c.Group)
	}
	return nil
}

// tell works out what a change would do. Broken off, it goes on where it was when it is asked again.
func (c *reassessCommand) tell(ctx context.Context, io console, club club, actor review.Actor) error {
	form, err := c.form()
	if err != nil {
		return err
	}
	key, job, err := club.service.PrepareReassessment(ctx, actor, form)
	if err != nil {
		return err
	}
	progress := newProgress(io, "Weighed anew")
	if err := club.service.Do(ctx, job, func(step service.JobStep) { progress(step.Done, step.Total) }); err != nil {
		return fmt.Errorf("%w. Nothing was changed; the same command goes on where it was", err)
	}
	r, err := club.service.Reassessment(ctx, actor, c.Group, key)
	if err != nil {
		return err
	}
	names, err := club.service.NamesOf(ctx, r)
	if err != nil {
		return err
	}
	printReassessment(io, r, names)
	return c.open(ctx, io, club, actor, r)
}

func (c *reassessCommand) form() (service.ReassessmentForm, error) {
	form := service.ReassessmentForm{Group: c.Group, Release: c.Table, Confidence: c.Confidence, Reliability: c.Reliability}
	if info, err := os.Stat(c.Table); c.Table != "" && err == nil && info.IsDir() {
		form.Release, form.Folder = "", os.DirFS(c.Table)
	}
	if c.Policy == "" {
		return form, nil
	}
	if version, err := strconv.Atoi(c.Policy); err == nil {
		form.Policy = &version
		return form, nil
	}
	text, err := os.ReadFile(c.Policy)
	if err != nil {
		return form, fmt.Errorf("--policy is neither a version nor a file that can be read: %w; nothing was changed", err)
	}
	form.Proposed = &review.Policy{}
	if err := json.Unmarshal(text, form.Proposed); err != nil {
		return form, fmt.Errorf("%s holds no policy as JSON: %w; nothing was changed", c.Policy, err)
	}
	return form, nil
}

// touchWords say what a change does.
var touchWords = map[review.Touch]string{review.TouchNew: "new contradiction", review.TouchGone: "contradiction gone",
	review.TouchBelow: "below the policy's confidence", review.TouchNameless: "no such family"}

func printReassessment(io console, r review.Reassessment, names map[string]string) {
	fmt.Fprintf(io.out, "Tables %s, policy %s, reliability %d; then tables %s, policy %s, reliability %d.\n", r.Of.From.Release, policyWords(r.Of.From.Policy), r.Of.From.Reliability,
		r.Of.To.Release, policyWords(r.Of.To.Policy), r.Of.To.Reliability)
	fmt.Fprintf(io.out, "%d settled %s looked at, %d would be touched. Nothing was changed.\n", r.Looked, plural(r.Looked, "determination", "determinations"), r.Touched)
	if r.Same > 0 {
		fmt.Fprintf(io.out, "  %d stay as they are for certain: nothing that is stated of them weighs otherwise, so that they were not weighed.\n", r.Same)
	}
	for _, touch := range review.Touches {
		if r.Counts[touch] > 0 {
			fmt.Fprintf(io.out, "  %d: %s\n", r.Counts[touch], touchWords[touch])
		}
	}
	for i, g := range r.Groups {
		fmt.Fprintf(io.out, "%4d. %7d  %s: %s\n", i+1, g.N, touchWords[g.Effect], causeWords(g.Cause, names))
	}
	if left := unreadWords(r.Unread); left != "" {
		fmt.Fprintln(io.out, left)
	}
}

func policyWords(version int) string {
	if version == review.ProposedPolicy {
		return "as given"
	}
	return strconv.Itoa(version)
}

func causeWords(c review.Cause, names map[string]string) string {
	switch c.Kind {
	case review.CauseCell:
		return fmt.Sprintf("the cell %s of %s", c.Character, c.Family)
	case review.CauseCharacter:
		return "what the tables say of " + c.Character
	case review.CauseCommon:
		return "how common the tables take families for"
	case review.CauseFamily:
		return "the tables lack " + c.Family
	case review.CauseThreshold:
		return "the confidence that the policy asks for"
	case review.CauseList:
		return "the policy's list of what is found here"
	case review.CausePerson:
		return "what is known of " + names[c.Person]
	}
	return "what is known of people"
}

// open opens the reviews that were picked.
func (c *reassessCommand) open(ctx context.Context, io console, club club, actor review.Actor, r review.Reassessment) error {
	if len(c.Pick) == 0 {
		return nil
	}
	picking := service.Picking{Reason: c.Reason}
	for _, line := range c.Pick {
		if line < 1 || line > len(r.Groups) {
			return fmt.Errorf("there is no line %d; no review was opened", line)
		}
		g := r.Groups[line-1]
		picking.Groups = append(picking.Groups, review.TouchGroup{Effect: g.Effect, Cause: g.Cause.Key()})
	}
	job, err := club.service.PrepareReviews(ctx, actor, c.Group, r.Key, picking)
	if err != nil {
		return err
	}
	progress := newProgress(io, "Looked at for a review")
	if err := club.service.Do(ctx, job, func(step service.JobStep) { progress(step.Done, max(step.Done, step.Total)) }); err != nil {
		return fmt.Errorf("%w. Reviews that were opened stay open; the same command opens the others", err)
	}
	after, err := club.service.Reassessment(ctx, actor, c.Group, r.Key)
	if err != nil {
		return err
	}
	for _, line := range c.Pick {
		fmt.Fprintf(io.out, "Line %d: %d of %d under review.\n", line, after.Groups[line-1].Opened, after.Groups[line-1].N)
	}
	return nil
}

// unreadWords name records that could not be read and so took no part in something; empty where there are none.
func unreadWords(streams []string) string {
	const most = 10
	if len(streams) == 0 {
		return ""
	}
	shown, records := strings.Join(streams[:min(most, len(streams))], ", "), "records"
	if more := len(streams) - most; more > 0 {
		shown += fmt.Sprintf(" and %d more", more)
	}
	if len(streams) == 1 {
		records = "record"
	}
	return fmt.Sprintf("%d %s could not be read and took no part: %s; revidit rebuild mends it", len(streams), records, shown)
}
