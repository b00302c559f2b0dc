package review

import "slices"

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
	ActDraft        Action = "draft"         // begin a submission
	ActUpload       Action = "upload"        // store a photo
	ActRead         Action = "read"          // read a submission and its history
	ActReadQueue    Action = "read-queue"    // work the queue
	ActReadWithheld Action = "read-withheld" // exact places, collectors, permits
	ActReadDistrict Action = "read-district" // elevation and district of a place that is withheld
	ActCorrectLabel Action = "correct-label" // change label data of a specimen
	ActSetPolicy    Action = "set-policy"    // put a new policy in force
	ActEditTables   Action = "edit-tables"   // propose, decide and publish changes of the diagnosis tables
	ActReadFigures  Action = "read-figures"  // reliability of everybody, agreement and calibration
	ActReadPerson   Action = "read-person"   // what a person determined and said, together; ownerID is the person
	ActReadChanges  Action = "read-changes"  // what came about in the collection between two times
	ActRefit        Action = "refit"         // weigh all reports anew
	ActReadLedger   Action = "read-ledger"   // what waits for a curator
	ActReassess     Action = "reassess"      // tell what a change would do to all that is settled, and open reviews for it
	ActProve        Action = "prove"         // proofs of events, and checkpoints of the tree of all
	ActBeginSeries  Action = "begin-series"  // ask for a mentor for one's first submissions
	ActPrintLabels  Action = "print-labels"  // print labels of what one may see
	ActReadSheet    Action = "read-sheet"    // a sheet of labels that was printed; ownerID is who did
	ActMentor       Action = "mentor"        // take up a beginner's series; curators give it to others, too
	ActHandOver     Action = "hand-over"     // write what the collection holds into an archive for others
	ActTakeIn       Action = "take-in"       // take in specimens from a file of somebody else, and undo that
	ActVouch        Action = "vouch"         // vouch for a level of verification or a type status
	ActPublish      Action = "publish"       // let everybody see photos of a specimen, or take them back
	ActKeepAccounts Action = "keep-accounts" // invite people, end their logins, suspend them, hand over links
)

// party is how an actor stands to the thing.
type party int

const (
	anyone   party = iota
	owner          // who submitted, or registered the specimen
	notOwner       // anybody else: nobody reviews a determination of their own
	ownerOrCurator
)

// rule is one row of the one permission table: who may do what, from which statuses, and where it leads.
type rule struct {
	action Action
	roles  []Role
	party  party
	from   []Status
	to     Status // "" leaves the status as it is
}

var (
	everybody = []Role{RoleMember, RoleReviewer, RoleCurator}
	reviewers = []Role{RoleReviewer, RoleCurator}
	curators  = []Role{RoleCurator}
)

