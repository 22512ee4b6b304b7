// Command page writes carryover as one HTML file that needs nothing else: the page's handler compiled to WebAssembly, packed in
// compressed, with its style and script. It is run in the module: go run ./cmd/page -o carryover.html
package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"errors"
	"flag"
	"fmt"
	"html/template"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"time"

	"carryover/internal/page"
)

//go:embed worker.js
var worker string

func main() {
	out := flag.String("o", "", "write the page to `FILE.html`")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	err := write(ctx, *out)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "page:", err)
		os.Exit(1)
	}
}

func write(ctx context.Context, out string) error {
	if out == "" || flag.NArg() > 0 {
		return errors.New("say where to write: go run ./cmd/page -o carryover.html")
	}
	program, err := compile(ctx)
	if err != nil {
		return err
	}
	root, err := exec.CommandContext(ctx, "go", "env", "GOROOT").Output()
	if err != nil {
		return err
	}
	runtime, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		return err
	}
	whole, err := pack(program, string(runtime))
	if err != nil {
		return err
	}
	temporary := out + ".part"
	if err := os.WriteFile(temporary, whole, 0o666); err != nil {
		return errors.Join(err, os.Remove(temporary))
	}
	return os.Rename(temporary, out)
}

// compile builds the program for a browser.
func compile(ctx context.Context) ([]byte, error) {
	dir, err := os.MkdirTemp("", "carryover-page-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "page.wasm")
	cmd := exec.CommandContext(ctx, "go", "build", "-trimpath", "-ldflags=-s -w", "-o", file, "carryover/cmd/page/wasm")
	cmd.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	cmd.Stderr = os.Stderr
	if err := cmd.Run(); err != nil {
		return nil, err
	}
	return os.ReadFile(file)
}

// pack puts everything into one page. Its policy allows its own style and script by their hashes, and no network at all.
func pack(program []byte, runtime string) ([]byte, error) {
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := z.Write(program); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	p, err := page.New("#", time.Now)
	if err != nil {
		return nil, err
	}
	policy := fmt.Sprintf("default-src 'none'; script-src %s 'wasm-unsafe-eval' blob:; worker-src blob:; style-src %s; form-action "+
		"'none'; base-uri 'none'",
		hash(page.Script), hash(page.Style))
	var head strings.Builder
	fmt.Fprintf(&head, "<meta http-equiv=\"Content-Security-Policy\" content=\"%s\">\n<style>%s</style>\n", policy, page.Style)
	for id, text := range map[string]string{"runtime": runtime, "worker": worker} {
		if strings.Contains(text, "</script") {
			return nil, fmt.Errorf("%s would end its own element", id)
		}
	}
	var foot strings.Builder
	fmt.Fprintf(&foot, "<script type=\"text/plain\" id=\"program\">%s</script>\n", base64.StdEncoding.EncodeToString(packed.Bytes()))
	fmt.Fprintf(&foot, "<script type=\"text/plain\" id=\"runtime\">%s</script>\n<script type=\"text/plain\" id=\"worker\">%s</script>\n",
		runtime, worker)
	fmt.Fprintf(&foot, "<script>%s</script>\n", page.Script)
	return p.Frame(template.HTML(head.String()), template.HTML(foot.String()))
}

// hash names a script or style in a content security policy.
func hash(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}
