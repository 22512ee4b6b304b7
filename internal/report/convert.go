package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"carryover/internal/bike"
	"carryover/internal/convert"
	"carryover/internal/locate"
	"carryover/internal/plane"
)

// Convert is the outcome of `carryover convert`, as JSON. Lengths mm, angles degrees; setback is counted behind the BB,
// height above it.
type Convert struct {
	Schema      int                `json:"schema"`
	Saddle      string             `json:"saddle"`
	Name        string             `json:"name"`
	Tilt        float64            `json:"tilt"`
	SigmaTilt   float64            `json:"sigma_tilt"`
	References  []ConvertReference `json:"references"`
	SeatTube    *Measured          `json:"seat_tube,omitempty"`
	BBHeight    *float64           `json:"bb_height,omitempty"`
	Readings    []Reading          `json:"readings"`
	Suspects    []Suspect          `json:"suspects"`
	Swap        *ConvertSwap       `json:"swap,omitempty"`
	Assumptions []string           `json:"assumptions"`
	Warnings    []Warning          `json:"warnings"`
}

// ConvertReference is one reference of a saddle with its standard uncertainties.
type ConvertReference struct {
	Reference    string  `json:"reference"`
	Station      float64 `json:"station"`
	Setback      float64 `json:"setback"`
	SigmaSetback float64 `json:"sigma_setback"`
	Height       float64 `json:"height"`
	SigmaHeight  float64 `json:"sigma_height"`
	Line         float64 `json:"line"`
	SigmaLine    float64 `json:"sigma_line"`
}

// Measured is a number with its standard uncertainty.
type Measured struct {
	Value float64 `json:"value"`
	Sigma float64 `json:"sigma"`
}

// ConvertSwap is another saddle that carries the same support at the same place. Spread is the greatest distance
// between the places where two references, each kept, would put that saddle.
type ConvertSwap struct {
	To          string              `json:"to"`
	Name        string              `json:"name"`
	Loaded      bool                `json:"loaded"`
	Support     float64             `json:"support"`
	NoseForward float64             `json:"line_forward"`
	TopUp       float64             `json:"line_up"`
	References  []ConvertSwappedRef `json:"references"`
	SeatTube    *Measured           `json:"seat_tube,omitempty"`
	Spread      float64             `json:"spread"`
}

// ConvertSwappedRef is a reference on the other saddle; the errors are how far forward and up the support would land
// from where it was if this reference were kept.
type ConvertSwappedRef struct {
	ConvertReference
	ErrorForward float64 `json:"error_forward"`
	ErrorUp      float64 `json:"error_up"`
}

func convertReference(r convert.Reference) ConvertReference {
	return ConvertReference{r.Ref.String(), r.Station, r.Setback(), r.SigmaX, r.At.Y, r.SigmaY, r.Line, r.SigmaLine}
}

