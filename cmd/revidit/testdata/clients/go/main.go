// Command round does what people do with the service, through a client that a generator has made of its OpenAPI document: a member
// submits, two reviewers confirm, a curator publishes. It ends with the address of what everybody sees.
package main

import (
	"bytes"
	"context"
	"fmt"
	"log"
	"mime/multipart"
	"net/http"
	"os"

	"revidit-client/api"
)

func main() {
	log.SetFlags(0)
	if len(os.Args) != 4 {
		log.Fatal("round BASE PASSWORD PHOTO")
	}
	base, password := os.Args[1], os.Args[2]
	photo, err := os.ReadFile(os.Args[3])
	if err != nil {
		log.Fatal(err)
	}
	if err := round(context.Background(), base, password, photo); err != nil {
		log.Fatal(err)
	}
}

func round(ctx context.Context, base, password string, photo []byte) error {
	member, err := login(ctx, base, "member", password)
	if err != nil {
		return err
	}
	taken, err := upload(ctx, member, photo)
	if err != nil {
		return err
	}
	id, err := submit(ctx, member, taken)
	if err != nil {
		return err
	}
	for _, who := range []string{"reviewer", "second"} {
		if err := review(ctx, base, who, password, id); err != nil {
			return err
		}
	}
	specimen, err := read(ctx, member, id)
	if err != nil {
		return err
	}
	if err := publish(ctx, base, password, specimen, taken); err != nil {
		return err
	}
	return logout(ctx, member)
}

// login is a client that acts as somebody.
func login(ctx context.Context, base, who, password string) (*api.ClientWithResponses, error) {
	nobody, err := api.NewClientWithResponses(base)
	if err != nil {
		return nil, err
	}
	answer, err := nobody.LogInWithResponse(ctx, api.LogInJSONRequestBody{Login: who, Password: password})
	if err != nil {
		return nil, err
	}
	if answer.JSON201 == nil {
		return nil, fmt.Errorf("log in: %s %s", answer.Status(), answer.Body)
	}
	token := answer.JSON201.Token
	return api.NewClientWithResponses(base, api.WithRequestEditorFn(func(_ context.Context, r *http.Request) error {
		r.Header.Set("Authorization", "Bearer "+token)
		return nil
	}))
}

func upload(ctx context.Context, c *api.ClientWithResponses, photo []byte) (string, error) {
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, err := w.CreateFormFile("photo", "beetle.jpg")
	if err != nil {
		return "", err
	}
	part.Write(photo)
	w.Close()
	answer, err := c.UploadPhotoWithBodyWithResponse(ctx, nil, w.FormDataContentType(), &form)
	if err != nil {
		return "", err
	}
	if answer.JSON201 == nil {
		return "", fmt.Errorf("upload: %s %s", answer.Status(), answer.Body)
	}
	return answer.JSON201.Photo.Id, nil
}

func submit(ctx context.Context, c *api.ClientWithResponses, photo string) (string, error) {
	number, family, key := "GO-1", "Elateridae", "round"
	observations := []api.ObservationForm{{Character: "prosternal-process", State: "click-spine"}, {Character: "antenna-form", State: "serrate"},
		{Character: "pronotum-hind-corners", State: "pointed"}, {Character: "ventrites", State: "5"}, {Character: "tarsi-counted", State: "5-5-5"},
		{Character: "prosternum-front", State: "lobed"}, {Character: "labrum", State: "visible"}}
	body := api.CreateSubmissionJSONRequestBody{Family: &family, Label: &api.Label{CatalogueNumber: &number}, Withheld: &api.Withheld{},
		Photos: &[]api.PhotoForm{{Photo: photo, View: "whole-below"}}, Observations: &observations}
	answer, err := c.CreateSubmissionWithResponse(ctx, &api.CreateSubmissionParams{IdempotencyKey: &key}, body)
	if err != nil {
		return "", err
	}
	if answer.JSON201 == nil {
		return "", fmt.Errorf("submit: %s %s", answer.Status(), answer.Body)
	}
	again, err := c.CreateSubmissionWithResponse(ctx, &api.CreateSubmissionParams{IdempotencyKey: &key}, body)
	if err != nil || again.JSON201 == nil || again.JSON201.Submission.Id != answer.JSON201.Submission.Id {
		return "", fmt.Errorf("submit again under the same key: %v %s", err, again.Body)
	}
	return answer.JSON201.Submission.Id, nil
}

