package pageserve

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"carryover/internal/page"
)

// served is a server on a folder, with a client that has its key.
type served struct {
	t      testing.TB
	dir    string
	host   string
	server *Server
	client *http.Client
	cookie *http.Cookie
	stop   func() error
}

func serve(t testing.TB) *served {
	dir := t.TempDir()
	folder, err := OpenFolder(dir)
	require.NoError(t, err)
	p, err := page.New("", time.Now)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s := &served{t: t, dir: dir, host: l.Addr().String(), server: New(p, folder, l.Addr())}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- s.server.Serve(ctx, l) }()
	stopped := false
	s.stop = func() error {
		if stopped {
			return nil
		}
		stopped = true
		cancel()
		return errors.Join(<-done, folder.Close())
	}
	s.client = &http.Client{Transport: &http.Transport{}, CheckRedirect: func(*http.Request,
		[]*http.Request) error {
		return http.ErrUseLastResponse
	}}
	t.Cleanup(func() { s.client.CloseIdleConnections(); require.NoError(t, s.stop()) })
	r := s.do(http.MethodGet, s.server.Addresses()[0], nil, nil)
	require.Len(t, r.Cookies(), 1)
	s.cookie = r.Cookies()[0]
	require.True(t, s.cookie.HttpOnly)
	require.Equal(t, http.SameSiteStrictMode, s.cookie.SameSite)
	return s
}

type header map[string]string

// do asks, with the key where there is one; "-" takes a header out.
func (s *served) do(method, address string, body io.Reader, h header) *http.Response {
	if strings.HasPrefix(address, "/") {
		address = "http://" + s.host + address
	}
	req, err := http.NewRequest(method, address, body)
	require.NoError(s.t, err)
	if s.cookie != nil {
		req.AddCookie(s.cookie)
	}
	for k, v := range h {
		switch {
		case k == "Host":
			req.Host = v
		case v == "-":
			req.Header.Del(k)
		default:
			req.Header.Set(k, v)
		}
	}
	r, err := s.client.Do(req)
	require.NoError(s.t, err)
	whole, err := io.ReadAll(r.Body) // and let the connection go
	require.NoError(s.t, errors.Join(err, r.Body.Close()))
	r.Body = io.NopCloser(bytes.NewReader(whole))
	return r
}

func (s *served) form(path string, form url.Values, h header) *http.Response {
	all := header{"Content-Type": "application/x-www-form-urlencoded", "Origin": "http://" + s.host}
	for k, v := range h {
		all[k] = v
	}
	return s.do(http.MethodPost, path, strings.NewReader(form.Encode()), all)
}

func text(t testing.TB, r *http.Response) string {
	b, err := io.ReadAll(r.Body)
	require.NoError(t, err)
	return string(b)
}

func TestOnlyWhoHasTheKeyGetsIn(t *testing.T) {
	s := serve(t)
	own, port := "http://"+s.host, s.host[strings.LastIndex(s.host, ":"):]
	for name, c := range map[string]struct {
		h      header
		method string
		status int
	}{
		"with the key":            {header{}, "GET", 200},
		"own origin":              {header{"Origin": own}, "GET", 200},
		"by another name for it":  {header{"Host": "localhost" + port, "Origin": "http://localhost" + port}, "GET", 200},
		"without a key":           {header{"Cookie": "-"}, "GET", 403},
		"with a wrong key":        {header{"Cookie": s.cookie.Name + "=wrong"}, "GET", 403},
		"with an empty key":       {header{"Cookie": s.cookie.Name + "="}, "GET", 403},
		"rebound to another name": {header{"Host": "evil.example" + port}, "GET", 421},
		"another port's name":     {header{"Host": "127.0.0.1:1"}, "GET", 421},
		"no host at all":          {header{"Host": "x"}, "GET", 421},
		"from another page":       {header{"Origin": "http://evil.example"}, "GET", 403},
		"from a file":             {header{"Origin": "null"}, "GET", 403},
		"from another site":       {header{"Sec-Fetch-Site": "cross-site"}, "GET", 403},
		"a form of another page":  {header{"Origin": "http://evil.example"}, "POST", 403},
		"a form of no page":       {header{"Origin": "-"}, "POST", 403},
		"another method":          {header{}, "PUT", 405},
		"a trace":                 {header{}, "TRACE", 405},
	} {
		r := s.do(c.method, "/", nil, c.h)
		require.Equal(t, c.status, r.StatusCode, name)
		require.Contains(t, r.Header.Get("Content-Security-Policy"), "default-src 'none'", name)
		require.NotContains(t, r.Header.Get("Content-Security-Policy"), "unsafe", name)
		require.Empty(t, r.Header.Get("Access-Control-Allow-Origin"), name)
	}
	require.Equal(t, 403, s.do("GET", "/?token=wrong", nil, nil).StatusCode)
	entered := s.do("GET", "//evil.example/?token="+s.server.token, nil, nil)
	require.NotContains(t, text(t, entered), "//evil", "the key never leads to another host")
}

