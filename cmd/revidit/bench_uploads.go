package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"text/tabwriter"
	"time"
)

type benchUploads struct {
	Rounds int           `help:"Photos that are sent alone, and as many beside hostile ones." default:"15" placeholder:"N"`
	Stall  time.Duration `help:"How long stalled uploads are held." default:"5s" placeholder:"TIME"`
	Short  bool          `help:"Leave out the two pictures that take the longest and the most memory."`
}

const (
	hostileSenders = 10
	stalledEach    = 4 // uploads of each of them that stall
	benchPassword  = "measuring uploads on one machine"
)

// Run starts a server of its own with a club of its own, sends, measures and prints.
func (c *benchUploads) Run(ctx context.Context, io console) (err error) {
	if runtime.GOOS != "linux" {
		return errors.New("bench uploads reads memory from /proc, which Linux has; nothing was measured")
	}
	folder, err := os.MkdirTemp("", "revidit-uploads-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	m := &uploadsMeasuring{command: c, out: io.out, data: filepath.Join(folder, "club")}
	stop, err := m.start(ctx)
	if err != nil {
		return err
	}
	defer stop()
	fmt.Fprintf(m.out, "%s, %s/%s, %d cores; memory is that of the server and the readers together, above the server at rest.\n\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU())
	if err := m.memory(ctx); err != nil {
		return err
	}
	ratio, err := m.beside(ctx)
	if err != nil {
		return err
	}
	fmt.Fprintf(m.out, "\npeak_mib=%.0f refused_peak_mib=%.0f beside_ratio=%.2f\n", mib(m.accepted), mib(m.refused), ratio)
	return nil
}

func (c *benchUploads) kinds() []kindOfUpload {
	return slices.DeleteFunc(slices.Clone(kindsOfUpload), func(k kindOfUpload) bool { return c.Short && k.slow })
}

func mib(bytes int64) float64 { return float64(bytes) / (1 << 20) }

type uploadsMeasuring struct {
	command           *benchUploads
	out               io.Writer
	data, base        string
	server            int // its process
	tokens            []string
	accepted, refused int64 // peaks
}

// start makes a club of one honest member and the hostile ones, serves it, and logs all of them in.
func (m *uploadsMeasuring) start(ctx context.Context) (stop func(), err error) {
	if err := m.here(ctx, "", "migrate", "--data", m.data); err != nil {
		return nil, err
	}
	for i := range hostileSenders + 1 {
		if err := m.here(ctx, benchPassword+"\n", "user", "add", "--data", m.data, fmt.Sprint("member", i), fmt.Sprint("Member ", i)); err != nil {
			return nil, err
		}
	}
	own, err := os.Executable()
	if err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, own, "serve", "--insecure", "--data", m.data, "--addr", "127.0.0.1:0")
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	stop = func() { _ = cmd.Process.Kill(); _ = cmd.Wait() } // its data go with it
	m.server = cmd.Process.Pid
	lines := bufio.NewScanner(out)
	for m.base == "" && lines.Scan() {
		_, m.base, _ = strings.Cut(lines.Text(), "listening on ")
	}
	for i := range hostileSenders + 1 {
		token, err := m.login(ctx, fmt.Sprint("member", i))
		if err != nil {
			stop()
			return nil, err
		}
		m.tokens = append(m.tokens, token)
	}
	return stop, nil
}

// here runs a command in this process.
func (m *uploadsMeasuring) here(ctx context.Context, in string, args ...string) error {
	var said bytes.Buffer
	if code := run(ctx, args, console{in: strings.NewReader(in), out: io.Discard, err: &said}); code != 0 {
		return fmt.Errorf("%s: %s", args[0], said.String())
	}
	return nil
}

func (m *uploadsMeasuring) login(ctx context.Context, login string) (string, error) {
	body, err := json.Marshal(map[string]string{"login": login, "password": benchPassword})
	if err != nil {
		return "", err
	}
	_, answer, err := m.post(ctx, "/sessions", "", "application/json", body)
	if err != nil {
		return "", err
	}
	var session struct{ Token string }
	if err := json.Unmarshal(answer, &session); err != nil || session.Token == "" {
		return "", fmt.Errorf("login of %s: %s", login, answer)
	}
	return session.Token, nil
}

func (m *uploadsMeasuring) post(ctx context.Context, path, token, media string, body []byte) (int, []byte, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, m.base+"/api/v1"+path, bytes.NewReader(body))
	if err != nil {
		return 0, nil, err
	}
	request.Header.Set("Content-Type", media)
	request.Header.Set("Authorization", "Bearer "+token)
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return 0, nil, err
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	return response.StatusCode, answer, err
}

