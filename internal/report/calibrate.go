package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"carryover/internal/bike"
	"carryover/internal/calibrate"
	"carryover/internal/diag"
	"carryover/internal/locate"
)

// Calibrate is the outcome of `carryover calibrate`, as JSON. Lengths mm, angles degrees.
type Calibrate struct {
	Schema      int                  `json:"schema"`
	Bike        string               `json:"bike"`
	Parameters  []Parameter          `json:"parameters"`
	Readings    []CalibrationReading `json:"readings"`
	Linear      []Linear             `json:"linear"`
	Fit         locate.Fit           `json:"fit"`
	P           float64              `json:"p"`
	Fragment    string               `json:"fragment"`
	Written     string               `json:"written,omitempty"`
	Kept        string               `json:"kept,omitempty"` // where the original is
	Assumptions []string             `json:"assumptions"`
}

// Parameter is one number of the machine; the unit of a unit is mm or degrees per mark.
type Parameter struct {
	Name   string  `json:"name"` // anchor.saddle_clamp.x, or angle or unit with the adjuster
	Of     string  `json:"adjuster,omitempty"`
	Before float64 `json:"before"`
	Value  float64 `json:"value"`
	Sigma  float64 `json:"sigma"`
	Unit   string  `json:"unit"`
	Fitted bool    `json:"fitted"`
	Kept   bool    `json:"kept,omitempty"`  // a unit that the entries, with this ±, do not contradict
	Doubt  string  `json:"doubt,omitempty"` // why the fitted number is not to be relied upon
	Needs  string  `json:"needs,omitempty"` // the entry that would tell it, or tell it better
}

// CalibrationReading is a reading or mark of an entry; a mark is given as the travel it stands for.
type CalibrationReading struct {
	Entry      int     `json:"entry"`
	Name       string  `json:"name"`
	Index      int     `json:"index"` // of a reading in its entry, 0 for a mark
	Value      float64 `json:"value"`
	Fitted     float64 `json:"fitted"`
	Residual   float64 `json:"residual"`
	Sigma      float64 `json:"sigma"`
	Normalized float64 `json:"normalized"`
	Redundancy float64 `json:"redundancy"`
	Unit       string  `json:"unit"`
	Suspect    bool    `json:"suspect"`
	// Of a mark: what the scale shows, and what it should show.
	Mark       *float64 `json:"mark,omitempty"`
	FittedMark *float64 `json:"fitted_mark,omitempty"`
}

// read and fits are a reading in its unit, or a mark as its scale shows it.
func (r *CalibrationReading) read() string {
	if r.Mark != nil {
		return trimmed(*r.Mark)
	}
	return amount(r.Value, r.Unit)
}

func (r *CalibrationReading) fits() string {
	if r.FittedMark != nil {
		return num(*r.FittedMark, 2)
	}
	return num(r.Fitted, 1)
}

// Linear is the test of a scale; bend is how far its middle is off the line through its ends.
type Linear struct {
	Adjuster string  `json:"adjuster"`
	Points   int     `json:"points"`
	Tested   bool    `json:"tested"`
	Straight bool    `json:"straight"`
	Bend     float64 `json:"bend"`
	Sigma    float64 `json:"sigma"`
	Unit     string  `json:"unit"`
}

