package web

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/service"
)

type newsInput struct {
	Caller
	Paging
	Unread bool `query:"unread" doc:"Only what is not read yet"`
}

type newsOutput struct{ Body service.NewsList }

type readNewsInput struct {
	Caller
	Keyed
	Body struct {
		ID    string     `json:"id,omitempty" maxLength:"60" doc:"What was read"`
		Until *time.Time `json:"until,omitempty" doc:"Or the time of the latest that was read, with everything before it"`
	}
}

type unreadOutput struct {
	Body struct {
		Unread int `json:"unread" doc:"How much is not read; 100 stands for any number above 99"`
	}
}

func (a *api) registerNews() {
	huma.Register(a.doors, operation(http.MethodGet, "/news", "news", "news",
		"What happened to what concerns the caller, the latest first: codes and ids. Who reviews is told no more than lists tell everybody"), a.news)
	changes[readNewsInput](a, operation(http.MethodPost, "/news/read", "read-news", "news", "Note that news was read", http.StatusNotFound,
		http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType), a.readNews,
		func(ctx context.Context, in *readNewsInput, _ string) (*unreadOutput, error) {
			return a.unread(ctx, in.actor)
		})
	huma.Register(a.doors, operation(http.MethodGet, "/me/mail", "mail", "news", "What the caller is sent by mail, and where"), a.mail)
	changes[chooseMailInput](a, operation(http.MethodPut, "/me/mail", "choose-mail", "news",
		"Choose what is sent, how often and where. The reader of a new address is asked first; at-once always sends what waits for its reader",
		http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType), a.chooseMail,
		func(ctx context.Context, in *chooseMailInput, _ string) (*mailOutput, error) {
			return a.mail(ctx, &callerInput{in.Caller})
		})
}

type chooseMailInput struct {
	Caller
	Keyed
	Body review.MailForm
}

type mailOutput struct{ Body service.MailView }

func (a *api) mail(ctx context.Context, in *callerInput) (*mailOutput, error) {
	view, err := a.Service.Mail(ctx, in.actor)
	if err != nil {
		return nil, err
	}
	return &mailOutput{Body: view}, nil
}

func (a *api) chooseMail(ctx context.Context, in *chooseMailInput) (*mailOutput, error) {
	if err := a.Service.ChooseMail(ctx, in.actor, in.Body); err != nil {
		return nil, err
	}
	return a.mail(ctx, &callerInput{in.Caller})
}

func (a *api) news(ctx context.Context, in *newsInput) (*newsOutput, error) {
	list, err := a.Service.News(ctx, in.actor, in.Unread, in.page())
	if err != nil {
		return nil, err
	}
	return &newsOutput{Body: list}, nil
}

func (a *api) readNews(ctx context.Context, in *readNewsInput) (*unreadOutput, error) {
	var err error
	switch {
	case (in.Body.ID == "") == (in.Body.Until == nil):
		err = review.Invalidf("until", "either id or until is given, and not both")
	case in.Body.Until != nil:
		err = a.Service.ReadNewsUntil(ctx, in.actor, *in.Body.Until)
	default:
		_, err = a.Service.ReadNews(ctx, in.actor, in.Body.ID)
	}
	if err != nil {
		return nil, err
	}
	return a.unread(ctx, in.actor)
}

func (a *api) unread(ctx context.Context, actor review.Actor) (*unreadOutput, error) {
	out := &unreadOutput{}
	var err error
	out.Body.Unread, err = a.Service.UnreadNews(ctx, actor)
	return out, err
}
