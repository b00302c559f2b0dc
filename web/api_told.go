package web

import (
	"context"

	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/pages"
)

// withFormer gives a site the tables that assessments were made by, as far as they are at hand. Of those that cannot be read the log
// tells: what was assessed by them is told without them.
func (s *Server) withFormer(ctx context.Context, site pages.Site, made ...*judgement.Assessment) pages.Site {
	for _, a := range made {
		if !site.Lacks(a) {
			continue
		}
		tables, err := s.Service.TablesOf(ctx, a.TablesHash)
		if err != nil {
			s.Log.Error("fault", "error", err.Error(), "tables", a.TablesHash)
			continue
		}
		if tables != nil {
			site.Formerly = append(site.Formerly, pages.BookIn(ctx, tables))
		}
	}
	return site
}

// teller is the site by which programs are told the words of assessments.
func (a *api) teller(ctx context.Context, made ...*judgement.Assessment) pages.Site {
	site := pages.Site{Program: true}
	for _, t := range a.Service.BuiltIn() {
		site.Books = append(site.Books, pages.BookIn(ctx, t))
	}
	return a.withFormer(ctx, site, made...)
}

// told is an assessment with its words in the language of the caller.
func (a *api) told(ctx context.Context, made judgement.Assessment, sex string) judgement.Assessment {
	return pages.InWords(ctx, a.teller(ctx, &made), made, sex)
}

// toldIfAny is an assessment that may be missing with its words, by a site that has its tables.
func toldIfAny(ctx context.Context, by pages.Site, made *judgement.Assessment, sex string) *judgement.Assessment {
	if made == nil {
		return nil
	}
	told := pages.InWords(ctx, by, *made, sex)
	return &told
}

// toldView is a submission with the words of its assessments and of what is missing.
func (a *api) toldView(ctx context.Context, v service.SubmissionView) service.SubmissionView {
	sex, by := v.Specimen.Label.Sex, a.teller(ctx, &v.Assessment, v.Today, v.Submission.Assessment)
	v.Assessment = pages.InWords(ctx, by, v.Assessment, sex)
	v.Today, v.Submission.Assessment = toldIfAny(ctx, by, v.Today, sex), toldIfAny(ctx, by, v.Submission.Assessment, sex)
	v.Policy.Reason = pages.PolicyReason(ctx, v.Policy)
	v.Missing = by.MissingWords(ctx, v)
	return v
}

func (a *api) toldThen(ctx context.Context, t service.Then) service.Then {
	t.View, t.Shown = a.toldView(ctx, t.View), toldIfAny(ctx, a.teller(ctx, t.Shown), t.Shown, t.View.Specimen.Label.Sex)
	return t
}

func (a *api) toldDifference(ctx context.Context, d service.Difference) service.Difference {
	of := func(t *service.Then, some []judgement.Contradiction) []judgement.Contradiction {
		made := &t.View.Assessment
		return pages.ContradictionsInWords(ctx, a.teller(ctx, made), made, t.View.Specimen.Label.Sex, some)
	}
	d.Changed.Appeared, d.Changed.Resolved = of(&d.To, d.Changed.Appeared), of(&d.From, d.Changed.Resolved)
	d.From, d.To = a.toldThen(ctx, d.From), a.toldThen(ctx, d.To)
	return d
}