func TestFilesGoInAndOut(t *testing.T) {
	s := serve(t)
	toml := "schema = 1\nname = \"Blue\"\n[feet]\ncrank = 170.0\n[saddle]\n[bar]\n"
	require.Equal(t, 303, s.form("/save", url.Values{"file": {"blue.toml"}, "text": {strings.ReplaceAll(toml, "\n", "\r\n")}}, nil).StatusCode)
	got, err := os.ReadFile(filepath.Join(s.dir, "blue.toml"))
	require.NoError(t, err)
	require.Equal(t, toml, string(got))
	r := s.do("GET", "/file?file=blue.toml", nil, nil)
	require.Equal(t, `attachment; filename=blue.toml`, r.Header.Get("Content-Disposition"))
	require.Contains(t, r.Header.Get("Content-Security-Policy"), "sandbox")
	require.Equal(t, toml, text(t, r))
	// A form with a file in it, as a browser without the script sends it.
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	f, err := w.CreateFormFile("bring", "brought.toml")
	require.NoError(t, err)
	_, _ = io.WriteString(f, toml)
	require.NoError(t, w.WriteField("text", ""))
	require.NoError(t, w.WriteField("file", ""))
	require.NoError(t, w.Close())
	require.Equal(t, 303, s.do("POST", "/save", &body, header{"Content-Type": w.FormDataContentType(), "Origin": "http://" +
		s.host}).StatusCode)
	require.FileExists(t, filepath.Join(s.dir, "brought.toml"))
	require.Contains(t, text(t, s.do("GET", "/", nil, nil)), "Blue")
}

// Nothing outside of the folder is read or written, by whatever way.
func TestTheFolderHolds(t *testing.T) {
	s := serve(t)
	outside := t.TempDir()
	secret := filepath.Join(outside, "secret.toml")
	require.NoError(t, os.WriteFile(secret, []byte("secret = 1\n"), 0o600))
	require.NoError(t, os.Symlink(secret, filepath.Join(s.dir, "link.toml")))
	require.NoError(t, os.Symlink(outside, filepath.Join(s.dir, "out")))
	require.NoError(t, os.Symlink("/etc/passwd", filepath.Join(s.dir, "passwd.toml")))
	require.NoError(t, syscall.Mkfifo(filepath.Join(s.dir, "pipe.toml"), 0o600))
	require.NoError(t, os.Mkdir(filepath.Join(s.dir, "folder.toml"), 0o700))
	part := "schema = 1\n[feet]\ncrank = 170.0\n[saddle]\npart = \"file:../../%s\"\n[bar]\n"
	require.NoError(t, os.WriteFile(filepath.Join(s.dir, "part.toml"), fmt.Appendf(nil, part, strings.TrimPrefix(secret, "/")), 0o600))
	for _, file := range []string{"link.toml", "passwd.toml", "out/secret.toml", "../" + filepath.Base(outside) + "/secret.toml", secret,
		"pipe.toml", "folder.toml", ".", ""} {
		r := s.do("GET", "/file?file="+url.QueryEscape(file), nil, nil)
		require.Equal(t, 404, r.StatusCode, file)
		require.NotContains(t, text(t, r), "secret = 1", file)
	}
	require.NotContains(t, text(t, s.do("GET", "/bike?file=part.toml", nil, nil)), "secret = 1")
	home := text(t, s.do("GET", "/", nil, nil))
	for _, name := range []string{"link.toml", "passwd.toml", "pipe.toml", "folder.toml"} {
		require.NotContains(t, home, name)
	}
	for _, name := range []string{"link.toml", "out/new.toml", "../new.toml", "pipe.toml"} {
		require.GreaterOrEqual(t, s.form("/save", url.Values{"file": {name}, "text": {"x = 1\n"},
			"was": {page.Version([]byte("secret = 1\n"))}}, nil).StatusCode, 400, name)
	}
	got, err := os.ReadFile(secret)
	require.NoError(t, err)
	require.Equal(t, "secret = 1\n", string(got))
	entries, err := os.ReadDir(outside)
	require.NoError(t, err)
	require.Len(t, entries, 1)
}

