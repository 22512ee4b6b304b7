package tomltree

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"unicode/utf8"

	"carryover/internal/diag"
)

// ReadFile reads a whole regular file of at most MaxBytes. Everything else (a missing file, a directory, a pipe, a
// device, a larger file) is refused before anything is read from it.
func ReadFile(path string) ([]byte, diag.List) {
	// Stat first: opening a pipe would wait for a writer.
	info, err := os.Stat(path)
	switch {
	case err != nil:
		return nil, fileProblem(path, err)
	case info.IsDir():
		return nil, wholeFile(path, "file-kind", "this is a directory, not a file", "")
	case !info.Mode().IsRegular():
		return nil, wholeFile(path, "file-kind", "this is a pipe or device, not a regular file", "")
	case info.Size() > MaxBytes:
		return nil, tooLarge(path, info.Size())
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fileProblem(path, err)
	}
	defer f.Close()
	src, err := io.ReadAll(io.LimitReader(f, MaxBytes+1)) // it may have grown since, which Parse refuses
	if err != nil {
		return nil, fileProblem(path, err)
	}
	return src, nil
}

// ReadFrom reads a file among files, or of the disk where they are nil.
func ReadFrom(files fs.FS, path string) ([]byte, diag.List) {
	if files == nil {
		return ReadFile(path)
	}
	src, err := fs.ReadFile(files, path)
	if err != nil {
		return nil, fileProblem(path, err)
	}
	return src, nil
}

func tooLarge(path string, size int64) diag.List {
	return wholeFile(path, "file-size", fmt.Sprintf("the file holds %d bytes; at most %d are read", size, MaxBytes), "")
}

func fileProblem(path string, err error) diag.List {
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return wholeFile(path, "file-missing", "no such file", "")
	case errors.Is(err, fs.ErrPermission):
		return wholeFile(path, "file-permission", "no permission to read the file", "")
	}
	var pathError *fs.PathError
	if errors.As(err, &pathError) {
		err = pathError.Err
	}
	return wholeFile(path, "file-read", "the file cannot be read: "+err.Error(), "")
}

func wholeFile(path, code, summary, detail string) diag.List {
	return diag.List{{
		Code: code, Severity: diag.Error, Summary: summary, Detail: detail, Span: &diag.Span{File: path},
	}}
}

// checkBytes refuses bytes that no TOML file may hold.
func checkBytes(file, text string) diag.List {
	if strings.HasPrefix(text, "\xff\xfe") || strings.HasPrefix(text, "\xfe\xff") {
		return wholeFile(file, "toml-encoding", "the file is UTF-16", "save it as UTF-8")
	}
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRuneInString(text[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			return at(file, text, i, i+1, "toml-encoding",
				fmt.Sprintf(`byte \x%02x is not UTF-8`, text[i]), "save the file as UTF-8")
		case r == '\r' && !strings.HasPrefix(text[i:], "\r\n"):
			return at(file, text, i, i+1, "toml-syntax", "a carriage return stands alone", "end lines with LF or CRLF")
		case r < ' ' && r != '\t' && r != '\n' && r != '\r', r == 0x7f:
			return at(file, text, i, i+1, "toml-syntax",
				fmt.Sprintf(`control character \x%02x`, r), "remove it, or write it as an escape in quotes")
		}
		i += size
	}
	return nil
}

// checkDepth refuses documents with more than MaxDepth brackets inside brackets, or parts of one dotted key, before anything
// recursive sees them.
func checkDepth(file, text string) diag.List {
	depth, dots := 0, 0
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '"', '\'':
			i = skipString(text, i) - 1
		case '#':
			for i+1 < len(text) && text[i+1] != '\n' {
				i++
			}
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		case '.':
			dots++
		case ',', '\n':
			dots = 0
		}
		if depth > MaxDepth || dots > MaxDepth {
			return at(file, text, i, i+1, "toml-depth", fmt.Sprintf("nested more than %d deep", MaxDepth), "")
		}
	}
	return nil
}

// skipString is the offset behind the string that starts at i. A string that never closes ends with its line, or
// with the text.
func skipString(text string, i int) int {
	quote := text[i]
	triple := strings.Repeat(string(quote), 3)
	if strings.HasPrefix(text[i:], triple) {
		for i += 3; i < len(text); i++ {
			switch {
			case text[i] == '\\' && quote == '"':
				i++
			case strings.HasPrefix(text[i:], triple):
				i += 3
				for n := 0; n < 2 && i < len(text) && text[i] == quote; n++ { // quotes may touch the closing ones
					i++
				}
				return i
			}
		}
		return len(text)
	}
	for i++; i < len(text) && text[i] != '\n'; i++ {
		switch {
		case text[i] == '\\' && quote == '"':
			i++
		case text[i] == quote:
			return i + 1
		}
	}
	return min(i, len(text))
}

// at is one error with its place, given as byte offsets.
func at(file, text string, from, to int, code, summary, detail string) diag.List {
	span, line := place(file, text, from, to)
	return diag.List{{
		Code: code, Severity: diag.Error, Summary: summary, Detail: detail, Span: &span, Line: line,
	}}
}

// place turns byte offsets into a span, with the source line where it starts.
func place(file, text string, from, to int) (diag.Span, string) {
	from = max(0, min(from, len(text)))
	to = max(from, min(to, len(text)))
	s := newScanner(file, text)
	s.advance(from)
	start, line := s.pos, s.line()
	s.advance(to - from)
	return diag.Span{File: file, Start: start, End: s.pos}, line
}