func (m *uploadsMeasuring) upload(ctx context.Context, who int, photo []byte) (int, string, error) {
	status, answer, err := m.post(ctx, "/photos", m.tokens[who], "image/jpeg", photo)
	var problem struct{ Errors []struct{ Message string } }
	if err == nil && status != http.StatusCreated && json.Unmarshal(answer, &problem) == nil && len(problem.Errors) > 0 {
		words, _, _ := strings.Cut(problem.Errors[0].Message, ". Nothing")
		return status, words, nil
	}
	return status, "", err
}

// memory sends one of each kind alone, and then the stalled ones.
func (m *uploadsMeasuring) memory(ctx context.Context) error {
	table := tabwriter.NewWriter(m.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(table, "upload\tbytes\tanswer\tseconds\tpeak MiB\t")
	for _, kind := range m.command.kinds() {
		data, err := kind.make()
		if err != nil {
			return err
		}
		var status int
		var words string
		began := time.Now()
		peak, err := peakWhile(m.server, func() (err error) { status, words, err = m.upload(ctx, 1, data); return err })
		if err != nil {
			return fmt.Errorf("%s: %w", kind.name, err)
		}
		m.note(status, peak)
		fmt.Fprintf(table, "%s\t%d\t%d %s\t%.2f\t%.0f\t\n", kind.name, len(data), status, words, time.Since(began).Seconds(), mib(peak))
	}
	peak, err := peakWhile(m.server, func() error { return m.stalled(ctx) })
	if err != nil {
		return err
	}
	m.note(http.StatusBadRequest, peak)
	fmt.Fprintf(table, "%d stalled, half of 32 MB each\t%d\tcut off\t%.2f\t%.0f\t\n", hostileSenders*stalledEach, hostileSenders*stalledEach*16_000_000, m.command.Stall.Seconds(), mib(peak))
	return table.Flush()
}

func (m *uploadsMeasuring) note(status int, peak int64) {
	if status == http.StatusCreated {
		m.accepted = max(m.accepted, peak)
		return
	}
	m.refused = max(m.refused, peak)
}

// stalled sends the first half of many uploads and then nothing more. Of each sender all but one wait before their first byte
// is read.
func (m *uploadsMeasuring) stalled(ctx context.Context) error {
	address := strings.TrimPrefix(m.base, "http://")
	ctx, cancel := context.WithTimeout(ctx, m.command.Stall)
	defer cancel()
	var all sync.WaitGroup
	half := bytes.Repeat([]byte{0xff, 0xd8, 0xff, 0xe0}, 4_000_000)
	for i := range hostileSenders * stalledEach {
		conn, err := net.Dial("tcp", address)
		if err != nil {
			return err
		}
		context.AfterFunc(ctx, func() { _ = conn.Close() })
		all.Go(func() {
			_, _ = fmt.Fprintf(conn, "POST /api/v1/photos HTTP/1.1\r\nHost: %s\r\nAuthorization: Bearer %s\r\nContent-Type: image/jpeg\r\nContent-Length: %d\r\n\r\n",
				address, m.tokens[1+i%hostileSenders], 2*len(half))
			_, _ = conn.Write(half) // ends by the server's hand or ours
		})
	}
	<-ctx.Done()
	all.Wait()
	return nil
}

// beside sends small photos alone and beside hostile senders.
func (m *uploadsMeasuring) beside(ctx context.Context) (float64, error) {
	alone, err := m.honest(ctx)
	if err != nil {
		return 0, err
	}
	var hostile [][]byte
	for _, kind := range m.command.kinds() {
		if !kind.hostile {
			continue
		}
		data, err := kind.make()
		if err != nil {
			return 0, err
		}
		hostile = append(hostile, data)
	}
	attacking, cancel := context.WithCancel(ctx)
	var all sync.WaitGroup
	for i := range hostileSenders {
		all.Go(func() {
			for n := i; attacking.Err() == nil; n++ {
				_, _, _ = m.upload(attacking, 1+i, hostile[n%len(hostile)]) // whatever becomes of them
			}
		})
	}
	time.Sleep(time.Second)
	beside, err := m.honest(ctx)
	cancel()
	all.Wait()
	if err != nil {
		return 0, err
	}
	fmt.Fprintf(m.out, "\na photo of 300 x 200: %.0f ms alone, %.0f ms beside %d hostile senders (medians of %d)\n", alone*1000, beside*1000, hostileSenders, m.command.Rounds)
	return beside / alone, nil
}

// honest is the median of the seconds that a small photo takes.
func (m *uploadsMeasuring) honest(ctx context.Context) (float64, error) {
	photo, err := noisyJPEG(300, 200)
	if err != nil {
		return 0, err
	}
	times := make([]float64, m.command.Rounds)
	for i := range times {
		began := time.Now()
		status, words, err := m.upload(ctx, 0, photo)
		if err != nil || status != http.StatusCreated {
			return 0, fmt.Errorf("an honest photo: %d %s %w", status, words, err)
		}
		times[i] = time.Since(began).Seconds()
	}
	slices.Sort(times)
	return times[len(times)/2], nil
}