// A file is written whole or not at all: on a full disk what was there stays, and nothing is left over.
func TestFullDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "small")
	require.NoError(t, os.Mkdir(dir, 0o700))
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=64k"); err != nil {
		t.Skip("no small disk can be made here: ", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, 0) })
	f, err := OpenFolder(dir)
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, f.Save("a.toml", []byte("old\n"), ""))
	large := bytes.Repeat([]byte("# x\n"), 50_000)
	err = f.Save("a.toml", large, page.Version([]byte("old\n")))
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NotContains(t, err.Error(), ".carryover-")
	require.ErrorIs(t, f.Save("b.toml", large, ""), syscall.ENOSPC)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, entries, 1)
	got, err := os.ReadFile(filepath.Join(dir, "a.toml"))
	require.NoError(t, err)
	require.Equal(t, "old\n", string(got))
}

func TestChangedOnDisk(t *testing.T) {
	f, err := OpenFolder(t.TempDir())
	require.NoError(t, err)
	defer f.Close()
	require.NoError(t, f.Save("a.toml", []byte("one\n"), ""))
	require.NoError(t, os.Chmod(filepath.Join(f.root.Name(), "a.toml"), 0o640))
	require.ErrorIs(t, f.Save("a.toml", []byte("two\n"), ""), page.ErrChanged)
	require.ErrorIs(t, f.Save("a.toml", []byte("two\n"), page.Version([]byte("none\n"))), page.ErrChanged)
	require.ErrorIs(t, f.Save("gone.toml", []byte("two\n"), page.Version([]byte("one\n"))), page.ErrChanged)
	require.NoError(t, f.Save("a.toml", []byte("two\n"), page.Version([]byte("one\n"))))
	info, err := os.Stat(filepath.Join(f.root.Name(), "a.toml"))
	require.NoError(t, err)
	require.EqualValues(t, 0o640, info.Mode().Perm())
}

// What is deleted is what somebody saw, a file of the folder, and nothing else.
func TestDeletedAsSeen(t *testing.T) {
	s := serve(t)
	secret := filepath.Join(t.TempDir(), "secret.toml")
	require.NoError(t, os.WriteFile(secret, []byte("x = 1\n"), 0o600))
	require.NoError(t, os.Symlink(secret, filepath.Join(s.dir, "link.toml")))
	require.NoError(t, os.WriteFile(filepath.Join(s.dir, "a.toml"), []byte("x = 1\n"), 0o600))
	was := page.Version([]byte("x = 1\n"))
	for _, name := range []string{"link.toml", "../" + filepath.Base(s.dir) + "/a.toml", secret, "nosuch.toml"} {
		require.GreaterOrEqual(t, s.form("/delete", url.Values{"file": {name}, "was": {was}}, nil).StatusCode, 400, name)
	}
	require.Equal(t, 409, s.form("/delete", url.Values{"file": {"a.toml"}, "was": {"other"}}, nil).StatusCode)
	require.Equal(t, 403, s.form("/delete", url.Values{"file": {"a.toml"}, "was": {was}}, header{"Origin": "http://evil.example"}).StatusCode)
	require.FileExists(t, filepath.Join(s.dir, "a.toml"))
	require.Equal(t, 303, s.form("/delete", url.Values{"file": {"a.toml"}, "was": {was}}, nil).StatusCode)
	require.NoFileExists(t, filepath.Join(s.dir, "a.toml"))
	require.FileExists(t, secret)
	_, err := os.Lstat(filepath.Join(s.dir, "link.toml"))
	require.NoError(t, err)
}

