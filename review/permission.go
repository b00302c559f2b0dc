package review

import "slices"

// Whose says whose a thing has to be for a rule.
type Whose string

const (
	OfAny    Whose = "any"
	OfOwn    Whose = "own"    // of who submitted, or registered the specimen
	OfOthers Whose = "others" // nobody reviews a determination of their own, or of a machine that they gave a token
)

// Besides is what a rule asks besides role, whose it is and status: a code for whoever tells of it. It only narrows.
type Besides string

const (
	BesidesNamed     Besides = "named"     // the policy names the actor for the family
	BesidesHolds     Besides = "holds"     // the actor holds it; a curator ends anybody's hold
	BesidesDrawn     Besides = "drawn"     // chance has picked the actor
	BesidesSealed    Besides = "sealed"    // something of it is closed to the actor
	BesidesSaid      Besides = "said"      // the actor has given an opinion of which a slip can be printed
	BesidesAgainst   Besides = "against"   // a panel or tables speak against it
	BesidesMentor    Besides = "mentor"    // the actor mentors the series, or nobody does yet
	BesidesBeginning Besides = "beginning" // the actor has submitted little so far
)

// rule is one row of the one permission table: who may do what to whose, from which statuses, and where it leads.
type rule struct {
	action  Action
	roles   []Role
	whose   Whose
	from    []Status // nil: no status matters
	to      Status   // "" leaves the status as it is
	free    bool     // not while somebody else holds it
	within  bool     // of the families that a reviewer is named for; what has none takes a reviewer of all
	scope   Scope    // that a machine needs
	besides Besides
}

// Collection managers answer for objects and what stands with them, curators for determinations, people and policy (common practice,
// no source): so a keeper has labels, places, photos, archives, intakes and lists by drawer, and no say about a name.
var (
	all       = []Role{RoleMember, RoleReviewer, RoleKeeper, RoleCurator, RoleMachine}
	everybody = []Role{RoleMember, RoleReviewer, RoleKeeper, RoleCurator}
	reviewers = []Role{RoleReviewer, RoleCurator}
	keepers   = []Role{RoleKeeper, RoleCurator}
	exporters = []Role{RoleKeeper, RoleCurator, RoleMachine}
	curators  = []Role{RoleCurator}

	opened   = []Status{StatusOpen, StatusReturned, StatusConfirmed, StatusRedetermined, StatusUndetermined, StatusWithdrawn}
	onlyOpen = []Status{StatusOpen}
	draft    = []Status{StatusDraft}
)

