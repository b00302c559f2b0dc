package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"mime/multipart"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/cmd/revidit/drawing"
)

// client speaks the JSON API of a started program as one person.
type client struct {
	base, token string       // of a program
	cookie      *http.Cookie // of a browser, where there is no token, and on pages
	http        http.Client
}

func loginClient(t *testing.T, p *program, login string) *client {
	t.Helper()
	c := &client{base: p.address + "/api/v1", http: http.Client{Timeout: 30 * time.Second}}
	var session struct {
		Token string `json:"token"`
	}
	status, err := c.send("POST", "/sessions", map[string]string{"login": login, "password": testPassword}, nil, &session)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	c.token = session.Token
	return c
}

// pagesClient is loginClient for somebody who looks at pages, too.
func pagesClient(t *testing.T, p *program, login string) *client {
	t.Helper()
	c := loginClient(t, p, login)
	c.cookie = cookieOf(t, p.address, login, testPassword)
	return c
}

// send returns the status, or an error when no whole answer came; into may be nil.
func (c *client) send(method, path string, body any, header map[string]string, into any) (int, error) {
	text, err := json.Marshal(body)
	if err != nil {
		return 0, err
	}
	return c.do(method, path, "application/json", text, header, into)
}

func (c *client) do(method, path, media string, body []byte, header map[string]string, into any) (int, error) {
	request, err := http.NewRequest(method, c.base+path, bytes.NewReader(body))
	if err != nil {
		return 0, err
	}
	request.Header.Set("Content-Type", media)
	if c.token != "" {
		request.Header.Set("Authorization", "Bearer "+c.token)
	} else if c.cookie != nil {
		request.AddCookie(c.cookie)
	}
	for name, value := range header {
		request.Header.Set(name, value)
	}
	response, err := c.http.Do(request)
	if err != nil {
		return 0, err
	}
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	if err != nil {
		return 0, err
	}
	if into == nil {
		return response.StatusCode, nil
	}
	return response.StatusCode, json.Unmarshal(text, into)
}

// upload stores a drawn picture and returns its id.
func (c *client) upload(t *testing.T, picture []byte) string {
	t.Helper()
	id, status, err := c.tryUpload(picture)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	return id
}

// tryUpload returns an error when no whole answer came.
func (c *client) tryUpload(picture []byte) (id string, status int, err error) {
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, err := w.CreateFormFile("photo", "beetle.jpg")
	if err == nil {
		_, err = part.Write(picture)
	}
	if err := errors.Join(err, w.Close()); err != nil {
		return "", 0, err
	}
	var stored struct {
		Photo struct {
			ID string `json:"id"`
		} `json:"photo"`
	}
	status, err = c.do("POST", "/photos", w.FormDataContentType(), form.Bytes(), nil, &stored)
	return stored.Photo.ID, status, err
}

func drawnPicture(t *testing.T, view string) []byte {
	t.Helper()
	data, _, err := drawing.DrawJPEG(drawing.Beetle{States: map[string]string{"antenna-form": "serrate"}, LengthMM: 11, Seed: 1}, drawing.View(view), 480, 360)
	require.NoError(t, err)
	return data
}

type observation map[string]string

// clickBeetle is a submission of a click beetle; it cites the uploaded photo.
func clickBeetle(number, photo string) map[string]any {
	return map[string]any{
		"label": map[string]any{"catalogue_number": number}, "withheld": map[string]any{}, "family": "Elateridae",
		"photos": []map[string]string{{"photo": photo, "view": "whole-below"}},
		"observations": []observation{{"character": "prosternal-process", "state": "click-spine"},
			{"character": "antenna-form", "state": "serrate"}, {"character": "pronotum-hind-corners", "state": "pointed"},
			{"character": "ventrites", "state": "5"}, {"character": "tarsi-counted", "state": "5-5-5"}},
	}
}
