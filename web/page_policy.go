package web

import (
	"cmp"
	"context"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

func (s *Server) policyPage(c *gin.Context) {
	policy, err := s.Service.Policy(c.Request.Context())
	if err != nil {
		s.fail(c, err)
		return
	}
	s.showPolicy(c, http.StatusOK, policy, typedPolicy(c.Request.Context(), policy), nil)
}

// showPolicy shows the policy in force and a form; tried is one whose list and mix are shown beside, or nil.
func (s *Server) showPolicy(c *gin.Context, status int, policy review.Policy, form pages.Form, tried *review.Policy) {
	ctx := c.Request.Context()
	judges, err := s.Service.Groups(ctx)
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.PolicyData{Policy: policy, Form: form, Tried: tried != nil}
	for _, j := range judges {
		d.Priors = append(d.Priors, priorsOf(ctx, j, policy, tried))
	}
	if d.Reviewers, err = s.Service.People(ctx, service.PeopleFilter{Name: form.Get("find"), Roles: []review.Role{review.RoleReviewer, review.RoleCurator}}); err != nil {
		s.fail(c, err)
		return
	}
	if d.Names, err = s.Service.Names(ctx, namedIn(policy, form)); err != nil {
		s.fail(c, err)
		return
	}
	s.pageOfAll(c, status, func(site pages.Site) templ.Component { return pages.Policy(site, d) })
}

// namedIn are the persons whom a policy and a form of one name.
func namedIn(p review.Policy, form pages.Form) []string {
	ids := append([]string{p.By}, form.Values["new_experts"]...)
	for _, named := range p.Experts {
		ids = append(ids, named...)
	}
	for _, family := range form.Values["families"] {
		ids = append(ids, form.Values["experts."+family]...)
	}
	return ids
}

func typedPolicy(ctx context.Context, p review.Policy) pages.Form {
	form := pages.NewForm(nil)
	form.Version = p.Version
	form.Set("reviewers", strconv.Itoa(p.Reviewers))
	form.Set("confidence", words.Typed(ctx, p.Confidence))
	form.Set("hold_minutes", strconv.Itoa(p.HoldMinutes))
	form.Set("holds_at_once", strconv.Itoa(p.MostHolds()))
	if p.OneSuffices {
		form.Set("one_suffices", "yes")
	}
	if p.ExcludedNeedsReason {
		form.Set("excluded_needs_reason", "yes")
	}
	form.Set("blind_rate", words.Typed(ctx, p.BlindRate))
	form.Set("recheck_rate", words.Typed(ctx, p.RecheckRate))
	form.Set("reliability_shown", string(cmp.Or(p.ReliabilityShown, review.ShownTotals)))
	form.Set("panel", strconv.Itoa(p.Panel))
	form.Set("places_grid", string(cmp.Or(p.Places.Grid, review.DefaultGrid)))
	form.Set("places_taxa", typedTaxa(p.Places.Taxa))
	form.Set("list", typedList(ctx, p.List))
	for part, share := range p.Mix {
		form.Set("mix."+part, words.Typed(ctx, share))
	}
	for family, people := range p.Experts {
		form.Values["families"] = append(form.Values["families"], family)
		form.Values["experts."+family] = people
	}
	return form
}

func (s *Server) setPolicy(c *gin.Context) {
	sent, err := s.textForm(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	ctx := c.Request.Context()
	present, err := s.Service.Policy(ctx)
	if err != nil {
		s.fail(c, err)
		return
	}
	if sent.get("do") == "find" {
		form := pages.NewForm(sent.values)
		form.Version = present.Version
		s.showPolicy(c, http.StatusOK, present, form, nil)
		return
	}
	family, err := s.todaysName(ctx, "", sent.text("new_family"))
	if err != nil {
		s.fail(c, err)
		return
	}
	wanted, err := s.wantedPolicy(ctx, sent, family)
	if err == nil && sent.get("do") == "try" {
		form := pages.NewForm(sent.values)
		if err = wanted.CheckPrior(); err == nil {
			form.Version = present.Version
			s.showPolicy(c, http.StatusOK, present, form, &wanted)
			return
		}
	}
	if err == nil {
		_, err = s.once(c, sent, func(ctx context.Context) error { return s.putPolicy(ctx, actorOf(c), sent, present, wanted) })
	}
	if err == nil {
		seeOther(c, "/policy")
		return
	}
	if !again(err) {
		s.fail(c, err)
		return
	}
	added := "experts." + family
	form := pages.NewForm(sent.values).Failed(c.Request.Context(), err, func(path string) string {
		if strings.HasPrefix(path, "list.") {
			return "list"
		}
		if strings.HasPrefix(path, "places.taxa") {
			return "places_taxa"
		}
		if path == "places.grid" {
			return "places_grid"
		}
		if path == added && !slices.Contains(sent.values["families"], strings.TrimPrefix(path, "experts.")) {
			return "new_family"
		}
		return path
	})
	form.Version = present.Version
	s.showPolicy(c, pageStatus(err), present, form, nil)
}

// wantedPolicy is the policy as it was typed, with its list and mix; added is a taxon for which the form names reviewers, or empty.
func (s *Server) wantedPolicy(ctx context.Context, sent *sentForm, added string) (review.Policy, error) {
	p := policyForm(sent, added)
	list, err := s.listOf(ctx, sent.text("list"))
	if err != nil {
		return p, err
	}
	judges, err := s.Service.Groups(ctx)
	if err != nil {
		return p, err
	}
	p.List, p.Mix = list, mixOf(sent, judges)
	p.Places.Grid = review.Grid(sent.get("places_grid"))
	p.Places.Taxa, err = taxaOf(sent.text("places_taxa"))
	return p, err
}

func (s *Server) putPolicy(ctx context.Context, actor review.Actor, sent *sentForm, present, wanted review.Policy) error {
	version, err := strconv.Atoi(sent.get("version"))
	if err != nil || version < 0 {
		return review.Invalidf("version", "is missing; open the page again")
	}
	// The policy that the program starts with has version 0, which the service reads as "any": compared here.
	if version != present.Version {
		return review.Errorf(review.KindStale, "The policy has changed since you opened it (version %d, now %d). Nothing was stored; what you typed is still here: compare it with the present policy and save again.", version, present.Version)
	}
	if sent.text("new_family") != "" && len(sent.values["new_experts"]) == 0 {
		return review.Invalidf("new_experts", "choose at least one reviewer for that family")
	}
	_, err = s.Service.SetPolicy(ctx, actor, version, wanted)
	return err
}

// policyForm is the policy as it was typed; added is the accepted name of the taxon that the form adds, or empty.
func policyForm(sent *sentForm, added string) review.Policy {
	p := review.Policy{Reviewers: review.TypedWhole(sent.text("reviewers")), HoldMinutes: review.TypedWhole(sent.text("hold_minutes")),
		HoldsAtOnce:         review.TypedWhole(sent.text("holds_at_once")),
		Panel:               review.TypedWhole(sent.text("panel")),
		ReliabilityShown:    review.ReliabilityShown(sent.get("reliability_shown")),
		OneSuffices:         sent.get("one_suffices") != "",
		ExcludedNeedsReason: sent.get("excluded_needs_reason") != "", Reason: sent.text("reason"), Experts: map[string][]string{}}
	for field, into := range map[string]*float64{"confidence": &p.Confidence, "blind_rate": &p.BlindRate, "recheck_rate": &p.RecheckRate} {
		*into = review.Unreadable // a field left empty is told like one that is no number
		if x := review.TypedNumber(sent.text(field)); x != nil {
			*into = *x
		}
	}
	for _, family := range sent.values["families"] {
		if people := sent.values["experts."+family]; len(people) > 0 {
			p.Experts[family] = people
		}
	}
	if added != "" {
		named := append(slices.Clone(p.Experts[added]), sent.values["new_experts"]...)
		slices.Sort(named)
		p.Experts[added] = slices.Compact(named)
	}
	return p
}