// rules is the permission table. What is not in it is not allowed.
var rules = []rule{
	{action: ActRevise, roles: all, whose: OfOwn, from: draft, scope: ScopeSubmit},
	{action: ActSubmit, roles: all, whose: OfOwn, from: draft, to: StatusOpen, scope: ScopeSubmit},
	{action: ActHold, roles: reviewers, whose: OfOthers, from: onlyOpen, free: true, within: true},
	{action: ActEndHold, roles: reviewers, whose: OfOthers, from: onlyOpen, besides: BesidesHolds},
	{action: ActReview, roles: reviewers, whose: OfOthers, from: onlyOpen, free: true, within: true}, // may settle: then confirmed
	{action: ActReply, roles: reviewers, whose: OfOthers, from: onlyOpen, free: true, within: true},  // may settle: then confirmed
	{action: ActBlind, roles: []Role{RoleReviewer}, whose: OfOthers, from: onlyOpen, besides: BesidesDrawn},
	{action: ActPanel, roles: []Role{RoleReviewer}, whose: OfOthers, from: []Status{StatusConfirmed, StatusUndetermined}, besides: BesidesDrawn},
	{action: ActReturn, roles: reviewers, whose: OfOthers, from: onlyOpen, to: StatusReturned, free: true, within: true},
	{action: ActAnswer, roles: all, whose: OfOwn, from: []Status{StatusOpen, StatusReturned}, to: StatusOpen, scope: ScopeSubmit},
	{action: ActSettle, roles: reviewers, whose: OfOthers, from: onlyOpen, to: StatusConfirmed, free: true, within: true, besides: BesidesNamed},
	{action: ActRedetermine, roles: reviewers, whose: OfOthers, from: []Status{StatusOpen, StatusConfirmed}, to: StatusRedetermined, free: true, within: true},
	{action: ActRedetermine, roles: everybody, whose: OfOwn, from: []Status{StatusOpen, StatusConfirmed}, to: StatusRedetermined, free: true},
	{action: ActUndetermine, roles: reviewers, whose: OfOthers, from: onlyOpen, to: StatusUndetermined, free: true, within: true},
	{action: ActWithdraw, roles: all, whose: OfOwn, from: []Status{StatusDraft, StatusOpen, StatusReturned}, to: StatusWithdrawn, scope: ScopeSubmit},
	{action: ActReopen, roles: curators, whose: OfAny, from: []Status{StatusConfirmed, StatusRedetermined, StatusUndetermined, StatusWithdrawn}, to: StatusOpen},
	{action: ActAudit, roles: curators, whose: OfOthers, from: []Status{StatusOpen, StatusReturned}, besides: BesidesSealed},
	{action: ActUphold, roles: curators, whose: OfOthers, from: []Status{StatusConfirmed, StatusUndetermined}, besides: BesidesAgainst},
	{action: ActReleaseSlip, roles: reviewers, whose: OfOthers, from: []Status{StatusOpen, StatusReturned, StatusConfirmed, StatusRedetermined}, besides: BesidesSaid},

	{action: ActDraft, roles: all, whose: OfAny, to: StatusDraft, scope: ScopeSubmit},
	{action: ActUpload, roles: all, whose: OfAny, scope: ScopeSubmit},
	{action: ActRead, roles: all, whose: OfOwn, from: draft, scope: ScopeRead},
	{action: ActRead, roles: all, whose: OfAny, from: opened, scope: ScopeRead},
	{action: ActReadPast, roles: all, whose: OfAny, from: opened, scope: ScopeRead},
	{action: ActList, roles: all, whose: OfAny, scope: ScopeRead},
	{action: ActReadSpecimen, roles: all, whose: OfAny, scope: ScopeRead},
	{action: ActReadTables, roles: all, whose: OfAny, scope: ScopeRead},
	{action: ActAssess, roles: all, whose: OfAny, scope: ScopeRead},
	{action: ActReadPolicy, roles: all, whose: OfAny, scope: ScopeRead},
	{action: ActReadSelf, roles: all, whose: OfAny},
	{action: ActKeepOwn, roles: everybody, whose: OfAny},
	{action: ActReadPeople, roles: everybody, whose: OfAny},
	{action: ActReadOwn, roles: everybody, whose: OfAny},
	{action: ActReadQueue, roles: reviewers, whose: OfAny},

	{action: ActReadWithheld, roles: everybody, whose: OfOwn},
	{action: ActReadWithheld, roles: keepers, whose: OfAny},
	{action: ActReadDistrict, roles: []Role{RoleReviewer, RoleKeeper, RoleCurator}, whose: OfAny},
	{action: ActCorrectLabel, roles: everybody, whose: OfOwn},
	{action: ActCorrectLabel, roles: keepers, whose: OfAny},
	{action: ActPrintLabels, roles: all, whose: OfAny, scope: ScopePrint},
	{action: ActReadSheet, roles: all, whose: OfOwn, scope: ScopePrint},
	{action: ActReadSheet, roles: keepers, whose: OfAny},
	{action: ActPublish, roles: keepers, whose: OfAny},
	{action: ActHandOver, roles: exporters, whose: OfAny, scope: ScopeExport},
	{action: ActTakeIn, roles: keepers, whose: OfAny},
	{action: ActReadChanges, roles: exporters, whose: OfAny, scope: ScopeExport},

	{action: ActVouch, roles: curators, whose: OfAny},
	{action: ActSetPolicy, roles: curators, whose: OfAny},
	{action: ActEditTables, roles: curators, whose: OfAny},
	{action: ActReassess, roles: curators, whose: OfAny},
	{action: ActReadFigures, roles: curators, whose: OfAny},
	{action: ActRefit, roles: curators, whose: OfAny},
	{action: ActReadPerson, roles: everybody, whose: OfOwn},
	{action: ActReadPerson, roles: curators, whose: OfAny},
	{action: ActReadLedger, roles: curators, whose: OfAny},
	{action: ActProve, roles: curators, whose: OfAny},
	{action: ActKeepAccounts, roles: curators, whose: OfAny},
	{action: ActChangeAccount, roles: curators, whose: OfOthers},
	{action: ActKeepReviewers, roles: curators, whose: OfAny},
	{action: ActKeepMachines, roles: curators, whose: OfAny},

	{action: ActFindSeries, roles: everybody, whose: OfAny},
	{action: ActReadSeries, roles: everybody, whose: OfOwn},
	{action: ActReadSeries, roles: []Role{RoleReviewer}, whose: OfOthers, besides: BesidesMentor},
	{action: ActReadSeries, roles: curators, whose: OfOthers},
	{action: ActBeginSeries, roles: []Role{RoleMember}, whose: OfAny, besides: BesidesBeginning},
	{action: ActLeaveSeries, roles: everybody, whose: OfOwn},
	{action: ActMentor, roles: reviewers, whose: OfOthers, within: true, besides: BesidesMentor},
}

