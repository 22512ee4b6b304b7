package cli

import (
	"io"
	"strings"

	"github.com/spf13/cobra"

	"carryover/internal/draw"
	"carryover/internal/template"
)

type templateOptions struct {
	out, paper     string
	support, gauge float64
}

func (a *app) templateCommand() *cobra.Command {
	var o templateOptions
	cmd := &cobra.Command{
		Use:   "template SADDLE -o FILE.pdf",
		Short: "Print a saddle, or a gauge for one, in true size",
		Long: `Writes a PDF with the saddle's outline and profile in true size, to lay on the real one: its references, the
station of a support width and rulers to check the print by. What is larger than a sheet is shared out over several,
with crosses to join them. Every side of the paper stays free by 12 mm.
With --gauge it is a card to cut out instead: held upright across any saddle and pushed back from the nose until both
edges of its notch touch, it shows where that saddle has the width.
SADDLE is a catalogue id or the path of a part file.`,
		Example: `  carryover template classic-280 -o saddle.pdf
  carryover template my-saddle.toml --support 122 --paper letter -o saddle.pdf
  carryover template --gauge 122 -o gauge.pdf`,
		Args: func(cmd *cobra.Command, args []string) error {
			if o.gauge != 0 {
				return exactly(0)(cmd, args)
			}
			return exactly(1)(cmd, args)
		},
		RunE: func(_ *cobra.Command, args []string) error {
			return a.template(append(args, "")[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "output", "o", "", "write the PDF to `FILE`; - is standard output")
	oneOfWords(f, &o.paper, "paper", "a4", "a4 or letter", "a4", "letter")
	bounded(f, limited{&o.support, "support", 10, 300, " mm"}, 0, "mark where the saddle is `MM` wide, as at the rider's sit bones")
	f.Float64Var(&o.gauge, "gauge", 0, "a gauge to cut out that finds where a saddle is `MM` wide")
	return cmd
}

func (a *app) template(name string, o templateOptions) error {
	if err := wantOutput(o.out, "saddle.pdf", strings.TrimPrefix(name, "file:")); err != nil {
		return err
	}
	if _, err := ending("-o", o.out, ".pdf"); err != nil {
		return err
	}
	pages, err := a.templatePages(name, o, map[string]template.Paper{"a4": template.A4, "letter": template.Letter}[o.paper])
	if err != nil {
		return err
	}
	a.boxed(pages...)
	return a.output(o.out, func(w io.Writer) error { return draw.PDF(w, pages...) })
}

func (a *app) templatePages(name string, o templateOptions, paper template.Paper) ([]*draw.Picture, error) {
	if o.gauge != 0 {
		p, err := template.Gauge(o.gauge, paper)
		if err != nil {
			return nil, usageError{err}
		}
		return []*draw.Picture{p}, nil
	}
	part, err := a.findSaddle(name)
	if err != nil {
		return nil, err
	}
	if err := a.spareParts(o.out); err != nil {
		return nil, err
	}
	return template.Pages(template.Saddle{Name: part.Name, Shape: part.Shape, Support: o.support}, paper)
}
