package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"time"

	"revidit/auth"
)

type keysCommand struct {
	List   keysList   `cmd:"" help:"List the keys that sign tokens, and which of them is in force."`
	Rotate keysRotate `cmd:"" help:"Add a key that signs tokens from now on. What was signed before stays good until it runs out, so that nobody has to log in again."`
	End    keysEnd    `cmd:"" help:"Make what a key has signed count for nothing: for one that may have been copied."`
}

// ring is the key file of a club, which has to be there.
func (f placeFlags) ring() (*auth.KeyRing, error) {
	ring, err := auth.LoadKeys(f.location().keys)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no key file %s. Nothing was changed; correct --data or --key-file, or run revidit migrate first", f.location().keys)
	}
	return ring, err
}

type keysList struct{ placeFlags }

// Run lists the keys.
func (c *keysList) Run(_ context.Context, io console) error {
	ring, err := c.ring()
	if err != nil {
		return err
	}
	keys, now := ring.TokenKeys(), time.Now()
	for i, k := range keys {
		fmt.Fprintf(io.out, "%s  since %s  %s\n", k.ID, k.Since.Format(time.RFC3339), keyStands(keys, i, now))
	}
	return nil
}

// keyStands says what has become of a key.
func keyStands(keys []auth.TokenKey, i int, now time.Time) string {
	k := keys[i]
	switch {
	case k.Ended:
		return "ended"
	case k.Since.After(now):
		return "not in force yet"
	}
	for _, later := range keys[i+1:] {
		if later.Ended || later.Since.After(now) {
			continue
		}
		if until := later.Since.Add(auth.TokenLife); until.After(now) {
			return "still good for what it has signed, until " + until.Format(time.RFC3339)
		}
		return "nothing that it has signed is left"
	}
	return "in force"
}

type keysRotate struct {
	placeFlags
	Now bool `help:"From this second on, not in a minute. Servers on other machines that have not got the file by then ask people to log in."`
}

// rotateAfter is how long every process has to read a new key before tokens are signed with it.
const rotateAfter = time.Minute

// Run adds a key.
func (c *keysRotate) Run(_ context.Context, io console) error {
	ring, err := c.ring()
	if err != nil {
		return err
	}
	since := time.Now().Add(rotateAfter)
	if c.Now {
		since = time.Now()
	}
	key, err := ring.AddTokenKey(since)
	if err != nil {
		return err
	}
	fmt.Fprintf(io.out, "The key %s signs tokens from %s on. Logins go on; servers read the file by themselves. Copy it now to wherever else it lies, and into your backup of the keys.\n",
		key.ID, key.Since.Format(time.RFC3339))
	return nil
}

type keysEnd struct {
	placeFlags
	ID string `arg:"" help:"Id of the key, as revidit keys list tells it."`
}

// Run ends a key.
func (c *keysEnd) Run(_ context.Context, io console) error {
	ring, err := c.ring()
	if err != nil {
		return err
	}
	if err := ring.EndTokenKey(c.ID, time.Now()); err != nil {
		return err
	}
	fmt.Fprintf(io.out, "What the key %s has signed counts for nothing any more. Whoever was logged in by it logs in again.\n", c.ID)
	return nil
}
