package cli

import (
	"encoding/json"
	"fmt"
	"io"

	"carryover/internal/words"
)

// sink is standard output: it remembers that something could not be written, whoever wrote it.
type sink struct {
	w   io.Writer
	err error
}

func (s *sink) Write(text []byte) (int, error) {
	n, err := s.w.Write(text)
	if err != nil && s.err == nil {
		s.err = fmt.Errorf("cannot write the result: %w", plainPathError(err))
	}
	return n, err
}

// print writes the result of a command: as JSON, or laid out for a person.
func (a *app) print(asJSON bool, result any, text func(*words.Page)) error {
	if asJSON {
		e := json.NewEncoder(a.Out) // refuses NaN and infinities: they never get out
		e.SetEscapeHTML(false)
		e.SetIndent("", " ")
		return e.Encode(result)
	}
	p := a.page()
	text(p)
	_, err := io.WriteString(a.Out, p.String())
	return err
}

// answer prints the result of a command that ends with an error all the same where not all of it is well.
func (a *app) answer(asJSON bool, result any, text func(*words.Page), then error) error {
	if err := a.print(asJSON, result, text); err != nil {
		return err
	}
	return then
}

// unless is errMissed but where all is carried.
func unless(carried bool) error {
	if carried {
		return nil
	}
	return errMissed
}

// page is an empty page as wide as the terminal allows.
func (a *app) page() *words.Page {
	return &words.Page{Width: a.width(), Bold: a.colored(a.OutTerminal)}
}

func (a *app) width() int {
	if a.Columns <= 0 {
		return words.Usual
	}
	return min(max(a.Columns, words.Narrowest), words.Widest)
}