// rules is the permission table. What is not in it is not allowed.
var rules = []rule{
	{ActRevise, everybody, owner, []Status{StatusDraft}, ""},
	{ActSubmit, everybody, owner, []Status{StatusDraft}, StatusOpen},
	{ActHold, reviewers, notOwner, []Status{StatusOpen}, ""},
	{ActEndHold, reviewers, notOwner, []Status{StatusOpen}, ""},
	{ActReview, reviewers, notOwner, []Status{StatusOpen}, ""}, // may settle: then confirmed
	{ActReply, reviewers, notOwner, []Status{StatusOpen}, ""},  // may settle: then confirmed
	{ActBlind, []Role{RoleReviewer}, notOwner, []Status{StatusOpen}, ""},
	{ActPanel, []Role{RoleReviewer}, notOwner, []Status{StatusConfirmed, StatusUndetermined}, ""},
	{ActReturn, reviewers, notOwner, []Status{StatusOpen}, StatusReturned},
	{ActAnswer, everybody, owner, []Status{StatusOpen, StatusReturned}, StatusOpen},
	{ActSettle, reviewers, notOwner, []Status{StatusOpen}, StatusConfirmed},
	{ActRedetermine, reviewers, anyone, []Status{StatusOpen, StatusConfirmed}, StatusRedetermined},
	{ActRedetermine, []Role{RoleMember}, owner, []Status{StatusOpen, StatusConfirmed}, StatusRedetermined},
	{ActUndetermine, reviewers, notOwner, []Status{StatusOpen}, StatusUndetermined},
	{ActWithdraw, everybody, owner, []Status{StatusDraft, StatusOpen, StatusReturned}, StatusWithdrawn},
	{ActReopen, curators, anyone, []Status{StatusConfirmed, StatusRedetermined, StatusUndetermined, StatusWithdrawn}, StatusOpen},
	{ActAudit, curators, notOwner, []Status{StatusOpen, StatusReturned}, ""},
	{ActUphold, curators, notOwner, []Status{StatusConfirmed, StatusUndetermined}, ""},
	{ActReleaseSlip, reviewers, notOwner, []Status{StatusOpen, StatusReturned, StatusConfirmed, StatusRedetermined}, ""},

	{ActDraft, everybody, anyone, nil, StatusDraft},
	{ActUpload, everybody, anyone, nil, ""},
	{ActRead, everybody, owner, []Status{StatusDraft}, ""},
	{ActRead, everybody, anyone, []Status{StatusOpen, StatusReturned, StatusConfirmed, StatusRedetermined,
		StatusUndetermined, StatusWithdrawn}, ""},
	{ActReadQueue, reviewers, anyone, nil, ""},
	{ActReadWithheld, everybody, ownerOrCurator, nil, ""},
	{ActReadDistrict, reviewers, anyone, nil, ""},
	{ActCorrectLabel, everybody, ownerOrCurator, nil, ""},
	{ActSetPolicy, curators, anyone, nil, ""},
	{ActEditTables, curators, anyone, nil, ""},
	{ActReadFigures, curators, anyone, nil, ""},
	{ActReadPerson, everybody, ownerOrCurator, nil, ""},
	{ActReadChanges, curators, anyone, nil, ""},
	{ActRefit, curators, anyone, nil, ""},
	{ActReadLedger, curators, anyone, nil, ""},
	{ActReassess, curators, anyone, nil, ""},
	{ActProve, curators, anyone, nil, ""},
	{ActPrintLabels, everybody, anyone, nil, ""},
	{ActReadSheet, everybody, ownerOrCurator, nil, ""},
	{ActBeginSeries, []Role{RoleMember}, anyone, nil, ""},
	{ActMentor, reviewers, notOwner, nil, ""},
	{ActHandOver, curators, anyone, nil, ""},
	{ActTakeIn, curators, anyone, nil, ""},
	{ActVouch, curators, anyone, nil, ""},
	{ActPublish, curators, anyone, nil, ""},
	{ActKeepAccounts, curators, anyone, nil, ""},
}

func (r rule) admits(actor Actor, ownerID string) bool {
	if !slices.Contains(r.roles, actor.Role) {
		return false
	}
	switch r.party {
	case owner:
		return actor.Person == ownerID
	case notOwner:
		return actor.Person != ownerID
	case ownerOrCurator:
		return actor.Person == ownerID || actor.Role == RoleCurator
	}
	return true
}

// May says whether an actor may do something that does not depend on a status; ownerID is the owner of the thing, or
// empty where it has none.
func May(actor Actor, action Action, ownerID string) bool {
	for _, r := range rules {
		if r.action == action && r.from == nil && r.admits(actor, ownerID) {
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
		if r.action != action || !r.admits(actor, s.Owner) {
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
		return "", Forbidden(actor, action, s.Owner)
	}
	return "", Errorf(KindConflict, "This submission is %s, so you cannot %s it now. Nothing was changed; look at it again to see what has happened.",
		s.Status, actionWords[action])
}

// Allowed are the actions that the actor may do on the submission as it stands.
func Allowed(actor Actor, s *Submission) []Action {
	var allowed []Action
	for _, r := range rules {
		if slices.Contains(r.from, s.Status) && r.admits(actor, s.Owner) && !slices.Contains(allowed, r.action) {
			allowed = append(allowed, r.action)
		}
	}
	return allowed
}

var actionWords = map[Action]string{
	ActRevise: "change", ActSubmit: "submit", ActHold: "hold", ActEndHold: "end the hold on", ActReview: "review",
	ActReply: "reply to contradictions of", ActReturn: "return", ActAnswer: "answer", ActSettle: "settle",
	ActRedetermine: "redetermine", ActUndetermine: "leave undetermined", ActWithdraw: "withdraw", ActReopen: "reopen", ActRead: "read",
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
	if actor.Person != "" && actor.Person == ownerID && slices.Contains([]Action{ActHold, ActEndHold, ActReview, ActReply, ActReturn, ActSettle, ActUndetermine, ActBlind, ActPanel, ActAudit, ActUphold}, action) {
		return Errorf(KindForbidden, "This submission is your own: nobody reviews a determination of their own. Another reviewer must %s it.", words)
	}
	return Errorf(KindForbidden, "As a %s you may not %s here. Nothing was changed; a curator can change roles.", actor.Role, words)
}

// MayRead: a draft, and a submission withdrawn as a draft, is known to its owner alone.
func MayRead(actor Actor, s *Submission) bool {
	if s.OpenedAt == nil && actor.Person != s.Owner {
		return false
	}
	_, err := Transition(actor, ActRead, s)
	return err == nil
}
