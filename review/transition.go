package review

import (
	"slices"
	"strings"
)

// Action is something that an actor may do.
type Action string

// Actions on a submission.
const (
	ActRevise      Action = "revise"
	ActSubmit      Action = "submit"
	ActHold        Action = "hold"
	ActEndHold     Action = "release"
	ActReview      Action = "review"
	ActBlind       Action = "blind-check" // look at a character before anything else is shown
	ActPanel       Action = "recheck"     // look blind at a closed determination, or leave its panel
	ActReply       Action = "reply"
	ActReturn      Action = "return"
	ActAnswer      Action = "answer"
	ActSettle      Action = "settle"
	ActRedetermine Action = "redetermine"
	ActUndetermine Action = "undetermine"
	ActWithdraw    Action = "withdraw"
	ActReopen      Action = "reopen"
	ActAudit       Action = "audit"        // open what is sealed, for a written reason and without a verdict
	ActReleaseSlip Action = "release-slip" // let the slip of one's own opinion be printed, or take that back
	ActUphold      Action = "uphold"       // let a closed determination stand that a panel or other tables speak against
)

// Actions that concern no single submission, or not its status.
const (
	ActDraft         Action = "draft"          // begin a submission
	ActUpload        Action = "upload"         // store a photo
	ActRead          Action = "read"           // read a submission and its history
	ActReadPast      Action = "read-past"      // a submission as it stood at a moment
	ActList          Action = "list"           // lists of submissions, and what is found in them
	ActReadSpecimen  Action = "read-specimen"  // a specimen with its label, as far as that is open, and its photos
	ActReadTables    Action = "read-tables"    // the diagnosis tables in force and before, and keys made of them
	ActAssess        Action = "assess"         // have characters assessed that belong to no submission
	ActReadPolicy    Action = "read-policy"    // the policy and this table
	ActReadPeople    Action = "read-people"    // who has an account, and in which role
	ActReadOwn       Action = "read-own"       // how reliable one is oneself
	ActKeepOwn       Action = "keep-own"       // what is one's own: logins, news, letters, searches, the first visit
	ActReadSelf      Action = "read-self"      // who one is
	ActKeepReviewers Action = "keep-reviewers" // name reviewers for families
	ActKeepMachines  Action = "keep-machines"  // give and take back tokens of machines
	ActReadSeries    Action = "read-series"    // a beginner's series; ownerID is the beginner
	ActFindSeries    Action = "find-series"    // the series that one has to do with
	ActLeaveSeries   Action = "leave-series"   // go on without a mentor
	ActReadQueue     Action = "read-queue"     // work the queue
	ActReadWithheld  Action = "read-withheld"  // exact places, collectors, permits
	ActReadDistrict  Action = "read-district"  // elevation and district of a place that is withheld
	ActCorrectLabel  Action = "correct-label"  // change label data of a specimen
	ActSetPolicy     Action = "set-policy"     // put a new policy in force
	ActEditTables    Action = "edit-tables"    // propose, decide and publish changes of the diagnosis tables
	ActReadFigures   Action = "read-figures"   // reliability of everybody, agreement and calibration
	ActReadPerson    Action = "read-person"    // what a person determined and said, together; ownerID is the person
	ActReadChanges   Action = "read-changes"   // what came about in the collection between two times
	ActRefit         Action = "refit"          // weigh all reports anew
	ActReadLedger    Action = "read-ledger"    // what waits for a curator
	ActReassess      Action = "reassess"       // tell what a change would do to all that is settled, and open reviews for it
	ActProve         Action = "prove"          // proofs of events, and checkpoints of the tree of all
	ActBeginSeries   Action = "begin-series"   // ask for a mentor for one's first submissions
	ActPrintLabels   Action = "print-labels"   // print labels of what one may see
	ActReadSheet     Action = "read-sheet"     // a sheet of labels that was printed; ownerID is who did
	ActMentor        Action = "mentor"         // take up a beginner's series; curators give it to others, too
	ActHandOver      Action = "hand-over"      // write what the collection holds into an archive for others
	ActTakeIn        Action = "take-in"        // take in specimens from a file of somebody else, and undo that
	ActVouch         Action = "vouch"          // vouch for a level of verification or a type status
	ActKeepAccounts  Action = "keep-accounts"  // invite people, end their logins and holds, let them in again, hand over links
	ActChangeAccount Action = "change-account" // suspend or erase somebody, give another role, remove second factors; ownerID is the person
	ActPublish       Action = "publish"        // let everybody see photos of a specimen, or take them back
)

// May says whether an actor may do something that does not depend on a status; ownerID is the owner of the thing, or
// empty where it has none.
func May(actor Actor, action Action, ownerID string) bool {
	for _, r := range rules {
		if r.action == action && r.from == nil && r.admits(actor, ownerID, "") {
			return true
		}
	}
	return false
}

