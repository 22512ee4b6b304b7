package sheet_test

import (
	"encoding/json"
	"fmt"
	"net/http"
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

// browse opens a page in headless chromium. Without one the test is skipped, but not where everything must run.
func browse(t testing.TB, file string) *tab {
	t.Helper()
	program, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("chromium is missing: apt-get install chromium")
		}
		t.Skip("chromium is missing, so nothing looks at the page: apt-get install chromium")
	}
	profile := t.TempDir()
	cmd := exec.Command(program, "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
		"--remote-debugging-port=0", "--remote-allow-origins=*", "--user-data-dir="+profile, "about:blank")
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		// Its children write to the profile a moment longer, which would fail the removal of the folder.
		for range 50 {
			if os.RemoveAll(profile) == nil {
				return
			}
			time.Sleep(100 * time.Millisecond)
		}
	})
	port := ""
	for range 300 {
		if b, err := os.ReadFile(filepath.Join(profile, "DevToolsActivePort")); err == nil {
			if line, _, ok := strings.Cut(string(b), "\n"); ok {
				port = line
				break
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	require.NotEmpty(t, port, "chromium did not start")
	req, err := http.NewRequest(http.MethodPut, "http://127.0.0.1:"+port+"/json/new?about:blank", nil)
	require.NoError(t, err)
	resp, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	defer resp.Body.Close()
	var target struct {
		URL string `json:"webSocketDebuggerUrl"`
	}
	require.NoError(t, json.NewDecoder(resp.Body).Decode(&target))
	ws, err := websocket.Dial(target.URL, "", "http://127.0.0.1")
	require.NoError(t, err)
	ws.MaxPayloadBytes = 256 << 20
	p := &tab{t: t, ws: ws, wait: map[int]chan reply{}, arrive: make(chan struct{}, 1)}
	t.Cleanup(func() { _ = ws.Close() })
	go p.read()
	for _, domain := range []string{"Page", "Runtime", "Network", "Log", "DOM", "CSS"} {
		p.call(domain+".enable", nil)
	}
	p.open(file)
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

// width makes the window so many CSS pixels wide.
func (p *tab) width(px int) {
	p.t.Helper()
	p.call("Emulation.setDeviceMetricsOverride", map[string]any{"width": px, "height": 900, "deviceScaleFactor": 1, "mobile": px < 500})
}
