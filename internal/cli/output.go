package cli

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/job"
	"carryover/internal/whole"
	"carryover/internal/written"
)

// stdoutName is the output that means standard output.
const stdoutName = "-"

// wantOutput checks what -o names: it must be given, and must not be one of the inputs.
func wantOutput(out, example string, inputs ...string) error {
	if out == "" {
		return usagef("say where to write with -o, like -o %s, or -o - for standard output", example)
	}
	return spared("-o", out, inputs...)
}

// ending is what an output's name ends in, one of some; that of standard output is the first.
func ending(flag, out string, of ...string) (string, error) {
	got := strings.ToLower(filepath.Ext(out))
	switch {
	case out == stdoutName:
		return of[0], nil
	case !slices.Contains(of, got):
		return "", usagef("%s %s: the name must end in %s", flag, out, written.Or(of))
	}
	return got, nil
}

// spared checks that what a flag names to write to is no directory and none of the inputs.
func spared(flag, out string, inputs ...string) error {
	if out == stdoutName {
		return nil
	}
	info, err := os.Stat(out)
	if err != nil {
		return nil // not there yet; what is wrong with the place shows when it is written
	}
	if info.IsDir() {
		return usagef("%s %s is a directory; name a file in it", flag, out)
	}
	for _, in := range inputs {
		if in == "" || strings.HasPrefix(in, job.ExamplePrefix) {
			continue
		}
		if other, err := os.Stat(in); err == nil && os.SameFile(info, other) {
			return usagef("%s %s would overwrite the input %s", flag, out, in)
		}
	}
	return nil
}

// spareParts checks that -o names no part file that was read: of a bike, or of --catalog.
func (a *app) spareParts(out string, bikes ...*bike.Bike) error {
	inputs := slices.Clone(a.files.PartFiles())
	for _, b := range bikes {
		if strings.HasPrefix(b.File, job.ExamplePrefix) {
			continue
		}
		for _, k := range b.Stocks() {
			for _, id := range k.IDs() {
				if name, ok := job.PartPath(b.File, id); ok {
					inputs = append(inputs, name)
				}
			}
		}
	}
	return wantOutput(out, "", inputs...)
}

// output writes a whole file or nothing, and says so; what is there already is replaced.
func (a *app) output(out string, write func(io.Writer) error) error {
	var text bytes.Buffer
	if err := write(&text); err != nil {
		return err
	}
	return a.put(out, text.Bytes(), true)
}

// put is output of a text, which may replace what is there or not.
func (a *app) put(out string, text []byte, replace bool) error {
	if out == stdoutName {
		_, err := a.Out.Write(text)
		return err
	}
	if err := putFile(out, text, replace); err != nil {
		return fmt.Errorf("cannot write %s: %w", out, plainPathError(err))
	}
	if !a.quiet {
		fmt.Fprintf(a.Err, "wrote %s\n", diag.Visible(out))
	}
	return nil
}

// putFile writes a whole file or nothing: a temporary file beside it takes its name once it is on the disk. A pipe or device is
// written to. Where it may replace what is there, a link goes on pointing where it does and a file keeps its permissions.
func putFile(path string, text []byte, replace bool) error {
	var mode fs.FileMode
	info, err := os.Stat(path)
	switch {
	case err == nil && !info.Mode().IsRegular():
		return writeTo(path, os.O_WRONLY, text)
	case !replace:
	case err == nil:
		mode = info.Mode().Perm()
		if path, err = filepath.EvalSymlinks(path); err != nil {
			return err
		}
	case errors.Is(err, fs.ErrNotExist):
		if _, err := os.Readlink(path); err == nil { // a link to a file that is still to be made
			return writeTo(path, os.O_WRONLY|os.O_CREATE, text)
		}
	default:
		return err
	}
	dir, err := os.OpenRoot(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer dir.Close()
	return whole.Write(dir, filepath.Base(path), text, mode, replace)
}

func writeTo(path string, flags int, text []byte) error {
	f, err := os.OpenFile(path, flags, 0o666)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	return errors.Join(err, f.Close())
}

// taken is the error when a file that is not to be replaced is there already; done says what has been done so far.
func taken(path, done string) error {
	if _, err := os.Lstat(path); err != nil {
		return nil
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return nil // a pipe or device is written to, not replaced
	}
	return fmt.Errorf("%s is there already; %s", diag.Visible(path), done)
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
