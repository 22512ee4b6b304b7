//go:build unix

package main

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSecondInterruptEndsItAtOnce writes to a pipe that nobody reads: the first Ctrl-C cannot get through to a write that
// waits, the next one ends the program as if it had never listened.
func TestSecondInterruptEndsItAtOnce(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "side.svg")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute) // a hang ends as a failure
	defer cancel()
	cmd := exec.CommandContext(ctx, "carryover", "draw", "example:road", "example:studio", "-o", pipe)
	var said bytes.Buffer
	cmd.Stderr = &said
	require.NoError(t, cmd.Start())
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	for {
		select {
		case <-ended:
			status := cmd.ProcessState.Sys().(syscall.WaitStatus)
			require.True(t, status.Signaled(), "%v: %s", cmd.ProcessState, said.String())
			assert.Equal(t, os.Interrupt, status.Signal(), "not killed by the minute")
			return
		case <-time.After(300 * time.Millisecond):
			_ = cmd.Process.Signal(os.Interrupt) // it may have ended meanwhile
		}
	}
}
