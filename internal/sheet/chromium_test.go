package sheet_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/net/websocket"
)

// tab is one page in a real browser, driven over the DevTools protocol
// (https://chromedevtools.github.io/devtools-protocol/).
type tab struct {
	t      testing.TB
	ws     *websocket.Conn
	next   int
	mu     sync.Mutex
	wait   map[int]chan reply
	events []event
	arrive chan struct{}
}

type event struct {
	Method string
	Params map[string]any
}

type reply struct {
	Result map[string]any
	Error  *struct{ Message string }
}

// browser is a chromium that runs, spoken to itself.
type browser struct {
	*tab
	port string
	end  func()
}

// shared is one browser for all tests; enders end what they share.
var (
	shared = sync.OnceValues(func() (*browser, error) {
		b, err := start()
		if err == nil {
			enders = append(enders, b.end)
		}
		return b, err
	})
	enders []func()
)

func TestMain(m *testing.M) {
	code := m.Run()
	for _, end := range enders {
		end()
	}
	os.Exit(code)
}

// start runs headless chromium with a profile of its own.
func start() (*browser, error) {
	program, err := exec.LookPath("chromium")
	if err != nil {
		return nil, errors.New("chromium is missing, so nothing looks at the page: apt-get install chromium")
	}
	profile, err := os.MkdirTemp("", "carryover-sheet-")
	if err != nil {
		return nil, err
	}
	cmd := exec.Command(program, "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
		"--remote-debugging-port=0", "--remote-allow-origins=*", "--user-data-dir="+profile, "about:blank")
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	b := &browser{end: func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		// Its children write to the profile a moment longer, which would fail the removal of the folder.
		for n := 0; n < 50 && os.RemoveAll(profile) != nil; n++ {
			time.Sleep(100 * time.Millisecond)
		}
	}}
	for range 600 {
		text, _ := os.ReadFile(filepath.Join(profile, "DevToolsActivePort")) // not there yet
		if port, path, ok := strings.Cut(strings.TrimSpace(string(text)), "\n"); ok {
			b.port = port
			b.tab, err = connect(port, path)
			return b, err
		}
		time.Sleep(50 * time.Millisecond)
	}
	b.end()
	return nil, errors.New("chromium did not start")
}

// connect speaks to a browser, or to a page in it.
func connect(port, path string) (*tab, error) {
	ws, err := websocket.Dial("ws://127.0.0.1:"+port+path, "", "http://127.0.0.1")
	if err != nil {
		return nil, err
	}
	ws.MaxPayloadBytes = 256 << 20
	p := &tab{ws: ws, wait: map[int]chan reply{}, arrive: make(chan struct{}, 1)}
	go p.read()
	return p, nil
}

// browse opens a page in the browser that the tests share.
func browse(t testing.TB, file string) *tab {
	t.Helper()
	b, err := shared()
	need(t, err)
	return b.browse(t, file)
}

// need skips a test without a browser, but not where everything must run.
func need(t testing.TB, err error) {
	t.Helper()
	if err != nil && os.Getenv("CI") != "true" {
		t.Skip(err)
	}
	require.NoError(t, err)
}

// browse opens a page in a window that knows nothing of others; "" is none as yet.
func (b *browser) browse(t testing.TB, file string) *tab {
	t.Helper()
	b.t = t
	window := b.call("Target.createBrowserContext", nil)
	target := b.call("Target.createTarget", map[string]any{"url": "about:blank", "browserContextId": window["browserContextId"]})
	p, err := connect(b.port, "/devtools/page/"+target["targetId"].(string))
	require.NoError(t, err)
	p.t = t
	t.Cleanup(func() {
		_ = p.ws.Close()
		b.call("Target.disposeBrowserContext", window)
	})
	for _, domain := range []string{"Page", "Runtime", "Network", "Log", "DOM", "CSS"} {
		p.call(domain+".enable", nil)
	}
	if file != "" {
		p.open(file)
	}
	return p
}

func (p *tab) read() {
	for {
		var m struct {
			ID int
			event
			reply
		}
		if websocket.JSON.Receive(p.ws, &m) != nil {
			return
		}
		p.mu.Lock()
		if m.ID > 0 {
			if c := p.wait[m.ID]; c != nil {
				c <- m.reply
			}
		} else {
			p.events = append(p.events, m.event)
			select {
			case p.arrive <- struct{}{}:
			default:
			}
		}
		p.mu.Unlock()
	}
}

// call does one thing and returns its result.
func (p *tab) call(method string, params map[string]any) map[string]any {
	p.t.Helper()
	if params == nil {
		params = map[string]any{}
	}
	c := make(chan reply, 1)
	p.mu.Lock()
	p.next++
	id := p.next
	p.wait[id] = c
	p.mu.Unlock()
	require.NoError(p.t, websocket.JSON.Send(p.ws, map[string]any{"id": id, "method": method, "params": params}))
	select {
	case r := <-c:
		if r.Error != nil {
			p.t.Fatalf("%s: %s", method, r.Error.Message)
		}
		return r.Result
	case <-time.After(60 * time.Second):
		p.t.Fatalf("%s: no answer", method)
		return nil
	}
}

// seen are the events of a method so far.
func (p *tab) seen(method string) (list []event) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, e := range p.events {
		if e.Method == method {
			list = append(list, e)
		}
	}
	return list
}

// open loads a file and waits until it has loaded.
func (p *tab) open(file string) {
	p.t.Helper()
	loads := len(p.seen("Page.loadEventFired"))
	p.call("Page.navigate", map[string]any{"url": "file://" + file})
	for end := time.After(60 * time.Second); len(p.seen("Page.loadEventFired")) == loads; {
		select {
		case <-p.arrive:
		case <-end:
			p.t.Fatal("the page does not load")
		}
	}
}

// eval runs a script and decodes what it gives.
func (p *tab) eval(script string, into any) {
	p.t.Helper()
	r := p.call("Runtime.evaluate", map[string]any{"expression": script, "returnByValue": true})
	require.NotContains(p.t, r, "exceptionDetails", fmt.Sprint(r["exceptionDetails"]))
	b, err := json.Marshal(r["result"].(map[string]any)["value"])
	require.NoError(p.t, err)
	require.NoError(p.t, json.Unmarshal(b, into))
}

// letters waits until the letters that the page brings along are there.
func (p *tab) letters() {
	p.t.Helper()
	for range 1000 {
		var ready bool
		if p.eval(`document.fonts.status === "loaded" && document.fonts.check("16px carryover")`, &ready); ready {
			return
		}
	}
	p.t.Fatal("the page's letters do not come")
}

// width makes the window so many CSS pixels wide.
func (p *tab) width(px int) {
	p.t.Helper()
	p.call("Emulation.setDeviceMetricsOverride", map[string]any{"width": px, "height": 900, "deviceScaleFactor": 1, "mobile": px < 500})
}
