package web

import (
	"context"
	"fmt"
	"net/http"
	"strconv"

	"github.com/a-h/templ"
	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

// listSize is how many lines a page of a list has.
const listSize = 50

func (s *Server) listPage(c *gin.Context) {
	actor := actorOf(c)
	filter, person, err := s.listFilter(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	if fileAsked(c) {
		s.submissionsFile(c, filter)
		return
	}
	lines, next, err := s.Service.Find(c.Request.Context(), actor, filter, service.Page{Size: listSize, Cursor: c.Query("cursor")})
	if err != nil {
		s.fail(c, err)
		return
	}
	releases, err := s.Service.KnownReleases(c.Request.Context())
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.ListData{Filter: filter, Mine: c.Query("mine") != "", Lines: lines, Person: person, Part: c.Query("part"), Releases: releases, Query: c.Request.URL.RawQuery}
	d.From, d.To = c.Query("from"), c.Query("to")
	d.First, d.Next = pageLinks(c, next)
	d.CSV, d.JSON = fileLinks(c)
	s.pageOfAll(c, http.StatusOK, func(site pages.Site) templ.Component { return pages.List(site, d) })
}

// pageLinks are the addresses of the first and of the next page of a list, with the same filters.
func pageLinks(c *gin.Context, cursor string) (first, next string) {
	query := c.Request.URL.Query()
	if query.Get("cursor") != "" {
		query.Del("cursor")
		first = c.Request.URL.Path + "?" + query.Encode()
	}
	if cursor != "" {
		query.Set("cursor", cursor)
		next = c.Request.URL.Path + "?" + query.Encode()
	}
	return first, next
}

// newPage is the form of a new submission; where there are several groups, the group is chosen first.
func (s *Server) newPage(c *gin.Context) {
	site, err := s.siteOf(c, c.Query("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	if c.Query("group") == "" && len(site.Books) > 1 {
		s.page(c, http.StatusOK, pages.ChooseGroup(site, "/submissions/new"))
		return
	}
	d := pages.SubmitData{Form: pages.NewForm(nil), Photos: pages.PhotoFields{Offer: true}, Key: uuid.NewString()}
	s.submitPage(c, http.StatusOK, site, d)
}

// create stores what was sent as a draft or puts it before reviewers; photos alone are uploaded and shown in the form.
func (s *Server) create(c *gin.Context) {
	ctx, cancel := patient(c)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	sent, err := s.photoForm(c, true)
	if err != nil {
		s.fail(c, err)
		return
	}
	site, err := s.siteOf(c, sent.get("group"))
	if err != nil {
		s.fail(c, err)
		return
	}
	d := pages.SubmitData{Key: sent.get("key")}
	if d.Key == "" {
		d.Key = uuid.NewString()
	}
	s.store(c, site, sent, &d, func(form review.SubmissionForm, draft bool) (service.Done, error) {
		begin := s.Service.SubmitNewTold
		if draft {
			begin = s.Service.Draft
		}
		made, err := begin(ctx, actorOf(c), form, d.Key)
		if review.KindOf(err) == review.KindConflict {
			return s.goOn(c, sent, &d, form, draft, err)
		}
		return made, err
	})
}

// goOn saves a form that has made a draft before, and that its sender has gone back to: it goes on with that draft, and makes
// no second one. conflict is what is said where the form has made nothing.
func (s *Server) goOn(c *gin.Context, sent *sentForm, d *pages.SubmitData, form review.SubmissionForm, draft bool, conflict error) (service.Done, error) {
	known, err := s.Service.MadeUnder(c.Request.Context(), actorOf(c), d.Key)
	if review.KindOf(err) == review.KindNotFound {
		return service.Done{}, conflict
	}
	if err != nil {
		return service.Done{}, err
	}
	if known.Status != review.StatusDraft {
		return service.Done{}, review.Errorf(review.KindConflict, "What you sent with this form before is %s and stands in the list of your submissions. Nothing more was stored, and what you typed is still here: saving it again makes another submission.", known.Status)
	}
	view, err := s.Service.View(c.Request.Context(), actorOf(c), known.ID)
	if err != nil {
		return service.Done{}, err
	}
	d.Draft = known.ID // from here on the form is that of the draft
	sent.put("version", strconv.Itoa(view.Version))
	stale := review.Errorf(review.KindStale, "This form has made a draft before, and you have changed that draft since. Nothing was stored, and what you typed is still here: saving again puts it in place of what the draft holds now.")
	if !view.Submission.AsBegun() {
		return service.Done{}, stale
	}
	done, err := s.reviseOrSubmit(c.Request.Context(), actorOf(c), &view, view.Version, form, draft)
	if review.KindOf(err) == review.KindStale { // it has been, just now
		err = stale
	}
	return done, err
}

// store is the shared end of a new and of a revised submission: save and go to its page, or show the form again.
func (s *Server) store(c *gin.Context, site pages.Site, sent *sentForm, d *pages.SubmitData, save func(form review.SubmissionForm, draft bool) (service.Done, error)) {
	sent.dropLeftOut()
	sent.takeOffers()
	form, rename := submissionForm(site.Book, sent)
	d.Photos, d.Form = sent.photos, pages.NewForm(sent.values)
	d.Form.Version = sent.version()
	if sent.get("do") == "upload" {
		s.submitPage(c, http.StatusOK, site, *d)
		return
	}
	if do := sent.get("do"); do == "draft" || do == "save" {
		s.storeDraft(c, site, sent, d, save)
		return
	}
	err := refusedPhotos(sent)
	if err == nil {
		var stored service.Done
		if stored, err = save(form, false); err == nil {
			seeOther(c, afterSubmitting(stored))
			return
		}
	}
	s.comeBack(c, site, sent, d, err, rename)
}

// afterSubmitting is the page of what was submitted, or where it is looked over first because something does not fit.
func afterSubmitting(stored service.Done) string {
	if stored.Status == review.StatusDraft {
		return checkPath(stored.ID)
	}
	return submissionPath(stored.ID)
}

// storeDraft saves a draft, which may hold anything, and goes to its page; the form comes back where something of it has to be
// corrected, or a photo was not taken.
func (s *Server) storeDraft(c *gin.Context, site pages.Site, sent *sentForm, d *pages.SubmitData, save func(form review.SubmissionForm, draft bool) (service.Done, error)) {
	var stored service.Done
	judge, err := s.Service.Judge(c.Request.Context(), site.Book.Group.ID)
	form := review.SubmissionForm{}
	if err == nil {
		form, err = sifted(judge, site.Book, sent)
	}
	if err == nil {
		stored, err = save(form, true)
	}
	switch {
	case sent.get("do") == "save" && (err == nil || again(err)):
		s.saved(c, stored.ID, err)
	case err != nil:
		_, rename := submissionForm(site.Book, sent)
		s.comeBack(c, site, sent, d, err, rename)
	case len(sent.photos.Refused) > 0:
		s.storedWithout(c, site, sent, d, stored.ID)
	case len(form.Loose) > 0:
		seeOther(c, submissionPath(stored.ID)+"/edit")
	default:
		seeOther(c, submissionPath(stored.ID))
	}
}

// storedWithout shows the form of a draft that is saved, but for photos that were not taken.
func (s *Server) storedWithout(c *gin.Context, site pages.Site, sent *sentForm, d *pages.SubmitData, id string) {
	view, err := s.Service.View(c.Request.Context(), actorOf(c), id)
	if err != nil {
		s.fail(c, err)
		return
	}
	d.Draft = id
	d.Form = d.Form.Failed(c.Request.Context(), refusedPhotos(sent), nil)
	d.Form.Message, d.Form.Version = words.T(c.Request.Context(), "submit.saved-without-photos"), view.Version
	s.submitPage(c, http.StatusOK, site, *d)
}

// comeBack shows a form again that could not be stored.
func (s *Server) comeBack(c *gin.Context, site pages.Site, sent *sentForm, d *pages.SubmitData, err error, rename func(string) string) {
	if !again(err) {
		s.fail(c, err)
		return
	}
	if review.KindOf(err) == review.KindConflict {
		d.Key = uuid.NewString() // the old one belongs to what it has made
	}
	d.Form.Version = sent.version()
	d.Form = d.Form.Failed(c.Request.Context(), err, rename)
	s.submitPage(c, pageStatus(err), site, *d)
}

// submitPage shows the form of a submission; who is new here is asked first whether it belongs to the group at all.
func (s *Server) submitPage(c *gin.Context, status int, site pages.Site, d pages.SubmitData) {
	asked, err := s.Service.AskedFirst(c.Request.Context(), actorOf(c), site.Book.Group.ID, d.AnsweredFirst())
	if err != nil {
		s.fail(c, err)
		return
	}
	d.First = pages.FirstQuestions(site, asked)
	s.page(c, status, pages.Submit(site, d))
}

// refusedPhotos keeps a form from being stored without photos that its sender believes to be in it.
func refusedPhotos(sent *sentForm) error {
	var problems review.Problems
	for _, refused := range sent.photos.Refused {
		problems.Addf("photos", "%s: %s", refused.Name, refused.Reason)
	}
	for i, kept := range sent.photos.Kept {
		if len(problems) > 0 && kept.View == "" {
			problems.Addf(fmt.Sprintf("photos[%d].view", i), "choose what the photo shows")
		}
	}
	return problems.Err()
}

func (s *Server) editPage(c *gin.Context) {
	view, site, err := s.submissionOf(c)
	if err == nil {
		_, err = review.Transition(actorOf(c), review.ActRevise, &view.Submission)
	}
	if err != nil {
		s.fail(c, err)
		return
	}
	judge, err := s.Service.Judge(c.Request.Context(), view.Submission.Group)
	if err != nil {
		s.fail(c, err)
		return
	}
	form, kept := typedDraft(view)
	form = withLoose(c.Request.Context(), judge, site.Book, form, view.Loose)
	d := pages.SubmitData{Form: form, Draft: view.Submission.ID, Photos: pages.PhotoFields{Kept: kept, Offer: !view.LabelElsewhere()},
		Assessment: &view.Assessment}
	if view.LabelElsewhere() {
		d.Specimen = view.Specimen.ID
	}
	s.submitPage(c, http.StatusOK, site, d)
}

func (s *Server) edit(c *gin.Context) {
	ctx, cancel := patient(c)
	defer cancel()
	c.Request = c.Request.WithContext(ctx)
	// Whether it is still a draft is for the service to say: then what was typed comes back with the answer.
	view, site, err := s.submissionOf(c)
	if err != nil {
		s.fail(c, err)
		return
	}
	sent, err := s.photoForm(c, !view.LabelElsewhere())
	if err != nil {
		s.fail(c, err)
		return
	}
	id := view.Submission.ID
	d := pages.SubmitData{Draft: id}
	if view.LabelElsewhere() {
		d.Specimen = view.Specimen.ID
	}
	s.store(c, site, sent, &d, func(form review.SubmissionForm, draft bool) (service.Done, error) {
		var stored service.Done
		before, err := s.once(c, sent, func(ctx context.Context) (err error) {
			stored, err = s.reviseOrSubmit(ctx, actorOf(c), &view, sent.version(), form, draft)
			return err
		})
		if err == nil && before != "" {
			stored.ID = id
		}
		if review.KindOf(err) == review.KindStale {
			// Saving again is then a decision on the present version, with both at hand.
			sent.put("version", strconv.Itoa(view.Version))
		}
		return stored, err
	})
}

func (s *Server) reviseOrSubmit(ctx context.Context, actor review.Actor, view *service.SubmissionView, version int, form review.SubmissionForm, draft bool) (service.Done, error) {
	revision := review.WholeRevision(form)
	if view.LabelElsewhere() {
		revision.Label, revision.Withheld = nil, nil
	}
	if draft {
		return s.Service.Revise(ctx, actor, view.Submission.ID, version, revision)
	}
	return s.Service.ReviseAndSubmitTold(ctx, actor, view.Submission.ID, version, revision)
}
