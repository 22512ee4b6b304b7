package pageserve

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"html"
	"io"
	"log"
	"mime"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/net/netutil"

	"carryover/internal/page"
)

// What one request, and all of them together, may take.
const (
	maxBody    = page.MaxFile + 1<<16 // bytes; a file that is edited, with the fields beside it
	maxHeader  = 16 << 10             // bytes; what has been typed stands in the address
	maxWaiting = 16                   // requests in line; one is answered at a time
	maxOpen    = 64                   // connections
	maxWork    = 10 * time.Second     // to answer one
	readTime   = 10 * time.Second     // for a request to come in
	idleTime   = time.Minute
	stopTime   = 5 * time.Second // for what is under way to end
	cookieDays = 1
	tokenName  = "token"
	typeScript = "text/javascript; charset=utf-8"
	typeStyle  = "text/css; charset=utf-8"
	typePlain  = "text/plain; charset=utf-8"
	policy     = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; " +
		"base-uri 'none'; frame-ancestors 'none'"
	policyAside = "sandbox; default-src 'none'; style-src 'unsafe-inline'; img-src data:" // for a file that is handed out
)

// Server shows one folder's page to whoever has the token.
type Server struct {
	page    *page.Page
	store   page.Store
	token   string
	hosts   []string // what a browser may call this server, with the port
	cookie  string
	working sync.Mutex
	waiting chan struct{}
}

// New makes a server for a store that listens at an address.
func New(p *page.Page, store page.Store, at net.Addr) *Server {
	host, port, _ := net.SplitHostPort(at.String())
	s := &Server{page: p, store: store, token: rand.Text(), cookie: "carryover-" + port, waiting: make(chan struct{}, maxWaiting)}
	for _, h := range names(host) {
		s.hosts = append(s.hosts, net.JoinHostPort(h, port))
	}
	return s
}

// names are what a listener's host may be called: addresses of this machine, never a name that somebody else's DNS could give
// to it (DNS rebinding).
func names(host string) []string {
	ip, err := netip.ParseAddr(host)
	switch {
	case err == nil && ip.IsLoopback():
		return []string{ip.String(), "localhost"}
	case err == nil && !ip.IsUnspecified():
		return []string{ip.String()}
	}
	list := []string{"localhost"}
	all, _ := net.InterfaceAddrs()
	for _, a := range all {
		if n, ok := a.(*net.IPNet); ok {
			list = append(list, n.IP.String())
		}
	}
	return list
}

// Loopback reports whether only this machine can reach an address.
func Loopback(at net.Addr) bool {
	a, ok := at.(*net.TCPAddr)
	return ok && a.IP.IsLoopback()
}

// Addresses are the addresses to open, what another device can open first.
func (s *Server) Addresses() (list []string) {
	for _, h := range slices.SortedStableFunc(slices.Values(s.hosts), func(a, b string) int { return outside(a) - outside(b) }) {
		u := url.URL{Scheme: "http", Host: h, Path: "/", RawQuery: url.Values{tokenName: {s.token}}.Encode()}
		list = append(list, u.String())
	}
	return list
}

// outside orders what a server is called by how useful it is elsewhere.
func outside(host string) int {
	at, err := netip.ParseAddrPort(host)
	switch {
	case err != nil: // localhost
		return 3
	case at.Addr().IsLoopback():
		return 2
	case at.Addr().Is4():
		return 0
	}
	return 1
}

// Serve answers until ctx ends, then lets what is under way end.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	server := &http.Server{Handler: s, ReadHeaderTimeout: readTime, ReadTimeout: readTime, WriteTimeout: maxWork + readTime,
		IdleTimeout:    idleTime,
		MaxHeaderBytes: maxHeader, ErrorLog: log.New(io.Discard, "", 0)}
	done := make(chan error, 1)
	go func() { done <- server.Serve(netutil.LimitListener(l, maxOpen)) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	last, cancel := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer cancel()
	if err := server.Shutdown(last); err != nil {
		return errors.Join(err, server.Close())
	}
	return nil
}

func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	switch {
	case !slices.Contains(s.hosts, r.Host):
		refuse(w, http.StatusMisdirectedRequest, "This address does not belong to carryover serve.")
	case r.Method != http.MethodGet && r.Method != http.MethodPost:
		h.Set("Allow", "GET, POST")
		refuse(w, http.StatusMethodNotAllowed, "Only GET and POST are understood.")
	case !s.sameOrigin(r):
		refuse(w, http.StatusForbidden, "This request comes from another page.")
	case r.Method == http.MethodGet && r.URL.Query().Has(tokenName):
		s.enter(w, r)
	case !s.known(r):
		refuse(w, http.StatusForbidden, "Open the address that carryover serve has printed: it holds the key to this page.")
	default:
		s.answer(w, r)
	}
}

