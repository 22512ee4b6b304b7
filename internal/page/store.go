package page

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"
)

// Store is where the files of a rider are: a folder of this machine, or what a browser keeps. A name is a plain file name.
type Store interface {
	fs.ReadFileFS
	// Names lists the files, sorted.
	Names() ([]string, error)
	// Save writes a file whole or not at all. was is the Version of the text that it replaces, "" for a new file; when what is
	// there is another, nothing is written and the error is ErrChanged.
	Save(name string, text []byte, was string) error
	// Remove deletes a file whose Version is was; when what is there is another, it stays and the error is ErrChanged.
	Remove(name, was string) error
}

// ErrChanged says that a file is not what the person saw who wants to replace it.
var ErrChanged = errors.New("the file has changed meanwhile")

// MaxFile is the most that a file may hold, bytes.
const MaxFile = 1 << 20

// Version tells one text of a file from another; "" is no file.
func Version(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:12])
}

// CheckName refuses what is not the plain name of a TOML file.
func CheckName(name string) error {
	const longest = 100 // bytes, with room below any file system's 255
	switch {
	case !fs.ValidPath(name) || strings.ContainsAny(name, `/\:*?"<>|`) || strings.HasPrefix(name, "."):
		return fmt.Errorf("%.40q cannot be the name of a file: use letters, digits, - and _", name)
	case !strings.HasSuffix(name, ".toml") || len(name) <= len(".toml"):
		return fmt.Errorf("%.40q: the name of a file ends in .toml", name)
	case len(name) > longest:
		return fmt.Errorf("%.40q: the name of a file has at most %d letters", name, longest)
	case strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == 0x7f }):
		return fmt.Errorf("%.40q has control characters in it", name)
	}
	return nil
}

// Memory is a store in memory: what a browser keeps, as one request sees it. Written are the files that it changed, Removed those
// that it deleted.
type Memory struct {
	Files   map[string]string
	Written map[string]string
	Removed []string
}

// Names lists the files.
func (m *Memory) Names() ([]string, error) { return slices.Sorted(maps.Keys(m.Files)), nil }

// ReadFile returns a file's text.
func (m *Memory) ReadFile(name string) ([]byte, error) {
	text, ok := m.Files[name]
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return []byte(text), nil
}

// Save keeps a file.
func (m *Memory) Save(name string, text []byte, was string) error {
	if err := CheckName(name); err != nil {
		return err
	}
	if m.version(name) != was {
		return ErrChanged
	}
	if m.Files == nil {
		m.Files = map[string]string{}
	}
	if m.Written == nil {
		m.Written = map[string]string{}
	}
	m.Files[name], m.Written[name] = string(text), string(text)
	return nil
}

func (m *Memory) version(name string) string {
	if text, ok := m.Files[name]; ok {
		return Version([]byte(text))
	}
	return ""
}

// Remove deletes a file.
func (m *Memory) Remove(name, was string) error {
	if was == "" || m.version(name) != was {
		return ErrChanged
	}
	delete(m.Files, name)
	m.Removed = append(m.Removed, name)
	return nil
}

// Open is there because io/fs asks for it: files are read whole, by ReadFile.
func (m *Memory) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: errors.ErrUnsupported}
}