func review(ctx context.Context, base, who, password, id string) error {
	c, err := login(ctx, base, who, password)
	if err != nil {
		return err
	}
	seen, err := c.SubmissionWithResponse(ctx, id, nil)
	if err != nil {
		return err
	}
	if seen.JSON200 == nil {
		return fmt.Errorf("%s reads: %s %s", who, seen.Status(), seen.Body)
	}
	var verdicts []api.VerdictForm
	for _, observation := range *seen.JSON200.Submission.Cites {
		verdicts = append(verdicts, api.VerdictForm{Observation: observation, Kind: api.VerdictFormKindConfirm})
	}
	tag := seen.HTTPResponse.Header.Get("ETag")
	said, err := c.ReviewSubmissionWithResponse(ctx, id, &api.ReviewSubmissionParams{IfMatch: &tag},
		api.ReviewForm{Verdicts: &verdicts, Opinion: &api.OpinionForm{Kind: api.OpinionFormKindAgrees, Basis: api.OpinionFormBasisSpecimen}})
	if err != nil {
		return err
	}
	if said.JSON200 == nil {
		return fmt.Errorf("%s reviews: %s %s", who, said.Status(), said.Body)
	}
	return logout(ctx, c)
}

// read is the specimen of what has become of a submission.
func read(ctx context.Context, c *api.ClientWithResponses, id string) (string, error) {
	seen, err := c.SubmissionWithResponse(ctx, id, nil)
	if err != nil {
		return "", err
	}
	if seen.JSON200 == nil {
		return "", fmt.Errorf("read: %s %s", seen.Status(), seen.Body)
	}
	v := seen.JSON200
	if v.Submission.Status != api.SubmissionStatusConfirmed || v.Assessment.Confidence < 0.9 {
		return "", fmt.Errorf("it is %s with %.3f", v.Submission.Status, v.Assessment.Confidence)
	}
	fmt.Printf("%s %s %.3f\n", v.Submission.Status, v.Assessment.Family, v.Assessment.Confidence)
	history, err := c.SubmissionEventsWithResponse(ctx, id)
	if err != nil {
		return "", err
	}
	if history.JSON200 == nil {
		return "", fmt.Errorf("history: %s %s", history.Status(), history.Body)
	}
	for _, e := range *history.JSON200.Entries {
		fmt.Println(e.Kind, e.Role)
	}
	return v.Specimen.Id, nil
}

func publish(ctx context.Context, base, password, specimen, photo string) error {
	c, err := login(ctx, base, "curator", password)
	if err != nil {
		return err
	}
	answer, err := c.PublishPhotosWithResponse(ctx, specimen, nil, api.PublishForm{Photos: []string{photo},
		License: "https://creativecommons.org/licenses/by/4.0/", Holder: "The club", Reason: "to be seen"})
	if err != nil {
		return err
	}
	if answer.JSON200 == nil {
		return fmt.Errorf("publish: %s %s", answer.Status(), answer.Body)
	}
	fmt.Println("published", specimen)
	return logout(ctx, c)
}

// logout ends the login; then nobody acts by it.
func logout(ctx context.Context, c *api.ClientWithResponses) error {
	answer, err := c.LogOutWithResponse(ctx)
	if err != nil {
		return err
	}
	if answer.StatusCode() != http.StatusNoContent {
		return fmt.Errorf("log out: %s %s", answer.Status(), answer.Body)
	}
	after, err := c.MeWithResponse(ctx)
	if err != nil {
		return err
	}
	if after.StatusCode() != http.StatusUnauthorized || after.ApplicationproblemJSON401 == nil || after.ApplicationproblemJSON401.Detail == "" {
		return fmt.Errorf("after logging out: %s %s", after.Status(), after.Body)
	}
	return nil
}
