package job

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/locate"
	"carryover/internal/partfile"
	"carryover/internal/plane"
)

// What is written is the bike as it will stand: read back its contacts are those that were got, the expected readings typed in
// confirm it, it is carried on to itself without a move, and whatever was not changed is still in it.
func TestTheFinishedFileIsWhatWasCarried(t *testing.T) {
	for name, q := range map[string]Asked{
		"anchors and scales":         {From: "example:road", To: "example:studio"},
		"pads, holes and risers":     {From: "example:tri", To: "example:studio", Posture: "aero"},
		"read as it stands":          {From: "example:weekend", To: "example:trainer"},
		"pads of their own":          {From: "example:aero", To: "example:aero-trainer"},
		"by tape":                    {From: "example:road", To: "example:resaddled"},
		"open slots":                 {From: "example:road", To: "example:outdoor"},
		"scales that are still mute": {From: "example:road", To: "example:studio-calibrate"},
		"read after the last time":   {From: "example:road", To: "example:studio-set"},
		"another saddle":             {From: "example:road", Exchange: Exchange{partfile.Saddle: "classic-280"}},
		"as near as it comes":        {From: "example:road", Exchange: Exchange{partfile.Bar: "classic-420"}},
	} {
		t.Run(name, func(t *testing.T) {
			f := &Files{}
			ctx, path := context.Background(), filepath.Join(t.TempDir(), "done.toml")
			c, err := f.Carry(ctx, q)
			require.NoError(t, err)
			text, err := f.Finished(c, q, "2030-05-14", path)
			require.NoError(t, err)

			// The readings typed in: what was a comment is one no more.
			before, expected, found := strings.Cut(string(text), "\n# What it should read")
			require.True(t, found)
			lines := strings.Split(expected, "\n")
			for i, l := range lines {
				if i > 2 {
					lines[i] = strings.TrimPrefix(l, "# ")
				}
			}
			filled := before + "\n# What it should read" + strings.Join(lines, "\n")
			require.NoError(t, os.WriteFile(path, []byte(filled), 0o600))
			b, err := f.Bike(path)
			require.NoError(t, err)
			assert.NotContains(t, string(text), "\n[[reading]]")
			assert.Len(t, b.Readings, strings.Count(expected, "[[reading]]"))
			assert.Equal(t, "2030-05-14", b.Record.Date)
			assert.Contains(t, b.Record.Notes, c.Bike.Name)
			done, err := f.Confirm(ctx, Asked{From: q.From, To: path, Posture: q.Posture}, false)
			require.NoError(t, err)
			assert.Equal(t, c.Carried(), done.Inside)
			for i, r := range done.Results {
				for k, contact := range r.Contacts {
					assert.InDelta(t, c.Results[i].Contacts[k].Miss, contact.Miss, 0.6, "%s", contact.Want.Name)
				}
			}

			// Next year: the same from the finished file, whether it was confirmed or not unless only the tape says where it is.
			if !strings.Contains(string(text), "until then nothing says where") {
				require.NoError(t, os.WriteFile(path, text, 0o600))
			}
			next, err := f.Source(path, nil, locate.Options{})
			require.NoError(t, err)
			stands, err := next.Postures(c.Results[0].Position.Posture.Name)
			require.NoError(t, err)
			got := c.Results[0].Contacts
			assert.Less(t, stands[0].Position.Sit.At.Sub(got[0].Got.At).Norm(), 0.5)
			assert.Less(t, stands[0].Position.Hands.At.Sub(got[1].Got.At).Norm(), 0.5)
			assert.InDelta(t, got[0].Got.Angle, stands[0].Position.Sit.Angle, plane.Rad(0.1))
			if c.Carried() {
				again, err := f.Carry(ctx, Asked{From: q.From, To: path, Posture: q.Posture})
				require.NoError(t, err)
				assert.True(t, again.Carried())
				for _, set := range again.Results[0].Settings {
					if by, known := set.Move(); known {
						assert.InDelta(t, 0, by, map[bool]float64{true: plane.Rad(0.15), false: 0.7}[set.Turns()], set.Name)
					}
				}
			}

			// Whatever the file of TO says beside what was changed is still there, comments included.
			src, _, err := f.read(map[bool]string{true: q.From, false: q.To}[q.To == ""])
			require.NoError(t, err)
			for _, l := range strings.Split(string(src), "\n") {
				if key, comment, has := strings.Cut(l, " # "); has && !strings.Contains(key, "value") && !strings.Contains(key, "kind") &&
					!(strings.Contains(key, "part") && q.Exchange != nil) {
					assert.Contains(t, string(text), strings.TrimSpace(comment))
				}
			}
		})
	}
}

// Postures that want the saddle in two places do not go into one file; parts in files are found from the folder of the new one.
func TestFinishedFilesAndTheirFolders(t *testing.T) {
	f, ctx := &Files{}, context.Background()
	q := Asked{From: "example:tri", To: "example:studio"}
	c, err := f.Carry(ctx, q)
	require.NoError(t, err)
	_, err = f.Finished(c, q, "2030-05-14", "x.toml")
	assert.ErrorContains(t, err, "name one with --posture")

	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "parts"), 0o700))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "done"), 0o700))
	part, err := os.ReadFile("../../catalogs/saddles/classic-280.toml")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "parts", "mine.toml"), part, 0o600))
	studio, _, err := f.read("example:studio")
	require.NoError(t, err)
	to := filepath.Join(dir, "studio.toml")
	text := strings.Replace(string(studio), `"classic-280"`, `"file:parts/mine.toml"`, 1)
	require.NoError(t, os.WriteFile(to, []byte(strings.Replace(text, "schema = 1", "schema = 1\nnotes = \"Bolt is worn.\"", 1)), 0o600))
	q = Asked{From: "example:road", To: to}
	c, err = f.Carry(ctx, q)
	require.NoError(t, err)
	out := filepath.Join(dir, "done", "studio.toml")
	first, err := f.Finished(c, q, "2030-05-14", out)
	require.NoError(t, err)
	assert.Contains(t, string(first), `part = "file:../parts/mine.toml"`)
	require.NoError(t, os.WriteFile(out, first, 0o600))
	b, err := f.Bike(out)
	require.NoError(t, err)
	t.Chdir(dir) // a part given on the command line is named from where one is
	q = Asked{From: "example:road", Exchange: Exchange{partfile.Saddle: "parts/mine.toml"}}
	c, err = f.Carry(ctx, q)
	require.NoError(t, err)
	first, err = f.Finished(c, q, "2030-05-14", filepath.Join("done", "road.toml"))
	require.NoError(t, err)
	assert.Contains(t, string(first), `part = "file:../parts/mine.toml"`)
	assert.Equal(t, "Bolt is worn.\n2030-05-14: carries the position of Short-saddled road bike (example:road), posture road.", b.Record.Notes)
}
