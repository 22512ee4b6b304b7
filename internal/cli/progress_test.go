package cli

import (
	"bytes"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestLongWorkIsToldOnATerminalAndWipedAway(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // whose clock runs ahead while all wait
		var s bytes.Buffer
		a := &app{Streams: Streams{Err: &s, ErrTerminal: true}}
		done := a.working("searching", func() string { return "3 of 7" })
		time.Sleep(patience + patience/4)
		synctest.Wait()
		assert.Contains(t, s.String(), "searching, 0.5 s, 3 of 7")
		done()
		assert.True(t, strings.HasSuffix(s.String(), "\r"), "the cursor is back at the beginning")
		lines := strings.Split(strings.TrimSuffix(s.String(), "\r"), "\r")
		last, before := lines[len(lines)-1], lines[len(lines)-2]
		assert.Empty(t, strings.TrimSpace(last))
		assert.GreaterOrEqual(t, len(last), len(before), "and the line is blank")
	})
}

func TestNobodyIsToldWithoutATerminalOrWithQuiet(t *testing.T) {
	for _, a := range []*app{{Streams: Streams{}}, {Streams: Streams{ErrTerminal: true}, quiet: true}} {
		synctest.Test(t, func(t *testing.T) {
			var s bytes.Buffer
			a.Err = &s
			done := a.working("searching", nil)
			time.Sleep(patience + patience/2)
			synctest.Wait()
			done()
			assert.Empty(t, s.String())
		})
	}
}
