//go:build unix

package cli

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReplaceFileLeavesWhatItPointsAtAsItIs: only the text of a file changes, never what sort of file it is, who may
// read it, or where a link points.
func TestReplaceFileLeavesWhatItPointsAtAsItIs(t *testing.T) {
	old := syscall.Umask(0o027)
	defer syscall.Umask(old)
	mode := func(path string) os.FileMode {
		info, err := os.Lstat(path)
		require.NoError(t, err)
		return info.Mode()
	}
	text := func(path string) string {
		src, err := os.ReadFile(path)
		require.NoError(t, err)
		return string(src)
	}
	for name, replace := range map[string]bool{"replace": true, "new": false} {
		t.Run(name, func(t *testing.T) {
			put := func(path string, text []byte) error { return putFile(path, text, replace) }
			dir := t.TempDir()
			at := func(name string) string { return filepath.Join(dir, name) }

			require.NoError(t, put(at("fresh"), []byte("a")))
			assert.Equal(t, os.FileMode(0o640), mode(at("fresh")), "the umask decides about a new file")

			require.NoError(t, os.WriteFile(at("private"), []byte("old"), 0o600))
			require.NoError(t, os.Symlink("private", at("link")))
			if name == "new" {
				assert.ErrorIs(t, put(at("private"), []byte("b")), os.ErrExist)
				assert.ErrorIs(t, put(at("link"), []byte("b")), os.ErrExist)
				assert.Equal(t, "old", text(at("private")))
			} else {
				require.NoError(t, put(at("private"), []byte("b")))
				assert.Equal(t, os.FileMode(0o600), mode(at("private")))
				require.NoError(t, put(at("link"), []byte("c")))
				assert.Equal(t, os.ModeSymlink, mode(at("link")).Type())
				assert.Equal(t, "c", text(at("private")))
				assert.Equal(t, os.FileMode(0o600), mode(at("private")))
				require.NoError(t, os.Symlink("to-come", at("early")))
				require.NoError(t, put(at("early"), []byte("d")))
				assert.Equal(t, os.ModeSymlink, mode(at("early")).Type())
				assert.Equal(t, "d", text(at("to-come")))
			}

			require.NoError(t, syscall.Mkfifo(at("pipe"), 0o600))
			read := make(chan []byte)
			go func() {
				f, err := os.Open(at("pipe"))
				if err != nil {
					close(read)
					return
				}
				defer f.Close()
				got, _ := io.ReadAll(f)
				read <- got
			}()
			big := bytes.Repeat([]byte("x"), 1<<18) // more than a pipe holds
			require.NoError(t, put(at("pipe"), big))
			assert.Equal(t, big, <-read)
			assert.Equal(t, os.ModeNamedPipe, mode(at("pipe")).Type())

			require.NoError(t, os.Mkdir(at("folder"), 0o755))
			assert.Error(t, put(at("folder"), []byte("e")))
			entries, err := os.ReadDir(dir)
			require.NoError(t, err)
			for _, e := range entries {
				assert.NotContains(t, e.Name(), ".carryover", "nothing half made is left")
			}
		})
	}
}
