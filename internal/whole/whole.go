// Package whole writes files whole or not at all.
package whole

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
)

// Write puts a file into a folder: a temporary one beside it takes its name once it is on the disk. Unless it may replace what
// is there, it fails with fs.ErrExist where anything is. mode is that of the file it replaces; 0: as for any new file.
func Write(dir *os.Root, name string, text []byte, mode fs.FileMode, replace bool) error {
	temporary := fmt.Sprintf(".carryover-%016x", rand.Uint64())
	err := put(dir, temporary, text, mode)
	if err == nil && replace {
		if err = dir.Rename(temporary, name); err == nil {
			return nil
		}
	}
	if err == nil { // unlike a rename, a link never takes the place of a file that came meanwhile
		if err = dir.Link(temporary, name); err != nil && !errors.Is(err, fs.ErrExist) { // a disk without links
			if err = put(dir, name, text, mode); err != nil && !errors.Is(err, fs.ErrExist) {
				err = errors.Join(err, dir.Remove(name))
			}
		}
	}
	if gone := dir.Remove(temporary); gone != nil && !errors.Is(gone, fs.ErrNotExist) {
		err = errors.Join(err, gone)
	}
	return err
}

func put(dir *os.Root, name string, text []byte, mode fs.FileMode) error {
	f, err := dir.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, cmp.Or(mode, 0o666)) // the umask decides who may read a new one
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	if mode != 0 {
		err = errors.Join(err, f.Chmod(mode))
	}
	return errors.Join(err, f.Sync(), f.Close())
}
