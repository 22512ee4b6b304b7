package sheet_test

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// box is a text on the page, in pixels.
type box struct {
	Of, Text                 string
	Left, Top, Right, Bottom float64
	Wide                     float64 // of its letters
}

// boxes are the texts of the pictures of a page, and of each the room that it takes; CUT are those that leave their picture. Letters
// that the page does not bring along are taken from some fonts of the machine.
func (p *tab) boxes(fonts string) (list []box) {
	p.eval(fmt.Sprintf(`(() => {
		document.head.appendChild(document.createElement("style")).textContent = "* { font-family: carryover, %s !important }";
		const out = [];
		for (const svg of document.querySelectorAll(".scroll svg")) {
			const v = svg.getBoundingClientRect();
			if (!v.width) continue;
			for (const e of svg.querySelectorAll("text")) {
				if (e.getAttribute("transform")) continue; // its box is not upright
				const b = e.getBoundingClientRect(), inset = (b.bottom - b.top) * 0.18; // room of the line, not of the letters
				out.push({Of: svg.id, Text: e.textContent, Left: b.left, Right: b.right, Top: b.top + inset, Bottom: b.bottom - inset,
					Wide: e.getComputedTextLength()});
				if (b.left < v.left - 1 || b.right > v.right + 1) out.push({Of: svg.id, Text: "CUT: " + e.textContent});
			}
		}
		return out;
	})()`, fonts), &list)
	require.NotEmpty(p.t, list)
	return list
}

// Whatever fonts the reader has, no text of a picture lies on another or is cut, and the letters that the page brings along
// are as wide.
func TestLayoutHoldsWithOtherFonts(t *testing.T) {
	pages := map[string][]byte{}
	for _, name := range []string{"An ordinary bike", "אופני שטח", "دراجة الطريق", "公路自行车"} {
		pages[name] = written(t, carried(t, "road", "studio", named(name)))
	}
	if os.Getenv("CI") == "true" {
		for _, pair := range pairs {
			name := pair[0] + " to " + pair[1]
			pages[name] = written(t, carried(t, pair[0], pair[1], nil))
			pages[name+", long names"] = written(t, carried(t, pair[0], pair[1], named(strings.Repeat("An endless name ", 4))))
		}
	}
	p := browse(t, "")
	p.width(1280)
	for name, page := range pages {
		p.open(saved(t, page))
		p.letters()
		var first []box
		for _, fonts := range []string{"sans-serif", "serif", "monospace"} {
			list := p.boxes(fonts)
			for i, a := range list {
				assert.NotContains(t, a.Text, "CUT: ", "%s with %s", name, fonts)
				for _, b := range list[:i] {
					if a.Of == b.Of && min(a.Right, b.Right)-max(a.Left, b.Left) > 1 && min(a.Bottom, b.Bottom)-max(a.Top, b.Top) > 1 {
						t.Errorf("%s with %s: %q lies on %q in %s", name, fonts, a.Text, b.Text, a.Of)
					}
				}
			}
			if first == nil {
				first = list
			}
			require.Len(t, list, len(first))
			for i := range list {
				assert.InDelta(t, first[i].Wide, list[i].Wide, 0.15, "%s: %q is as wide with every font", name, list[i].Text)
			}
		}
	}
}
