//go:build !js

// Not in the page: a browser is handed SVG.

package draw

import (
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"carryover/internal/plane"
)

// PDF writes pictures as pages of their own size, one mm of paper a mm. The same pictures give the same bytes.
func PDF(w io.Writer, pages ...*Picture) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm"})
	// A file made twice from the same input is the same file: the date is on the page where one is wanted.
	doc.SetCreationDate(time.Unix(0, 0).UTC())
	doc.SetModificationDate(time.Unix(0, 0).UTC())
	doc.SetCatalogSort(true)
	doc.SetCompression(true)
	doc.SetAutoPageBreak(false, 0)
	doc.SetMargins(0, 0, 0)
	doc.AddUTF8FontFromBytes("go", "", goregular.TTF)
	doc.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	doc.SetCreator("carryover", true)
	if len(pages) > 0 {
		doc.SetTitle(printable(pages[0].heading()), true)
	}
	doc.SetLineJoinStyle("round")
	for _, p := range pages {
		doc.AddPageFormat("P", fpdf.SizeType{Wd: p.Width, Ht: p.Height})
		for _, m := range p.Marks {
			m.pdf(doc)
		}
	}
	return doc.Output(w)
}

// pointsPerMM turns mm into the points fonts are sized in.
const pointsPerMM = 72 / 25.4

func (m *Mark) pdf(doc *fpdf.Fpdf) {
	l := m.Style.look()
	if m.Text != "" {
		style := ""
		if l.bold {
			style = "B"
		}
		text := printable(m.Text)
		doc.SetFont("go", style, l.size*pointsPerMM)
		doc.SetTextColor(int(l.fill.R), int(l.fill.G), int(l.fill.B))
		shift := plane.Point{X: m.shift(TextWidth(text, m.Style))}.Turn(-m.Turn)
		at := m.At.Add(shift)
		if m.Turn != 0 {
			doc.TransformBegin()
			doc.TransformRotate(plane.Deg(m.Turn), at.X, at.Y)
		}
		doc.Text(at.X, at.Y, text)
		if m.Turn != 0 {
			doc.TransformEnd()
		}
		return
	}
	if len(m.Line) < 2 {
		return
	}
	doc.MoveTo(m.Line[0].X, m.Line[0].Y)
	for _, q := range m.Line[1:] {
		doc.LineTo(q.X, q.Y)
	}
	if m.Closed {
		doc.ClosePath()
	}
	how := ""
	if l.fill.A > 0 && m.Closed {
		doc.SetFillColor(int(l.fill.R), int(l.fill.G), int(l.fill.B))
		how = "F"
	}
	if l.stroke.A > 0 {
		doc.SetDrawColor(int(l.stroke.R), int(l.stroke.G), int(l.stroke.B))
		doc.SetLineWidth(l.width)
		doc.SetDashPattern(l.dash, 0)
		how += "D"
	}
	doc.DrawPath(how)
}
