package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"revidit/models/bag"
	"revidit/review"
	"revidit/review/service"
)

// outsideFlags say where a checkpoint of the history goes once a day: to places that whoever changes the database cannot change.
type outsideFlags struct {
	CheckpointFolder  string `help:"Folder into which a checkpoint of the history is written once a day; best on another machine's disk." env:"REVIDIT_CHECKPOINT_FOLDER" placeholder:"DIR"`
	CheckpointMail    string `help:"Address to which it is sent once a day, by --mail-server." env:"REVIDIT_CHECKPOINT_MAIL" placeholder:"ADDRESS"`
	CheckpointWebhook string `help:"Address (https://…) to which it is posted once a day, as text." env:"REVIDIT_CHECKPOINT_WEBHOOK" placeholder:"URL"`
}

// places are those that the flags name.
func (f outsideFlags) places(mail mailFlags, library *service.Library) (places []service.Place, err error) {
	if f.CheckpointFolder != "" {
		if info, err := os.Stat(f.CheckpointFolder); err != nil || !info.IsDir() {
			return nil, fmt.Errorf("--checkpoint-folder %s is no folder that is there: make it first", f.CheckpointFolder)
		}
		places = append(places, service.Place{Name: "the folder " + f.CheckpointFolder, Put: intoFolder(f.CheckpointFolder)})
	}
	if f.CheckpointMail != "" {
		place, err := byMail(f.CheckpointMail, mail, library)
		if err != nil {
			return nil, err
		}
		places = append(places, place)
	}
	if f.CheckpointWebhook != "" {
		at, err := url.Parse(f.CheckpointWebhook)
		if err != nil || at.Host == "" || at.Scheme != "https" && at.Scheme != "http" {
			return nil, fmt.Errorf("--checkpoint-webhook %q is no address; it should look like https://archive.example/checkpoints", f.CheckpointWebhook)
		}
		places = append(places, service.Place{Name: "the webhook at " + at.Host, Put: toWebhook(f.CheckpointWebhook)})
	}
	return places, nil
}

// checkpointName is that of its file: names of longer trees come later.
func checkpointName(c review.SignedCheckpoint) string {
	return fmt.Sprintf("checkpoint-%012d.txt", c.Size)
}

// intoFolder writes each checkpoint into a file of its own, and never over one. What stands there must be the same.
func intoFolder(folder string) func(context.Context, review.SignedCheckpoint) error {
	return func(_ context.Context, c review.SignedCheckpoint) error {
		place := filepath.Join(folder, checkpointName(c))
		former, err := os.ReadFile(place)
		if err == nil && string(former) == c.Signed {
			return nil
		}
		if err == nil {
			return fmt.Errorf("%s says something else than the checkpoint of %d events that the database has: one of them was changed", place, c.Size)
		}
		if !errors.Is(err, os.ErrNotExist) {
			return err
		}
		draft, err := os.CreateTemp(folder, ".checkpoint-")
		if err != nil {
			return err
		}
		defer os.Remove(draft.Name())
		_, err = draft.WriteString(c.Signed)
		if err := errors.Join(err, draft.Chmod(0o644), draft.Sync(), draft.Close()); err != nil {
			return err
		}
		if err := os.Link(draft.Name(), place); err != nil { // unlike a renaming it replaces nothing
			return err
		}
		return bag.Sync(folder)
	}
}

// byMail sends a letter of each.
func byMail(to string, flags mailFlags, library *service.Library) (service.Place, error) {
	var p review.Problems
	review.CheckAddress(&p, "the address for checkpoints", to)
	if err := p.Err(); err != nil {
		return service.Place{}, err
	}
	if flags.MailServer == "" {
		return service.Place{}, errors.New("--checkpoint-mail needs --mail-server")
	}
	server, err := flags.server(library)
	if err != nil {
		return service.Place{}, err
	}
	return service.Place{Name: "mail to " + to, Put: func(ctx context.Context, c review.SignedCheckpoint) error {
		return server.Send(ctx, checkpointLetter(to, c))
	}}, nil
}

// checkpointLetter is the letter of a checkpoint, with the note as it was signed: a line of its own, so that it can be cut out.
func checkpointLetter(to string, c review.SignedCheckpoint) service.Message {
	return service.Message{ID: fmt.Sprintf("checkpoint-%d", c.Size), To: to, At: c.At, Subject: fmt.Sprintf("Checkpoint of the history: %d events", c.Size),
		Text: fmt.Sprintf("Keep this letter. With what stands between the lines and the public key, revidit verify can tell later\n"+
			"whether any of the %d events until now was altered, added or removed.\n\n--------\n%s--------\n\nPublic key: %s\n", c.Size, c.Signed, c.Key)}
}

// webhookTime is how long a call may take.
const webhookTime = 15 * time.Second

// toWebhook posts each. It follows no redirection, which would be another place than the one chosen.
func toWebhook(address string) func(context.Context, review.SignedCheckpoint) error {
	client := &http.Client{Timeout: webhookTime, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	return func(ctx context.Context, c review.SignedCheckpoint) error {
		request, err := http.NewRequestWithContext(ctx, http.MethodPost, address, strings.NewReader(c.Signed))
		if err != nil {
			return err
		}
		request.Header.Set("Content-Type", "text/plain; charset=utf-8")
		answer, err := client.Do(request)
		if err != nil {
			return err
		}
		defer answer.Body.Close()
		_, _ = io.Copy(io.Discard, io.LimitReader(answer.Body, 1<<16)) // so that the connection can be used again
		if answer.StatusCode < 200 || answer.StatusCode > 299 {
			return fmt.Errorf("it answered %s", answer.Status)
		}
		return nil
	}
}
