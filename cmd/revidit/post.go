package main

import (
	"errors"

	"revidit/review/service"
	"revidit/web/mail"
	"revidit/web/pages"
)

// mailFlags say who takes the letters of a club.
type mailFlags struct {
	URL          string `help:"Where the pages are found, https://…: links of letters lead there." env:"REVIDIT_URL" placeholder:"URL"`
	MailServer   string `help:"Mail server that takes letters (host:port); empty: none are sent." env:"REVIDIT_MAIL_SERVER" placeholder:"HOST:PORT"`
	MailSecurity string `help:"Way to it: starttls, tls from the first byte, or none (on the same machine)." enum:"starttls,tls,none" default:"starttls" env:"REVIDIT_MAIL_SECURITY"`
	MailUser     string `help:"Login of the mail server; empty: none." env:"REVIDIT_MAIL_USER" placeholder:"NAME"`
	MailPassword string `help:"Its password; the environment keeps it out of the list of processes." env:"REVIDIT_MAIL_PASSWORD" placeholder:"PASSWORD"`
	MailFrom     string `help:"Address from which letters come." env:"REVIDIT_MAIL_FROM" placeholder:"ADDRESS"`
}

// post is who writes and sends letters; nil: nobody.
func (f mailFlags) post(library *service.Library) (*service.Post, error) {
	if f.MailServer == "" {
		if f.MailUser != "" || f.MailPassword != "" || f.MailFrom != "" {
			return nil, errors.New("--mail-user, --mail-password and --mail-from need --mail-server")
		}
		return nil, nil
	}
	server, err := f.server(library)
	if err != nil {
		return nil, err
	}
	return &service.Post{Write: server.Write, Send: server.Send}, nil
}

// server is the mail server that the flags name.
func (f mailFlags) server(library *service.Library) (*mail.SMTP, error) {
	if f.URL == "" || f.MailFrom == "" {
		return nil, errors.New("--mail-server needs --url and --mail-from: a letter comes from an address, and its links lead somewhere")
	}
	server := mail.SMTP{Site: mail.Site{URL: f.URL, From: f.MailFrom, Books: booksOf(library)}, Server: f.MailServer, Security: mail.Security(f.MailSecurity),
		User: f.MailUser, Password: f.MailPassword}
	if err := server.Check(); err != nil {
		return nil, err
	}
	return &server, nil
}

// booksOf are the words of the tables that the program brings.
func booksOf(library *service.Library) (books []pages.Book) {
	for _, tables := range library.Tables() {
		books = append(books, pages.BookOf(tables))
	}
	return books
}