func refuse(w http.ResponseWriter, status int, text string) {
	w.Header().Set("Content-Type", typePlain)
	w.WriteHeader(status)
	_, _ = io.WriteString(w, text+"\n")
}

// sameOrigin reports whether a request comes from this page, or from no page. A POST must say so; some browsers leave Origin
// out of a GET.
func (s *Server) sameOrigin(r *http.Request) bool {
	origin := r.Header.Get("Origin")
	if origin == "" {
		site := r.Header.Get("Sec-Fetch-Site")
		if r.Method == http.MethodPost {
			return site == "same-origin"
		}
		return site != "cross-site" || r.URL.Query().Has(tokenName) // a link to here, from a mail or a QR code
	}
	return origin == "http://"+r.Host
}

// enter takes the token out of the address and into a cookie.
func (s *Server) enter(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	if !s.same(q.Get(tokenName)) {
		refuse(w, http.StatusForbidden, "This key is not the one that carryover serve has printed.")
		return
	}
	q.Del(tokenName)
	http.SetCookie(w, &http.Cookie{Name: s.cookie, Value: s.token, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
		MaxAge: cookieDays * 24 * 3600})
	to := url.URL{Path: "/" + strings.TrimLeft(r.URL.Path, "/"), RawQuery: q.Encode()} // never another host
	// Not a redirect: after a link from elsewhere, a mail or a code, that would count as coming from there, without the cookie.
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = fmt.Fprintf(w, `<!doctype html><meta http-equiv="refresh" content="0;url=%[1]s"><title>carryover</title><a href="%[1]s">Go on</a>`,
		html.EscapeString(to.String()))
}

func (s *Server) same(token string) bool {
	return subtle.ConstantTimeCompare([]byte(token), []byte(s.token)) == 1
}

func (s *Server) known(r *http.Request) bool {
	c, err := r.Cookie(s.cookie)
	return err == nil && s.same(c.Value)
}

func (s *Server) answer(w http.ResponseWriter, r *http.Request) {
	switch r.URL.Path {
	case "/page.css":
		w.Header().Set("Content-Type", typeStyle)
		_, _ = io.WriteString(w, page.Style)
		return
	case "/page.js":
		w.Header().Set("Content-Type", typeScript)
		_, _ = io.WriteString(w, page.Script)
		return
	}
	req := page.Request{Post: r.Method == http.MethodPost, Path: r.URL.Path, Query: r.URL.Query()}
	if req.Post {
		form, err := posted(w, r)
		if err != nil {
			refuse(w, http.StatusRequestEntityTooLarge, "What was sent is no form, or is too large.")
			return
		}
		req.Form = form
	}
	select {
	case s.waiting <- struct{}{}:
		defer func() { <-s.waiting }()
	default:
		w.Header().Set("Retry-After", "1")
		refuse(w, http.StatusServiceUnavailable, "Too many requests at once.")
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), maxWork)
	defer cancel()
	s.write(w, r, s.one(ctx, req))
}

// one answers a request, one after the other.
func (s *Server) one(ctx context.Context, req page.Request) page.Response {
	s.working.Lock()
	defer s.working.Unlock()
	return s.page.Answer(ctx, s.store, req)
}

func (s *Server) write(w http.ResponseWriter, r *http.Request, a page.Response) {
	if a.Location != "" {
		http.Redirect(w, r, a.Location, a.Status)
		return
	}
	h := w.Header()
	h.Set("Content-Type", a.Type)
	h.Set("Content-Length", strconv.Itoa(len(a.Body)))
	if a.Name != "" {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": a.Name}))
		h.Set("Content-Security-Policy", policyAside)
	}
	w.WriteHeader(a.Status)
	_, _ = w.Write(a.Body)
}

// posted reads a form; a file in it is its text, with its name beside it unless one is given.
func posted(w http.ResponseWriter, r *http.Request) (url.Values, error) {
	r.Body = http.MaxBytesReader(w, r.Body, maxBody)
	if err := r.ParseForm(); err != nil {
		return nil, err
	}
	if err := r.ParseMultipartForm(maxBody); err != nil && !errors.Is(err, http.ErrNotMultipart) {
		return nil, err
	}
	form := r.PostForm
	if r.MultipartForm == nil {
		return form, nil
	}
	defer func() { _ = r.MultipartForm.RemoveAll() }()
	for _, headers := range r.MultipartForm.File {
		for _, f := range headers {
			if f.Size == 0 {
				continue
			}
			file, err := f.Open()
			if err != nil {
				return nil, err
			}
			text, err := io.ReadAll(file)
			_ = file.Close()
			if err != nil {
				return nil, err
			}
			form.Set("text", string(text))
			if form.Get("file") == "" {
				form.Set("file", f.Filename)
			}
		}
	}
	return form, nil
}