// A thousand requests of a hostile neighbour leave nothing open, nothing written, and the memory as it was.
func TestAThousandHostileRequests(t *testing.T) {
	s := serve(t)
	require.NoError(t, os.WriteFile(filepath.Join(s.dir, "a.toml"), []byte("schema = 1\n"), 0o600))
	long := strings.Repeat("a", 8000)
	hostile := []func(i int){
		func(i int) { s.do("GET", "/", nil, header{"Cookie": fmt.Sprintf("%s=%d", s.cookie.Name, i)}) },
		func(int) { s.do("GET", "/", nil, header{"Host": "evil.example"}) },
		func(i int) { s.do("GET", fmt.Sprintf("/bike?file=..%%2f..%%2f%d.toml", i), nil, nil) },
		func(int) { s.do("GET", "/new?q=5&height="+long, nil, nil) },
		func(i int) { s.do("GET", fmt.Sprintf("/carry?from=%s&to=%d", long, i), nil, nil) },
		func(int) { s.form("/save", url.Values{"file": {"../x.toml"}, "text": {long}}, nil) },
		func(i int) {
			s.form("/save", url.Values{"file": {"a.toml"}, "text": {long}, "was": {fmt.Sprint(i)}}, nil)
		},
		func(int) {
			s.form("/save", url.Values{"file": {"x.toml"}, "text": {long}}, header{"Origin": "http://evil.example"})
		},
		func(int) {
			r := s.do("POST", "/save", io.LimitReader(zeros{}, 3<<20), header{"Content-Type": "application/x-www-form-urlencoded",
				"Origin": "http://" + s.host})
			require.Equal(t, http.StatusRequestEntityTooLarge, r.StatusCode)
		},
		func(int) { // half a request, then silence
			c, err := net.Dial("tcp", s.host)
			require.NoError(t, err)
			_, _ = io.WriteString(c, "POST /save HTTP/1.1\r\nHost: "+s.host+"\r\nContent-Length: 100000\r\n\r\nfile=")
			_ = c.Close()
		},
	}
	round := func(n int) uint64 {
		for i := range n {
			hostile[i%len(hostile)](i)
		}
		s.client.CloseIdleConnections()
		time.Sleep(200 * time.Millisecond)
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	before := round(200)
	files, goroutines := openFiles(t), runtime.NumGoroutine()
	after := round(1000)
	require.Less(t, after, before+8<<20, "memory grows")
	require.Eventually(t, func() bool { return openFiles(t) <= files && runtime.NumGoroutine() <= goroutines }, 20*time.Second,
		50*time.Millisecond,
		"something stays open")
	entries, err := os.ReadDir(s.dir)
	require.NoError(t, err)
	require.Len(t, entries, 1)
	got, err := os.ReadFile(filepath.Join(s.dir, "a.toml"))
	require.NoError(t, err)
	require.Equal(t, "schema = 1\n", string(got))
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

func openFiles(t testing.TB) int {
	entries, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		t.Skip("this system does not list open files")
	}
	return len(entries)
}

// Stopping lets what is under way end, and refuses what comes later.
func TestStopsCleanly(t *testing.T) {
	s := serve(t)
	answers := make(chan int, 8)
	for i := range cap(answers) {
		go func() {
			answers <- s.form("/save", url.Values{"file": {fmt.Sprintf("b%d.toml", i)}, "text": {"schema = 1\n"}}, nil).StatusCode
		}()
	}
	written := 0
	for range cap(answers) {
		if <-answers == 303 {
			written++
		}
	}
	require.NoError(t, s.stop())
	entries, err := os.ReadDir(s.dir)
	require.NoError(t, err)
	require.Len(t, entries, written)
	_, err = net.DialTimeout("tcp", s.host, time.Second)
	require.Error(t, err)
}

// More than a few requests at once are turned away, and answered again once there is room.
func TestTooManyAtOnce(t *testing.T) {
	s := serve(t)
	for range maxWaiting {
		s.server.waiting <- struct{}{}
	}
	r := s.do("GET", "/", nil, nil)
	require.Equal(t, http.StatusServiceUnavailable, r.StatusCode)
	require.Equal(t, "1", r.Header.Get("Retry-After"))
	<-s.server.waiting
	require.Equal(t, http.StatusOK, s.do("GET", "/", nil, nil).StatusCode)
}

// A connection that has opened more than its share waits until another is closed.
func TestTooManyConnections(t *testing.T) {
	s := serve(t)
	s.client.CloseIdleConnections()
	var open []net.Conn
	for range maxOpen {
		c, err := net.Dial("tcp", s.host)
		require.NoError(t, err)
		open = append(open, c)
	}
	answered := make(chan int, 1)
	go func() { answered <- s.do("GET", "/", nil, nil).StatusCode }()
	select {
	case <-answered:
		require.Fail(t, "answered beside as many connections as may be open")
	case <-time.After(300 * time.Millisecond):
	}
	for _, c := range open {
		require.NoError(t, c.Close())
	}
	require.Equal(t, http.StatusOK, <-answered)
}

// What is being written when the server is told to stop is written, whole.
func TestStopWaitsForWhatIsUnderWay(t *testing.T) {
	s := serve(t)
	s.server.working.Lock() // a request before it takes its time
	status := make(chan int, 1)
	go func() {
		status <- s.form("/save", url.Values{"file": {"a.toml"}, "text": {"schema = 1\n"}}, nil).StatusCode
	}()
	require.Eventually(t, func() bool { return len(s.server.waiting) == 1 }, 20*time.Second, time.Millisecond)
	stopped := make(chan error, 1)
	go func() { stopped <- s.stop() }()
	require.Eventually(t, func() bool {
		c, err := net.Dial("tcp", s.host)
		if err == nil {
			_ = c.Close()
		}
		return err != nil
	}, 20*time.Second, time.Millisecond, "nobody new gets in")
	s.server.working.Unlock()
	require.Equal(t, http.StatusSeeOther, <-status)
	require.NoError(t, <-stopped)
	require.FileExists(t, filepath.Join(s.dir, "a.toml"))
}