// NewConvert is a located saddle, and another in its place when s is not nil.
func NewConvert(l *convert.Located, s *convert.Swap, loaded bool) Convert {
	a := l.Adjustment
	c := Convert{Schema: 1, Saddle: l.Saddle.ID, Name: l.Saddle.Name, Tilt: plane.Deg(l.Tilt()), SigmaTilt: plane.Deg(l.SigmaTilt()),
		BBHeight: l.BBHeight, Readings: convertReadings(a), Suspects: append([]Suspect{}, NewSuspects(a)...),
		Assumptions: append([]string{}, a.Assumptions()...), Warnings: []Warning{}}
	for _, r := range l.References() {
		c.References = append(c.References, convertReference(r))
	}
	if v, sigma, ok := l.SeatTube(); ok {
		c.SeatTube = &Measured{v, sigma}
	}
	warn := func(text string) {
		if text != "" {
			c.Warnings = append(c.Warnings, Warning{"saddle-fit", text})
		}
	}
	for _, text := range a.Implausible() {
		c.Warnings = append(c.Warnings, Warning{locate.ImplausibleCode, text})
	}
	if s == nil {
		warn(convert.FitWarning(l.Saddle.ID, l.Fit()))
		return c
	}
	for _, text := range s.Warnings(l.Saddle) {
		warn(text)
	}
	w := &ConvertSwap{To: s.To.ID, Name: s.To.Name, Loaded: loaded, Support: l.SupportWidth(), NoseForward: s.Shift.Forward, TopUp: s.Shift.Up, Spread: s.Spread}
	for _, r := range s.References {
		w.References = append(w.References, ConvertSwappedRef{convertReference(r.To), r.Error.X, r.Error.Y})
	}
	if s.SeatTube != nil {
		w.SeatTube = &Measured{s.SeatTube.To, s.SeatTube.Sigma}
	}
	c.Swap = w
	return c
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
	head := []string{"reference", "setback", "setback_sigma", "height", "height_sigma", "line", "line_sigma"}
	if c.Swap != nil {
		head = append(head, "to_setback", "to_height", "to_line", "error_forward", "error_up")
	}
	rows := [][]string{head}
	for _, r := range c.References {
		row := []string{r.Reference, three(r.Setback), three(r.SigmaSetback), three(r.Height), three(r.SigmaHeight), three(r.Line), three(r.SigmaLine)}
		if c.Swap != nil {
			other := make([]string, 5)
			for _, t := range c.Swap.References {
				if t.Reference == r.Reference {
					other = []string{three(t.Setback), three(t.Height), three(t.Line), three(t.ErrorForward), three(t.ErrorUp)}
				}
			}
			row = append(row, other...)
		}
		rows = append(rows, row)
	}
	return w.WriteAll(rows)
}

func three(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }

// ConvertText writes a conversion for a person.
func ConvertText(w io.Writer, c Convert, bold bool) error {
	p := &page{bold: bold}
	p.line(titled(c.Saddle, c.Name))
	p.line(fmt.Sprintf("tilt %s° ± %s°", signed(c.Tilt, 1), num(c.SigmaTilt, 1)))
	for _, s := range c.Suspects {
		p.para("! ", suspectText(s))
	}
	p.heading("From the BB, mm")
	p.line(left("reference", 14) + right("setback", 16) + right("height", 16) + right("line", 16) + floorHead(c.BBHeight))
	for _, r := range c.References {
		text := name(r.Reference, 14) + right(plusMinus(r.Setback, r.SigmaSetback), 16) + right(plusMinus(r.Height, r.SigmaHeight), 16) +
			right(plusMinus(r.Line, r.SigmaLine), 16)
		if c.BBHeight != nil {
			text += right(num(r.Height+*c.BBHeight, 1), 12)
		}
		p.line(text)
	}
	if c.SeatTube != nil {
		p.line(left("along the seat tube to the top", 46) + right(plusMinus(c.SeatTube.Value, c.SeatTube.Sigma), 16))
	}
	p.checkedReadings(c.Readings)
	if c.Swap != nil {
		p.swap(c)
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

func (p *page) swap(c Convert) {
	s := c.Swap
	p.heading("On " + titled(s.To, s.Name))
	carried := "unloaded"
	if s.Loaded {
		carried = "loaded, so with what each saddle gives"
	}
	p.para("", fmt.Sprintf("the support, %s%smm wide, rests at the same place (%s), tilt unchanged", num(s.Support, 1), noBreak, carried))
	p.line(left("reference", 14) + right("setback", 11) + right("height", 11) + right("line", 11) + "   kept, the support lands")
	for _, r := range s.References {
		p.line(name(r.Reference, 14) + right(num(r.Setback, 1), 11) + right(num(r.Height, 1), 11) + right(num(r.Line, 1), 11) +
			"   " + lands(r.ErrorForward, r.ErrorUp))
	}
	if s.SeatTube != nil {
		p.line(left("seat tube", 14) + right(plusMinus(s.SeatTube.Value, s.SeatTube.Sigma), 33))
	}
	p.para("", fmt.Sprintf("ambiguity of the swap: the references disagree by up to %s%smm about where this saddle goes", num(s.Spread, 1), noBreak))
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
func (p *page) notes(assumptions []string, warnings []Warning) {
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
