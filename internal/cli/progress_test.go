package cli

import (
	"bytes"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// screen is a terminal that remembers everything written to it.
type screen struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *screen) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

func TestLongWorkIsToldOnATerminalAndWipedAway(t *testing.T) {
	var s screen
	a := &app{Streams: Streams{Err: &s, ErrTerminal: true}}
	done := a.working("searching", func() string { return "3 of 7" })
	assert.Eventually(t, func() bool { return strings.Contains(s.String(), "3 of 7") }, 20*time.Second, 10*time.Millisecond)
	done()
	shown := s.String()
	assert.True(t, strings.HasSuffix(shown, "\r"), "the cursor is back at the beginning")
	lines := strings.Split(strings.TrimSuffix(shown, "\r"), "\r")
	last, before := lines[len(lines)-1], lines[len(lines)-2]
	assert.Empty(t, strings.TrimSpace(last))
	assert.GreaterOrEqual(t, len(last), len(before), "and the line is blank")
}

func TestNobodyIsToldWithoutATerminalOrWithQuiet(t *testing.T) {
	for _, a := range []*app{{Streams: Streams{}}, {Streams: Streams{ErrTerminal: true}, quiet: true}} {
		var s screen
		a.Err = &s
		done := a.working("searching", nil)
		time.Sleep(patience + patience/2)
		done()
		assert.Empty(t, s.String())
	}
}
