package cli

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/draw"
	"carryover/internal/stencil"
)

type templateOptions struct {
	out, paper string
	support    float64
}

func (a *app) templateCommand() *cobra.Command {
	var o templateOptions
	cmd := &cobra.Command{
		Use:   "template SADDLE -o FILE.pdf",
		Short: "Print a saddle in true size, to lay on the real one",
		Long: `Writes a PDF with the saddle's outline and profile in true size, its references, the station of a support width
and rulers to check the print by. A page of A4 holds 239 mm of saddle and one of Letter 221 mm: a longer saddle is
split over two, with marks to join them.
SADDLE is a catalogue id or the path of a part file.`,
		Example: `  carryover template classic-280 -o saddle.pdf
  carryover template my-saddle.toml --support 122 --paper letter -o saddle.pdf`,
		Args: exactly(1),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.template(args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "output", "o", "", "write the PDF to `FILE`; - is standard output")
	f.StringVar(&o.paper, "paper", "a4", "a4 or letter")
	f.Float64Var(&o.support, "support", 0, "mark where the saddle is `MM` wide, as at the rider's sit bones")
	return cmd
}

func (a *app) template(name string, o templateOptions) error {
	if err := wantOutput(o.out, "saddle.pdf", strings.TrimPrefix(name, "file:")); err != nil {
		return err
	}
	if o.out != stdoutName && strings.ToLower(filepath.Ext(o.out)) != ".pdf" {
		return usageError{fmt.Errorf("-o %s: the name must end in .pdf", o.out)}
	}
	paper, ok := map[string]stencil.Paper{"a4": stencil.A4, "letter": stencil.Letter}[strings.ToLower(o.paper)]
	if !ok {
		return usageError{fmt.Errorf("--paper is a4 or letter, not %q", o.paper)}
	}
	if o.support != 0 && !(o.support >= 10 && o.support <= 300) {
		return usageError{fmt.Errorf("--support is a width of 10 to 300 mm, not %g", o.support)}
	}
	lib, err := a.library()
	if err != nil {
		return err
	}
	part, err := a.findSaddle(lib, name)
	if err != nil {
		return err
	}
	if err := a.spareParts(o.out); err != nil {
		return err
	}
	pages := stencil.Pages(stencil.Saddle{Name: part.Name, Shape: part.Shape, Support: o.support}, paper)
	return a.output(o.out, func(w io.Writer) error { return draw.PDF(w, pages...) })
}