// NewCalibrate is a calibration as JSON.
func NewCalibrate(r *calibrate.Result) Calibrate {
	b := r.Bike
	c := Calibrate{Schema: 1, Bike: b.File, Parameters: []Parameter{}, Readings: []CalibrationReading{}, Linear: []Linear{},
		Fit: locate.Fit{Chi2: r.Chi2, DOF: r.DOF}, P: r.P, Fragment: r.Fragment(), Assumptions: append([]string{}, r.Assumptions...)}
	for _, p := range r.Parameters {
		turns := p.Kind == calibrate.Angle || p.Kind == calibrate.Unit && b.Adjusters[p.Adjuster].Moves.Turns()
		unit, show := unitOf(turns)
		k := Parameter{Before: show(p.Before), Value: show(p.Value), Sigma: show(p.Sigma), Unit: unit, Fitted: p.Fitted, Kept: p.Kept, Doubt: p.Doubt, Needs: p.Needs}
		switch p.Kind {
		case calibrate.Angle:
			k.Name = "angle"
		case calibrate.Unit:
			k.Name = "unit"
		default:
			k.Name = "anchor." + map[bool]string{true: "saddle_clamp", false: "bar_clamp"}[p.Saddle] + map[bool]string{true: ".x", false: ".y"}[p.Kind == calibrate.AnchorX]
		}
		if p.Adjuster >= 0 {
			k.Of = b.Adjusters[p.Adjuster].Name
		}
		c.Parameters = append(c.Parameters, k)
	}
	for _, k := range r.Readings {
		turns, label, index := false, "", 0
		if k.Reading != nil {
			turns, label, index = k.Reading.Kind == bike.Angle, k.Reading.Written, k.Reading.Index
		} else {
			a := &b.Adjusters[k.Adjuster]
			turns, label = a.Moves.Turns(), "mark of "+a.Name
		}
		unit, show := unitOf(turns)
		out := CalibrationReading{Entry: k.Entry + 1, Name: label, Index: index, Value: show(k.Value), Fitted: show(k.Fitted),
			Residual: show(k.Fitted - k.Value), Sigma: show(k.Sigma), Normalized: k.Normalized, Redundancy: k.Redundancy, Unit: unit, Suspect: k.Suspect}
		if k.Reading == nil {
			mark, fitted := k.Mark, k.FittedMark
			out.Mark, out.FittedMark = &mark, &fitted
		}
		c.Readings = append(c.Readings, out)
	}
	for _, l := range r.Linear {
		a := &b.Adjusters[l.Adjuster]
		unit, show := unitOf(a.Moves.Turns())
		c.Linear = append(c.Linear, Linear{a.Name, l.Points, l.Tested, l.Straight, show(l.Bend), show(l.Sigma), unit})
	}
	return c
}

// Wrong reports whether a reading does not fit or a scale is bent.
func (c *Calibrate) Wrong() bool {
	for _, r := range c.Readings {
		if r.Suspect {
			return true
		}
	}
	for _, l := range c.Linear {
		if !l.Straight {
			return true
		}
	}
	return false
}

// CalibrateText writes a calibration for a person, in 80 columns.
func CalibrateText(w io.Writer, c Calibrate, bold bool) error {
	p := &page{bold: bold}
	p.para("", diag.Shorten(c.Bike, 50)+" calibrated. ± is one standard uncertainty.")
	for _, r := range c.Readings {
		if r.Suspect {
			p.para("! ", fmt.Sprintf("entry %d: %s = %s does not fit the other entries, which say %s. It is set aside; measure it again.",
				r.Entry, diag.Shorten(r.Name, 40), r.read(), r.fits()))
		}
	}
	p.heading("The machine")
	p.line("                                        file        fitted")
	for _, k := range c.Parameters {
		label := k.Name
		if k.Of != "" {
			label = diag.Shorten(k.Of, 24) + ", " + k.Name
		}
		decimals, unit := 1, " mm"
		if k.Unit == "deg" {
			unit = "°"
		}
		if k.Name == "angle" {
			decimals = 2
		}
		if k.Name == "unit" {
			decimals, unit = 3, unit+" per mark"
		}
		line := "  " + name(label, 32) + right(num(k.Before, decimals), 10)
		switch {
		case k.Kept:
			line += "      stays: the entries agree within their ± " + num(k.Sigma, decimals)
		case k.Fitted:
			line += right(num(k.Value, decimals), 12) + left(" ± "+num(k.Sigma, decimals), 9) + unit
		default:
			line += "      as in the file"
		}
		p.line(line)
	}
	p.untold(c)
	p.scales(c)
	p.heading("Readings that are off most")
	p.line("  entry  what                                    read      fits     off")
	for _, r := range worst(c.Readings, 8) {
		p.line(fmt.Sprintf("  %5d  ", r.Entry) + name(r.Name, 34) + right(r.read(), 12) + right(r.fits(), 10) + right(signed(r.Residual, 1), 8) + unitAfterMark(r))
	}
	if c.Fit.DOF == 0 {
		p.para("  ", "All together: no reading checks another, so nothing tells whether they are right.")
	} else {
		p.para("  ", fmt.Sprintf("All together: chi-square %s with %d to spare, p = %.2g.", num(c.Fit.Chi2, 1), c.Fit.DOF, c.P))
	}
	for _, a := range c.Assumptions {
		p.para("? ", diag.Visible("assumed: "+a))
	}
	if c.Written != "" {
		p.line("")
		p.para("", fmt.Sprintf("Written into %s; the original is kept as %s.", diag.Visible(c.Written), diag.Visible(c.Kept)))
	} else {
		title := "For the file (or run again with --write)"
		if slices.ContainsFunc(c.Parameters, func(k Parameter) bool { return k.Doubt != "" }) {
			title = "What it would be in the file, not to be relied upon as yet"
		}
		p.heading(title)
		for _, line := range strings.Split(strings.TrimRight(c.Fragment, "\n"), "\n") {
			p.line("  " + diag.Visible(line))
		}
	}
	_, err := io.WriteString(w, p.b.String())
	return err
}

