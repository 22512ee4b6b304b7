package sheet

import (
	"math"
	"strings"

	"carryover/internal/draw"
)

// How much room things take on paper, mm: as page.css prints them, with the letters' own widths, on the narrower of A4 and Letter
// and within the height of the shorter.
const (
	letter   = 262.0 // height within the margins
	across   = 193.0 // width within them
	line     = 3.71  // of text
	small    = 3.34  // of text at 0.9
	heading  = 7.5   // with the rule below it
	column   = (across - 6) / 2
	fontSize = 2.963
)

// lines is the height of text in so much width.
func lines(text string, width float64) float64 { return line * count(text, width) }

// count is how many lines text takes in so much width.
func count(text string, width float64) float64 {
	n, at := 1.0, 0.0
	for _, word := range strings.Fields(text) {
		w := draw.TextWidth(word+" ", draw.Label) / draw.Label.Size() * fontSize
		if at > 0 && at+w > width {
			n, at = n+1, 0
		}
		for at += w; at > width+1; at -= width { // a word longer than a line is broken
			n++
		}
	}
	return n
}

// list is the height of some texts below one another.
func list(texts []string, width float64) (h float64) {
	for _, t := range texts {
		h += lines(t, width)
	}
	return h
}

// framed is the height of texts in a box with its margins, 0 where there are none.
func framed(texts []string, width float64) float64 {
	if len(texts) == 0 {
		return 0
	}
	return list(texts, width) + 4.5
}

// tall is the height of a picture with its heading, 0 where there is none.
func tall(p *draw.Picture) float64 {
	if p == nil {
		return 0
	}
	return p.Height + heading
}

// foot is the height of the page's last lines, where they stand.
func (v *view) foot(last bool) float64 {
	if !last {
		return 1
	}
	text := ""
	for _, i := range v.Inputs {
		text += i.Name + ": " + i.Value + "; "
	}
	return 3.5 + 2.97*count(text, across*8.4/7)
}

// verdict is the height of a posture's first lines.
func verdict(p *posture) float64 {
	return 7.6 + lines(p.Verdict, across-10) + framed(p.Dangers, across-16)
}

// height is what the text of a posture takes above its pictures; that of the first has the page's heading over it, with what
// cannot be carried at all, and the cautions.
func (v *view) height(p *posture, first bool) float64 {
	h := verdict(p)
	if first {
		h += 17 + framed(v.Doubts, across-16)
		if len(v.Cautions) > 0 {
			h += framed(append(v.Cautions[:len(v.Cautions):len(v.Cautions)], v.Meaning), across-14)
		}
		for _, b := range v.Bikes {
			h += small * math.Max(count(b.Parts, (across-41)/0.9), count(b.Name, 38/0.95))
		}
		for _, f := range v.Facts {
			h += small * math.Max(count(f.Value, (across-41)/0.9), count(f.Name, 38/0.95))
		}
		for i := range v.Postures {
			h += verdict(&v.Postures[i])
		}
	}
	steps, checks := heading+small, heading+small+6
	for _, s := range p.Steps {
		steps += 1.5 + lines(s.Check, column-6)
		for _, r := range s.Rows {
			steps += lines(r.What+" "+r.To, column-8)
		}
	}
	for _, c := range p.Checks {
		name := column - 24 - draw.TextWidth(c.Value, draw.Label)
		checks += 1.4 + lines(c.Name+" "+c.How, name)
	}
	h += math.Max(steps, checks)
	if minds := append(p.Minds[:len(p.Minds):len(p.Minds)], v.Assumed...); len(minds) > 0 {
		h += heading + list(minds, across-6)
	}
	return h
}
