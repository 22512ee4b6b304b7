package sheet_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// fontFolders are the folders with fonts on this machine.
func fontFolders(t *testing.T) (list []string) {
	out, err := exec.Command("fc-list", "--format", "%{file}\n").Output()
	if err != nil {
		t.Skip("fc-list is missing, so the fonts here are not known: apt-get install fontconfig")
	}
	for _, file := range strings.Fields(string(out)) {
		if d := filepath.Dir(file); strings.HasSuffix(file, ".ttf") && !slices.Contains(list, d) {
			list = append(list, d)
		}
	}
	slices.Sort(list)
	return list
}

// only makes the browser see no fonts but those of a folder.
func only(t *testing.T, folder string) {
	dir := t.TempDir()
	file := filepath.Join(dir, "fonts.conf")
	require.NoError(t, os.WriteFile(file, []byte(fmt.Sprintf(`<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><dir>%s</dir><cachedir>%s</cachedir></fontconfig>`, folder, filepath.Join(dir, "cache"))), 0o600))
	t.Setenv("FONTCONFIG_FILE", file)
}

// box is a text on the page, in pixels.
type box struct {
	Of, Text                 string
	Left, Top, Right, Bottom float64
	Wide                     float64 // of its letters
}

// boxes are the texts of the pictures, and of each the room that it takes; cut are those that leave their picture.
const boxes = `(() => {
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
})()`

// Whatever fonts the reader has, no text of a picture lies on another or is cut, and the letters that the page brings along
// are as wide.
func TestLayoutHoldsWithOtherFonts(t *testing.T) {
	folders := fontFolders(t)
	if len(folders) < 2 {
		t.Skip("there is only one folder of fonts here")
	}
	names := []string{"An ordinary bike", "אופני שטח", "دراجة الطريق", "公路自行车"}
	pages := map[string][]byte{}
	for _, name := range names {
		pages[name] = written(t, carried(t, "road", "studio", named(name)))
	}
	if os.Getenv("CI") == "true" {
		for _, pair := range pairs {
			pages[pair[0]+" to "+pair[1]] = written(t, carried(t, pair[0], pair[1], nil))
			pages[pair[0]+" to "+pair[1]+", long names"] = written(t, carried(t, pair[0], pair[1], named(strings.Repeat("An endless name ", 4))))
		}
	}
	seen := map[string][]box{}
	for _, folder := range []string{folders[0], folders[len(folders)-1]} {
		only(t, folder)
		b, err := start()
		need(t, err)
		t.Cleanup(b.end)
		p := b.browse(t, saved(t, pages[names[0]]))
		p.width(1280)
		for name, page := range pages {
			p.open(saved(t, page))
			var ready bool
			for range 1000 {
				if p.eval(`document.fonts.status === "loaded" && document.fonts.check("16px carryover")`, &ready); ready {
					break
				}
			}
			var list []box
			p.eval(boxes, &list)
			require.NotEmpty(t, list)
			for i, a := range list {
				assert.NotContains(t, a.Text, "CUT: ", "%s with %s", name, folder)
				for _, b := range list[:i] {
					if a.Of == b.Of && min(a.Right, b.Right)-max(a.Left, b.Left) > 1 && min(a.Bottom, b.Bottom)-max(a.Top, b.Top) > 1 {
						t.Errorf("%s with %s: %q lies on %q in %s", name, folder, a.Text, b.Text, a.Of)
					}
				}
			}
			if first, ok := seen[name]; ok {
				require.Len(t, list, len(first))
				for i := range list {
					assert.InDelta(t, first[i].Wide, list[i].Wide, 0.15, "%q is as wide with every font", list[i].Text)
				}
			}
			seen[name] = list
		}
	}
}