// Transition returns the status after an action on a submission. It is forbidden to actors whom no rule admits, and a
// conflict where the rule does not start at the present status.
func Transition(actor Actor, action Action, s *Submission) (Status, error) {
	admitted := false
	for _, r := range rules {
		if r.action != action || !r.admits(actor, s.Owner, s.Determination.Family) {
			continue
		}
		admitted = true
		if !slices.Contains(r.from, s.Status) {
			continue
		}
		if r.to == "" {
			return s.Status, nil
		}
		return r.to, nil
	}
	if !admitted {
		return "", forbiddenOn(actor, action, s)
	}
	return "", Errorf(KindConflict, "This submission is %s, so you cannot %s it now. Nothing was changed; look at it again to see what has happened.",
		s.Status, actionWords[action])
}

// Allowed are the actions that the actor may do on the submission as it stands.
func Allowed(actor Actor, s *Submission) []Action {
	var allowed []Action
	for _, r := range rules {
		if slices.Contains(r.from, s.Status) && r.admits(actor, s.Owner, s.Determination.Family) && !slices.Contains(allowed, r.action) {
			allowed = append(allowed, r.action)
		}
	}
	return allowed
}

var actionWords = map[Action]string{
	ActRevise: "change", ActSubmit: "submit", ActHold: "hold", ActEndHold: "end the hold on", ActReview: "review",
	ActReply: "reply to contradictions of", ActReturn: "return", ActAnswer: "answer", ActSettle: "settle",
	ActRedetermine: "redetermine", ActUndetermine: "leave undetermined", ActWithdraw: "withdraw", ActReopen: "reopen", ActRead: "read", ActReadPast: "read the past of", ActList: "list submissions", ActReadSpecimen: "read this specimen", ActReadTables: "read the tables", ActAssess: "have characters assessed",
	ActReadPolicy: "read the policy", ActReadPeople: "read who has an account", ActReadOwn: "read how reliable you are", ActKeepOwn: "do this", ActReadSelf: "ask who you are", ActKeepReviewers: "name reviewers for families", ActKeepMachines: "keep tokens of machines", ActReadSeries: "read this series", ActFindSeries: "list series", ActLeaveSeries: "leave this series",

	ActDraft: "begin a submission", ActUpload: "upload a photo", ActReadQueue: "read the queue",
	ActReadWithheld: "read withheld label data", ActReadDistrict: "read the district and the elevation", ActCorrectLabel: "correct this label", ActSetPolicy: "set the policy",
	ActEditTables: "edit the diagnosis tables", ActBlind: "look blind at", ActPanel: "recheck",
	ActReadFigures: "read the figures of agreement, calibration and reliability", ActReadPerson: "read what another person has determined and said, together",
	ActReadChanges: "read what came about in the collection between two times", ActRefit: "weigh all reports anew",
	ActAudit: "audit", ActUphold: "uphold", ActReleaseSlip: "release a slip for", ActPrintLabels: "print labels", ActReadSheet: "read a sheet of labels", ActReadLedger: "read what waits for a curator", ActProve: "prove events",
	ActReassess:    "tell what a change would do",
	ActBeginSeries: "begin a series with a mentor", ActMentor: "mentor this series",
	ActHandOver: "write an archive for others", ActTakeIn: "take in specimens from a file", ActVouch: "vouch for a determination", ActPublish: "publish photos",
	ActKeepAccounts: "keep accounts",
}

// Forbidden says to an actor that no rule admits them, and why where it is known.
func Forbidden(actor Actor, action Action, ownerID string) error {
	words := actionWords[action]
	judges := slices.Contains([]Action{ActHold, ActEndHold, ActReview, ActReply, ActReturn, ActSettle, ActRedetermine, ActUndetermine, ActBlind, ActPanel, ActAudit, ActUphold}, action)
	if judges && actor.Machines.Has(ownerID) {
		return Errorf(KindForbidden, "This submission is of a machine that you have given a token, and counts as your own: nobody reviews a determination of their own. Another reviewer must %s it.", words)
	}
	if judges && action != ActRedetermine && actor.Person != "" && actor.Person == ownerID {
		return Errorf(KindForbidden, "This submission is your own: nobody reviews a determination of their own. Another reviewer must %s it.", words)
	}
	if actor.Role == RoleMachine {
		return Errorf(KindForbidden, "This token was given to a machine for %q, and may not %s. Nothing was changed; a curator gives tokens, and machines never review or decide.", actor.Scopes, words)
	}
	return Errorf(KindForbidden, "As a %s you may not %s here. Nothing was changed; a curator can change roles.", actor.Role, words)
}

// forbiddenOn is Forbidden on a submission.
func forbiddenOn(actor Actor, action Action, s *Submission) error {
	unlimited := actor
	unlimited.Families = ""
	for _, r := range rules {
		if r.action == action && r.within && r.admits(unlimited, s.Owner, s.Determination.Family) {
			return Errorf(KindForbidden, "You are named as a reviewer for %s, and this name is of another family. Nothing was stored: leave it to others, or ask a curator to name you for more families.",
				strings.Join(actor.Families.Names(), ", "))
		}
	}
	return Forbidden(actor, action, s.Owner)
}

// MayRead: a draft, and a submission withdrawn as a draft, is known to its owner alone.
func MayRead(actor Actor, s *Submission) bool {
	if s.OpenedAt == nil && actor.Person != s.Owner {
		return false
	}
	_, err := Transition(actor, ActRead, s)
	return err == nil
}
