// Package apart decodes photos in processes of their own, which have limits and can be killed: what a stranger sends can
// neither fill the memory of the server nor hold its processors, and ends with its sender.
//
// The process is the same program: whatever imports this package becomes a reader of one photo, before anything else of it
// begins, when it is started with the variable that Reader sets. That holds for test programs as well.
package apart

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"revidit/review/photo"
)

// started is the variable that makes this program a reader.
const started = "REVIDIT_READ_ONE_PHOTO"

func init() {
	if os.Getenv(started) != "" {
		os.Exit(readOne(os.Args[1:]))
	}
}

// Limits of one process.
const (
	wallTime    = 90 * time.Second
	cpuSeconds  = 60
	largestFile = 64 << 20
)

// What a small photo is. Large ones are decoded one at a time and with less claim on the processors, so that a small one need
// not wait for them.
const (
	smallDecoded = 12_000_000 // bytes
	smallFile    = 4_000_000  // bytes
	smallAtOnce  = 2
)

// leastMachine is the memory of a machine, in bytes, on which heavy formats (photo.Survey.Heavy) are read: twice what one of them may take.
const leastMachine = 2 << 30

// Reader reads photos apart. It is safe for use by several goroutines.
type Reader struct {
	small, large chan struct{}
	memory       int64 // of the machine; 0 where limits cannot be set on it
}

// NewReader returns a reader of one large and two small photos at once. Pictures of heavy formats count as large, and are refused where the
// machine, or what is given to this process of it, has less than 2 GiB, or where no limit of memory can be set.
func NewReader() *Reader { return newReader(machineMemory()) }

func newReader(memory int64) *Reader {
	return &Reader{small: make(chan struct{}, smallAtOnce), large: make(chan struct{}, 1), memory: memory}
}

// Read reads the upload in a file and hands it to use before the next one is read, so that no more pictures are held than
// are read at once. A file that is not accepted gives a *photo.RefusedError; use is not called then. It returns the
// context's error when ctx ends, and the process is killed. The folder of the file is used for what the process makes.
func (r *Reader) Read(ctx context.Context, file string, l photo.Limits, use func(photo.Picture) error) error {
	survey, size, err := look(file, l)
	if err != nil {
		return err
	}
	if survey.Heavy != "" && r.memory < leastMachine {
		return refuseHeavy(survey.Heavy)
	}
	lane, isLarge := r.small, survey.Heavy != "" || survey.Decoded > smallDecoded || size > smallFile
	if isLarge {
		lane = r.large
	}
	select {
	case lane <- struct{}{}:
		defer func() { <-lane }()
	case <-ctx.Done():
		return fmt.Errorf("photo: waiting for a free reader: %w", ctx.Err())
	}
	given := allowance{memory: survey.Decoded + 3*size, low: isLarge}
	if survey.Heavy != "" {
		given.most = photo.HeavyMemory
	}
	picture, err := run(ctx, file, l, given)
	if err != nil {
		return err
	}
	return use(picture)
}

func look(file string, l photo.Limits) (photo.Survey, int64, error) {
	opened, err := os.Open(file)
	if err != nil {
		return photo.Survey{}, 0, fmt.Errorf("photo: open the upload: %w", err)
	}
	defer opened.Close()
	info, err := opened.Stat()
	if err != nil {
		return photo.Survey{}, 0, fmt.Errorf("photo: size of the upload: %w", err)
	}
	survey, err := photo.Look(opened, l)
	return survey, info.Size(), err
}

// allowance is what a process may take.
type allowance struct {
	memory int64 // bytes that the picture itself is expected to take
	low    bool  // with less claim on the processors
	most   int64 // all that it may take; 0: by what the picture is expected to
}

// limits are where the runtime begins to collect more often, and where the process ends, in bytes.
func (a allowance) limits() (soft, hard int64) {
	if a.most > 0 {
		return a.most - heavySlack, a.most
	}
	soft = a.memory + ownMemory
	return soft, soft + soft/4 + slack
}

const (
	// ownMemory is what the program takes by itself, and copies of a picture beside it.
	ownMemory = 40 << 20
	// slack is mapped memory that holds nothing: the runtime maps 64 MiB at a time.
	slack = 192 << 20
	// heavySlack is that of a heavy picture, whose decoder has most of its memory mapped at once.
	heavySlack = 64 << 20
)

