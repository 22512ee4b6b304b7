package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"carryover/internal/bike"
	"carryover/internal/convert"
	"carryover/internal/diag"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Convert is the outcome of `carryover convert`, as JSON.
type Convert struct {
	*convert.Located
	Readings []Reading `json:"readings"`
	Suspects []Suspect `json:"suspects"`
}

// NewConvert is a located saddle with what its adjustment says of the readings.
func NewConvert(l *convert.Located) Convert {
	return Convert{l, convertReadings(l.Adjustment), append([]Suspect{}, NewSuspects(l.Adjustment)...)}
}

// convertReadings are the readings of an adjustment with what it says of them.
func convertReadings(a *locate.Adjustment) []Reading {
	suspect := map[int]bool{}
	for _, i := range a.Suspects() {
		suspect[i] = true
	}
	list := []Reading{}
	judged := a.Judged()
	for i, o := range a.Observations {
		if o.Origin != locate.FromReading {
			continue
		}
		j := judged[i]
		r := Reading{Index: o.Reading.Index, Kind: o.Reading.Kind.String(), Value: o.Value, Fitted: j.Fitted, Sigma: o.Sigma,
			Residual: j.Residual, Normalized: j.Normalized, Redundancy: j.Redundancy, Suspect: suspect[i]}
		switch o.Reading.Kind {
		case bike.Angle:
			r.Of = o.Reading.Of.String()
			r.Value, r.Fitted, r.Sigma, r.Residual = plane.Deg(r.Value), plane.Deg(r.Fitted), plane.Deg(r.Sigma), plane.Deg(r.Residual)
		case bike.SeatTube:
		default:
			r.From, r.To = o.Reading.From.String(), o.Reading.To.String()
		}
		list = append(list, r)
	}
	return list
}

// WriteCSV writes one line per reference, with the other saddle beside it.
func (c Convert) WriteCSV(out io.Writer) error {
	w := csv.NewWriter(out)
	head := []string{"reference", "setback", "setback-sigma", "vertical-height", "vertical-height-sigma", "saddle-height", "saddle-height-sigma"}
	if c.Swap != nil {
		head = append(head, "to-setback", "to-vertical-height", "to-saddle-height", "error-forward", "error-up")
	}
	rows := [][]string{head}
	for _, r := range c.References {
		row := []string{r.Ref.String(), three(r.Setback), three(r.SigmaSetback), three(r.VerticalHeight), three(r.SigmaVertical),
			three(r.SaddleHeight), three(r.SigmaHeight)}
		if c.Swap != nil {
			other := make([]string, 5)
			for _, t := range c.Swap.References {
				if t.Ref == r.Ref {
					other = []string{three(t.Setback), three(t.VerticalHeight), three(t.SaddleHeight), three(t.ErrorForward), three(t.ErrorUp)}
				}
			}
			row = append(row, other...)
		}
		rows = append(rows, row)
	}
	if tube := c.SeatTube; tube != nil { // along it there is one number only
		row := make([]string, len(head))
		row[0], row[5], row[6] = "seat-tube", three(tube.Value), three(tube.Sigma)
		if c.Swap != nil && c.Swap.SeatTube != nil {
			row[9] = three(c.Swap.SeatTube.Value)
		}
		rows = append(rows, row)
	}
	return w.WriteAll(rows)
}

func three(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }

// ConvertText writes a conversion for a person.
func ConvertText(w io.Writer, c Convert, bold bool) error {
	p := &page{bold: bold}
	p.line(titled(c.ID, c.Name))
	p.line(fmt.Sprintf("tilt %s° ± %s°", signed(c.Tilt.Degrees(), 1), num(c.SigmaTilt.Degrees(), 1)))
	for _, s := range c.Suspects {
		p.para("! ", suspectText(s))
	}
	p.heading("From the BB, mm")
	p.line(left("reference", 14) + right("setback", 16) + right("vertical height", 17) + right("saddle height", 17) + floorHead(c.BBHeight))
	for _, r := range c.References {
		text := name(r.Ref.String(), 14) + right(plusMinus(r.Setback, r.SigmaSetback), 16) + right(plusMinus(r.VerticalHeight, r.SigmaVertical), 17) +
			right(plusMinus(r.SaddleHeight, r.SigmaHeight), 17)
		if c.BBHeight != nil {
			text += right(num(r.VerticalHeight+*c.BBHeight, 1), 12)
		}
		p.line(text)
	}
	if c.SeatTube != nil {
		p.line(left("along the seat tube to the top", 47) + right(plusMinus(c.SeatTube.Value, c.SeatTube.Sigma), 17))
	}
	p.para("", "vertical height is counted upright, saddle height along the straight line")
	p.checkedReadings(c.Readings)
	if c.Swap != nil {
		p.swap(c.Located)
	}
	p.notes(c.Assumptions, c.Warnings)
	_, err := io.WriteString(w, p.b.String())
	return err
}

