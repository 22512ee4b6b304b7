// Package pageserve shows the page of a folder over HTTP: who may ask, how much, and how the folder's files are kept.
package pageserve

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"sync"

	"carryover/internal/page"
	"carryover/internal/whole"
)

// Folder is a store in a folder of this machine. Nothing outside of it is read or written: os.Root follows no link out.
type Folder struct {
	root *os.Root
	mu   sync.Mutex // one change at a time
}

// OpenFolder opens a folder.
func OpenFolder(dir string) (*Folder, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	return &Folder{root: root}, nil
}

// Close lets go of the folder once what is being written is written.
func (f *Folder) Close() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.root.Close()
}

// Names lists the TOML files of the folder itself.
func (f *Folder) Names() ([]string, error) {
	entries, err := fs.ReadDir(f.root.FS(), ".")
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if page.CheckName(e.Name()) != nil {
			continue
		}
		if info, err := f.root.Stat(e.Name()); err == nil && info.Mode().IsRegular() { // a link counts as what it leads to
			names = append(names, e.Name())
		}
	}
	return names, nil
}

// Open opens a file.
func (f *Folder) Open(name string) (fs.File, error) {
	info, err := f.root.Stat(name)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() { // a pipe would never end
		return nil, &fs.PathError{Op: "open", Path: name, Err: errors.New("is no file")}
	}
	return f.root.Open(name)
}

// ReadFile returns a file's text.
func (f *Folder) ReadFile(name string) ([]byte, error) {
	file, err := f.Open(name)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	text, err := io.ReadAll(io.LimitReader(file, page.MaxFile+1))
	if err == nil && len(text) > page.MaxFile {
		err = &fs.PathError{Op: "read", Path: name, Err: errors.New("is larger than a file of this kind can be")}
	}
	return text, err
}

// Save writes a file: a temporary one beside it takes its name once it is on the disk.
func (f *Folder) Save(name string, text []byte, was string) error {
	if err := page.CheckName(name); err != nil {
		return err
	}
	err := f.save(name, text, was)
	var at *fs.PathError
	if errors.As(err, &at) { // nobody asked for the temporary file
		return &fs.PathError{Op: "write", Path: name, Err: at.Err}
	}
	return err
}

func (f *Folder) save(name string, text []byte, was string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	mode := fs.FileMode(0) // of a new file
	info, err := f.root.Lstat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if was != "" {
			return page.ErrChanged
		}
	case err != nil:
		return err
	case !info.Mode().IsRegular():
		return &fs.PathError{Op: "write", Path: name, Err: errors.New("is a link or no file: change what it leads to")}
	default:
		if now, err := f.ReadFile(name); err != nil {
			return err
		} else if page.Version(now) != was {
			return page.ErrChanged
		}
		mode = info.Mode().Perm()
	}
	err = whole.Write(f.root, name, text, mode, was != "")
	if was == "" && errors.Is(err, fs.ErrExist) {
		return page.ErrChanged
	}
	return err
}

// Remove deletes a file as somebody saw it.
func (f *Folder) Remove(name, was string) error {
	if err := page.CheckName(name); err != nil {
		return err
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	info, err := f.root.Lstat(name)
	if err == nil && !info.Mode().IsRegular() {
		return &fs.PathError{Op: "delete", Path: name, Err: errors.New("is a link or no file")}
	}
	now, err := f.ReadFile(name)
	if err != nil {
		return err
	}
	if page.Version(now) != was {
		return page.ErrChanged
	}
	return f.root.Remove(name)
}
