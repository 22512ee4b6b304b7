package cli

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"carryover/internal/diag"
)

// stdoutName is the output that means standard output.
const stdoutName = "-"

// wantOutput checks what -o names: it must be given, and must not be one of the inputs.
func wantOutput(out, example string, inputs ...string) error {
	if out == "" {
		return usageError{fmt.Errorf("say where to write with -o, like -o %s, or -o - for standard output", example)}
	}
	if out == stdoutName {
		return nil
	}
	info, err := os.Stat(out)
	if err != nil {
		return nil // not there yet; what is wrong with the place shows when it is written
	}
	if info.IsDir() {
		return usageError{fmt.Errorf("-o %s is a directory; name a file in it", out)}
	}
	for _, in := range inputs {
		if in == "" || strings.HasPrefix(in, examplePrefix) {
			continue
		}
		if other, err := os.Stat(in); err == nil && os.SameFile(info, other) {
			return usageError{fmt.Errorf("-o %s would overwrite the input %s", out, in)}
		}
	}
	return nil
}

// output writes a whole file or nothing: into a temporary file beside it that takes its name once complete.
func (a *app) output(out string, write func(io.Writer) error) (err error) {
	if out == stdoutName {
		var whole bytes.Buffer
		if err := write(&whole); err != nil {
			return err
		}
		_, err := a.Out.Write(whole.Bytes())
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(out), ".carryover-*")
	if err != nil {
		return fmt.Errorf("cannot write %s: %w", out, plainPathError(err))
	}
	defer func() {
		if err != nil {
			_ = f.Close()
			_ = os.Remove(f.Name())
		}
	}()
	w := bufio.NewWriter(f)
	if err := write(w); err != nil {
		return err
	}
	if err := w.Flush(); err != nil {
		return fmt.Errorf("cannot write %s: %w", out, plainPathError(err))
	}
	// CreateTemp makes files for their owner only; a sheet is to be passed on.
	if err := f.Chmod(0o644); err != nil {
		return fmt.Errorf("cannot write %s: %w", out, plainPathError(err))
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("cannot write %s: %w", out, plainPathError(err))
	}
	if err := os.Rename(f.Name(), out); err != nil {
		return fmt.Errorf("cannot write %s: %w", out, plainPathError(err))
	}
	if !a.quiet {
		fmt.Fprintf(a.Err, "wrote %s\n", diag.Visible(out))
	}
	return nil
}

// plainPathError is an error without the name of the temporary file, which nobody asked for.
func plainPathError(err error) error {
	var path *os.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