// admits says whether a row admits an actor; family is that of the submission, empty where the act concerns none.
func (r rule) admits(actor Actor, ownerID, family string) bool {
	switch {
	case !slices.Contains(r.roles, actor.Role), actor.Role == RoleMachine && !actor.Scopes.Has(r.scope), r.within && !actor.Families.Cover(family):
		return false
	case r.whose == OfOwn:
		return actor.Person == ownerID
	case r.whose == OfOthers:
		return !actor.Behind(ownerID)
	}
	return true
}

// Ever says whether an actor may do something at all: to something of somebody, in some status.
func Ever(actor Actor, action Action) bool {
	return slices.ContainsFunc(rules, func(r rule) bool {
		return r.action == action && slices.Contains(r.roles, actor.Role) && (actor.Role != RoleMachine || actor.Scopes.Has(r.scope))
	})
}

// OnSubmissions says whether an act is one on a submission, so that its status matters.
func OnSubmissions(action Action) bool {
	return slices.ContainsFunc(rules, func(r rule) bool { return r.action == action && r.from != nil })
}

// Permission is a row of the permission table, for whoever shows it.
type Permission struct {
	Act   Action   `json:"act"`
	Roles []Role   `json:"roles" nullable:"false"`
	Whose Whose    `json:"whose" enum:"any,own,others" doc:"Whose the thing has to be: anybody's, the caller's own, or somebody else's"`
	From  []Status `json:"from,omitempty" doc:"Statuses of a submission in which it may be done; left out where none matters"`
	To    Status   `json:"to,omitempty" doc:"Status that it leads to; left out where that stays"`
	// Unheld is rule.free.
	Unheld  bool    `json:"unheld,omitempty" doc:"Not while somebody else holds the submission"`
	Within  bool    `json:"within,omitempty" doc:"A reviewer who is named for families: only where the name is of one of them"`
	Scope   Scope   `json:"scope,omitempty" doc:"What a machine's token has to be given for"`
	Besides Besides `json:"besides,omitempty" enum:",named,holds,drawn,sealed,said,against,mentor,beginning" doc:"What is asked besides: that the policy names the caller, that they hold it, that chance has drawn them, that something is sealed from them, that they have given an opinion, that something speaks against it, that they mentor the series, or that they have submitted little so far"`
}

// Permissions is the whole table, act by act in its order.
func Permissions() []Permission {
	all := make([]Permission, len(rules))
	for i, r := range rules {
		all[i] = Permission{Act: r.action, Roles: r.roles, Whose: r.whose, From: r.from, To: r.to, Unheld: r.free, Within: r.within, Scope: r.scope, Besides: r.besides}
	}
	return all
}

// PermissionsOf are the rows of one act; none where there is no such act.
func PermissionsOf(action Action) []Permission {
	return slices.DeleteFunc(Permissions(), func(p Permission) bool { return p.Act != action })
}
