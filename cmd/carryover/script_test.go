package main

import (
	"errors"
	"flag"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the golden text in testdata/script and in the README")

// release is the version that the command under test is built with, as a release is.
const release = "v9.8.7"

// TestMain compiles the command as a person runs it, once, and puts it on the path of every test. Without cgo, which only looks up
// names of hosts, it starts sooner.
func TestMain(m *testing.M) {
	flag.Parse()
	os.Exit(func() int {
		dir, err := os.MkdirTemp("", "carryover")
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		defer os.RemoveAll(dir)
		build := exec.Command("go", "build", "-ldflags", "-s -X carryover/internal/cli.Version="+release, "-o", filepath.Join(dir, "carryover"),
			".")
		build.Env = append(os.Environ(), "CGO_ENABLED=0")
		if out, err := build.CombinedOutput(); err != nil {
			fmt.Fprintf(os.Stderr, "go build: %v\n%s", err, out)
			return 1
		}
		os.Setenv("PATH", dir+string(os.PathListSeparator)+os.Getenv("PATH"))
		return m.Run()
	}())
}

// TestScripts runs the command as a person does. `exits N command...` wants exactly exit code N;
// `rounded FILE` writes the last standard output to FILE with its numbers rounded to six decimals, so that
// golden JSON does not hang on the last bit of a machine's arithmetic.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("NO_COLOR", "")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "rounded": rounded},
	})
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits N command...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	code := 0
	var exit *exec.ExitError
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &exit) {
		code = exit.ExitCode()
	} else {
		ts.Check(err)
	}
	if code != want {
		ts.Fatalf("exit code %d, want %d", code, want)
	}
}

var long = regexp.MustCompile(`-?\d+(\.\d+)?(e[-+]?\d+)?`)

func rounded(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: rounded FILE")
	}
	text := long.ReplaceAllStringFunc(ts.ReadFile("stdout"), func(s string) string {
		if !strings.ContainsAny(s, ".e") {
			return s
		}
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return s
		}
		v = math.Round(v*1e6) / 1e6
		return strconv.FormatFloat(v+0, 'f', -1, 64) // + 0 turns -0 into 0
	})
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(text), 0o600))
}