func run(ctx context.Context, file string, l photo.Limits, a allowance) (photo.Picture, error) {
	ctx, cancel := context.WithTimeoutCause(ctx, wallTime, errTooLong)
	defer cancel()
	soft, hard := a.limits()
	cmd := exec.CommandContext(ctx, program(), file, strconv.FormatInt(l.Bytes, 10), strconv.FormatInt(l.Pixels, 10),
		strconv.FormatInt(hard, 10), strconv.FormatBool(a.low), strconv.Itoa(l.Large))
	// Nothing of the server's environment: it may hold a password of the database.
	cmd.Env = []string{started + "=1", "GOMEMLIMIT=" + strconv.FormatInt(soft, 10), "GOGC=10", "GOMAXPROCS=1", "GOTRACEBACK=none"}
	if shadow {
		cmd.Env = append(cmd.Env, "GORACE=atexit_sleep_ms=0") // a second otherwise, for each photo
	}
	cmd.WaitDelay = 5 * time.Second
	var said beginning
	cmd.Stderr = &said
	err := cmd.Run()
	switch {
	case errors.Is(context.Cause(ctx), errTooLong):
		return photo.Picture{}, refuse(errTooLong)
	case ctx.Err() != nil:
		return photo.Picture{}, fmt.Errorf("photo: reading apart: %w", ctx.Err())
	}
	var ended *exec.ExitError
	if errors.As(err, &ended) && ended.ExitCode() != ourFault {
		return photo.Picture{}, refuse(fmt.Errorf("%w: %s", err, said.text)) // killed for what it took, or ended by what it read
	}
	if err != nil {
		return photo.Picture{}, fmt.Errorf("photo: reading apart: %w: %s", err, said.text)
	}
	return collect(filepath.Dir(file))
}

var errTooLong = errors.New("reading took too long")

func refuse(cause error) error {
	return &photo.RefusedError{Cause: cause, Reason: "The photo takes more time or memory to read than is given to one. " +
		"Nothing of it was stored; everything else you entered is kept. Save it as an ordinary JPEG (not progressive) and send that."}
}

func refuseHeavy(format string) error {
	return &photo.RefusedError{Reason: fmt.Sprintf("The photo is a %s picture. To read one takes up to %d MiB of memory, and this server has less than %d GiB, or cannot limit what is taken: it reads JPEG, PNG and WebP. "+
		"Nothing of it was stored; everything else you entered is kept. Save the photo as JPEG and send that; cameras and phones can be set to take JPEG (\"most compatible\").", format, photo.HeavyMemory>>20, leastMachine>>30)}
}

// program is this program, even where its file has been replaced by a newer one.
func program() string {
	if runtime.GOOS == "linux" {
		return "/proc/self/exe"
	}
	path, err := os.Executable()
	if err != nil {
		return os.Args[0]
	}
	return path
}

// beginning keeps the first bytes that are written to it.
type beginning struct{ text []byte }

func (b *beginning) Write(p []byte) (int, error) {
	b.text = append(b.text, p[:min(len(p), 2000-len(b.text))]...)
	return len(p), nil
}

// answer is what a process leaves beside the pictures.
type answer struct {
	Refused string
	Picture photo.Picture // without bytes
}

// Files that a process leaves in the folder of the upload.
const (
	answerFile   = "answer"
	originalFile = "original"
	displayFile  = "display"
	middleFile   = "middle"
	thumbFile    = "thumb"
	largeFile    = "large"
)

func collect(folder string) (photo.Picture, error) {
	text, err := os.ReadFile(filepath.Join(folder, answerFile))
	if err != nil {
		return photo.Picture{}, fmt.Errorf("photo: what was read apart: %w", err)
	}
	var a answer
	if err := json.Unmarshal(text, &a); err != nil {
		return photo.Picture{}, fmt.Errorf("photo: what was read apart: %w", err)
	}
	if a.Refused != "" {
		return photo.Picture{}, &photo.RefusedError{Reason: a.Refused}
	}
	for name, into := range files(&a.Picture) {
		if *into, err = os.ReadFile(filepath.Join(folder, name)); err != nil {
			return photo.Picture{}, fmt.Errorf("photo: what was read apart: %w", err)
		}
		if len(*into) == 0 {
			*into = nil
		}
	}
	return a.Picture, nil
}

// files are the bytes of a picture by the names under which they are handed over.
func files(p *photo.Picture) map[string]*[]byte {
	return map[string]*[]byte{originalFile: &p.Original, displayFile: &p.Display, middleFile: &p.Middle, thumbFile: &p.Thumb, largeFile: &p.Large}
}
