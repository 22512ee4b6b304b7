package page

import (
	"bytes"
	"fmt"
	"html"
	"strings"

	"carryover/internal/draw"
	"carryover/internal/job"
	"carryover/internal/partfile"
	"carryover/internal/sheet"
	"carryover/internal/template"
	"carryover/internal/words"
	"carryover/internal/written"
)

const typeSVG = "image/svg+xml"

// sheet hands out the set-up sheet, as `carryover sheet` writes it.
func (v *visit) sheet() Response {
	return v.ofPair("-sheet.html", typeHTML, func(b *bytes.Buffer, c *job.Carry) error {
		return sheet.Set(b, c, v.now(), []sheet.Input{{Name: "From", Value: words.Titled(c.Bike)}, {Name: "To", Value: words.Titled(c.Target)},
			{Name: "Program", Value: "carryover, the page"}})
	})
}

// drawing hands out the drawings of a carry as one SVG, exact in mm.
func (v *visit) drawing() Response {
	return v.ofPair("-drawings.svg", typeSVG, func(b *bytes.Buffer, c *job.Carry) error {
		return draw.Stack("Pictures", 8, draw.NewScene(c.Results[0]).View("all", 0)...).SVG(b)
	})
}

// ofPair hands out a file about a carry, named after the bike that is set.
func (v *visit) ofPair(ending, kind string, write func(*bytes.Buffer, *job.Carry) error) Response {
	p, err := v.pair()
	if err != nil {
		return v.problem(StatusFailed, "The folder cannot be read", err)
	}
	c, err := p.carried(v)
	if err != nil {
		return v.problem(StatusUnprocessed, "This cannot be carried", err)
	}
	var b bytes.Buffer
	if err := write(&b, c); err != nil {
		return v.problem(StatusFailed, "This file cannot be made", err)
	}
	return Response{Status: StatusOK, Type: kind, Name: slug(words.Bike(c.Target)) + ending, Body: b.Bytes()}
}

// template hands out a saddle, or a gauge that finds where one has a width, in true size: pages of a HTML file to print at 100 %.
func (v *visit) template() Response {
	paper := template.A4
	if v.get("paper") == "letter" {
		paper = template.Letter
	}
	pages, name, err := v.trueSize(paper)
	if err != nil {
		return v.problem(StatusUnprocessed, "This template cannot be made", err)
	}
	var letters, body strings.Builder
	for i, p := range pages {
		for _, m := range p.Marks {
			letters.WriteString(m.Text)
		}
		fmt.Fprintf(&body, "<section>%s</section>\n", p.Inline(fmt.Sprintf("page-%d", i+1)))
	}
	text := fmt.Sprintf("<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>%s, true size</title>\n<style>@page{size:%gmm "+
		"%gmm;margin:0}body{margin:0}"+
		"section{break-after:page}svg{display:block}\n%s%s</style>\n%s</html>\n", html.EscapeString(name), paper.Width, paper.Height,
		draw.FontCSS(letters.String()), draw.CSS(), body.String())
	return Response{Status: StatusOK, Type: typeHTML, Name: slug(name) + ".html", Body: []byte(text)}
}

func (v *visit) trueSize(paper template.Paper) ([]*draw.Picture, string, error) {
	width := 0.0
	if text := v.get("width"); text != "" {
		var err error
		if width, err = written.Length(text); err != nil {
			return nil, "", err
		}
	}
	if id := v.get("saddle"); id != "" {
		lib, err := v.files.Library()
		if err != nil {
			return nil, "", err
		}
		part, err := lib.Lookup(partfile.Saddle, id)
		if err != nil {
			return nil, "", err
		}
		pages, err := template.Pages(template.Saddle{Name: part.Name, Shape: part.Saddle, Support: width}, paper)
		return pages, part.Name, err
	}
	p, err := template.Gauge(width, paper)
	return []*draw.Picture{p}, "Gauge " + words.Trimmed(width, 1), err
}