// untold says what the entries do not tell, or tell badly, and what would.
func (p *page) untold(c Calibrate) {
	type key struct{ doubt, needs string }
	said := map[key]bool{}
	for _, k := range c.Parameters {
		this := key{k.Doubt, k.Needs}
		if k.Needs == "" && k.Doubt == "" || said[this] {
			continue
		}
		said[this] = true
		var of []string // each adjuster with what of it, anchors by themselves
		what := map[string][]string{}
		for _, o := range c.Parameters {
			if (key{o.Doubt, o.Needs}) == this {
				if what[o.Of] == nil {
					of = append(of, o.Of)
				}
				what[o.Of] = append(what[o.Of], "the "+o.Name)
			}
		}
		for i, name := range of {
			list := strings.Join(what[name], " and ")
			if name != "" {
				list += " of " + diag.Shorten(name, 30)
			}
			of[i] = list
		}
		text := "The entries do not tell " + strings.Join(of, ", nor ") + "."
		if k.Doubt != "" {
			text = "Not to be relied upon: " + strings.Join(of, ", ") + ", " + k.Doubt + "."
		}
		if k.Needs != "" {
			text += " What would: " + k.Needs + "."
			if k.Doubt != "" {
				text = strings.Replace(text, " What would: ", " What would help: ", 1)
			}
		}
		p.para("  ? ", diag.Visible(text))
	}
}

// unitAfterMark tells that what a mark is off by is no longer in marks.
func unitAfterMark(r CalibrationReading) string {
	if r.Mark == nil {
		return ""
	}
	return map[string]string{"mm": " mm", "deg": "°"}[r.Unit]
}

func (p *page) scales(c Calibrate) {
	p.heading("Are the scales straight?")
	for _, l := range c.Linear {
		text := ""
		switch {
		case l.Points < 3:
			text = fmt.Sprintf("cannot be told from %d different marks; it takes three", l.Points)
		case !l.Tested:
			text = "the entries cannot tell"
		case l.Straight:
			text = fmt.Sprintf("yes, as far as the readings tell: middle off by %s ± %s", amount(l.Bend, l.Unit), num(l.Sigma, 1))
		default:
			text = fmt.Sprintf("NO: its middle is off by %s ± %s; a reading or mark may be wrong too", amount(l.Bend, l.Unit), num(l.Sigma, 1))
		}
		p.para("  "+name(l.Adjuster, 20), text)
	}
}

// worst are the n readings with the largest normalized residuals, suspects first, in their order.
func worst(all []CalibrationReading, n int) []CalibrationReading {
	taken := map[int]bool{}
	for len(taken) < min(n, len(all)) {
		best := -1
		for i, r := range all {
			if !taken[i] && (best < 0 || r.Normalized > all[best].Normalized) {
				best = i
			}
		}
		taken[best] = true
	}
	var out []CalibrationReading
	for i, r := range all {
		if taken[i] {
			out = append(out, r)
		}
	}
	return out
}