func floorHead(h *float64) string {
	if h == nil {
		return ""
	}
	return right("from floor", 12)
}

func plusMinus(v, sigma float64) string { return num(v, 1) + " ±" + right(num(sigma, 1), 4) }

// checkedReadings says of each reading how well the others check it.
func (p *page) checkedReadings(list []Reading) {
	p.heading("Readings")
	p.line(left("", 34) + right("read", 9) + right("fitted", 9) + right("±", 6) + "  checked by others")
	for _, r := range list {
		what := r.Kind
		switch {
		case r.Of != "":
			what = "tilt"
		case r.To != "":
			what += " " + r.From + " to " + r.To
		}
		checked := "no"
		if r.Redundancy > 0.005 {
			checked = num(100*r.Redundancy, 0) + " %"
		}
		if r.Suspect {
			checked += ", suspect"
		}
		p.line(name(what, 34) + right(num(r.Value, 1), 9) + right(num(r.Fitted, 1), 9) + right(num(r.Sigma, 1), 6) + "  " + checked)
	}
}

func (p *page) swap(l *convert.Located) {
	s := l.Swap
	p.heading("On " + titled(s.To, s.Name))
	carried, tilt := "unloaded", "tilt unchanged"
	if s.Loaded {
		carried = "loaded, so with what each saddle gives"
	}
	if s.Tilt != l.Tilt {
		tilt = "tilt " + signed(s.Tilt.Degrees(), 1) + "°"
	}
	p.para("", fmt.Sprintf("the support, %s%smm wide, rests at the same place (%s), %s", num(s.Support, 1), noBreak, carried, tilt))
	p.line(left("reference", 14) + right("setback", 9) + right("vertical h.", 13) + right("saddle h.", 11) + "   kept, the support lands")
	for _, r := range s.References {
		p.line(name(r.Ref.String(), 14) + right(num(r.Setback, 1), 9) + right(num(r.VerticalHeight, 1), 13) + right(num(r.SaddleHeight, 1), 11) +
			"   " + lands(r.ErrorForward, r.ErrorUp))
	}
	if s.SeatTube != nil {
		p.line(left("seat tube", 14) + right(plusMinus(s.SeatTube.Value, s.SeatTube.Sigma), 33))
	}
	p.para("", fmt.Sprintf("ambiguity of the swap: the references disagree by up to %s%smm about where this saddle goes", num(s.Spread, 1), noBreak))
	switch {
	case s.Post != nil:
		way, by := "out of", s.Post.Up
		if by < 0 {
			way, by = "into", -by
		}
		p.para("", fmt.Sprintf("the post goes %s%smm %s the seat tube, and its clamp holds the rails %s%smm behind the nose, where it held %s at %s%smm",
			num(by, 1), noBreak, way, num(s.Post.To, 1), noBreak, diag.Visible(l.ID), num(s.Post.From, 1), noBreak))
	case l.SeatTube == nil:
		p.para("", "with --seat-angle it says how far post and rails move")
	}
}

// lands says how far off something lands.
func lands(forward, up float64) string {
	if num(forward, 1) == "0.0" && num(up, 1) == "0.0" {
		return "in place"
	}
	way := func(v float64, more, less string) string {
		if v < 0 {
			more = less
		}
		return right(num(math.Abs(v), 1), 5) + " " + more
	}
	return left(way(forward, "forward", "back")+",", 15) + way(up, "up", "down")
}

// notes are assumptions and warnings.
func (p *page) notes(assumptions []string, warnings []convert.Warning) {
	if len(assumptions)+len(warnings) > 0 {
		p.line("")
	}
	for _, t := range assumptions {
		p.para("assumed: ", t)
	}
	for _, t := range warnings {
		p.para("! ", t.Text)
	}
}
