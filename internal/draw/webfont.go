package draw

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"slices"
	"strings"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// FontCSS embeds the two fonts with the letters of text, so that a reader sees the widths that were measured.
func FontCSS(text string) string {
	var b strings.Builder
	for _, f := range []struct {
		of     face
		ttf    []byte
		weight string
	}{{regular(), goregular.TTF, "400"}, {bold(), gobold.TTF, "700"}} {
		used := map[int]bool{0: true}
		for _, r := range text {
			if g, err := f.of.font.GlyphIndex(nil, r); err == nil {
				used[int(g)] = true
			}
		}
		b.WriteString("@font-face{font-family:" + family + ";font-weight:" + f.weight + ";src:url(data:font/woff;base64," +
			base64.StdEncoding.EncodeToString(woff(subset(f.ttf, used))) + ") format(\"woff\")}\n")
	}
	return b.String()
}

// sfntTables are the tables of a TrueType file by name (ISO/IEC 14496-22, section 4.3).
func sfntTables(ttf []byte) map[string][]byte {
	tables := map[string][]byte{}
	for i := range int(binary.BigEndian.Uint16(ttf[4:])) {
		e := ttf[12+16*i:]
		at, length := binary.BigEndian.Uint32(e[8:]), binary.BigEndian.Uint32(e[12:])
		tables[string(e[:4])] = ttf[at : at+length]
	}
	return tables
}

// subset keeps the outlines of some glyphs, without hints; the others become empty but keep their numbers, so that the
// tables of letters and widths hold as they are. The Go fonts have short offsets (loca of halves) and no glyph made of others.
func subset(ttf []byte, used map[int]bool) map[string][]byte {
	t := sfntTables(ttf)
	u16 := func(b []byte, i int) int { return int(binary.BigEndian.Uint16(b[i:])) }
	glyph := func(g int) []byte { return t["glyf"][2*u16(t["loca"], 2*g) : 2*u16(t["loca"], 2*g+2)] }
	count := len(t["loca"])/2 - 1
	var glyf, loca []byte
	for g := range count {
		loca = binary.BigEndian.AppendUint16(loca, uint16(len(glyf)/2))
		b := glyph(g)
		if !used[g] || len(b) == 0 {
			continue
		}
		at := 10 + 2*u16(b, 0)
		glyf = slices.Concat(glyf, b[:at], []byte{0, 0}, b[at+2+u16(b, at):])
		for len(glyf)%4 != 0 {
			glyf = append(glyf, 0)
		}
	}
	loca = binary.BigEndian.AppendUint16(loca, uint16(len(glyf)/2))
	post := slices.Clone(t["post"][:32])
	binary.BigEndian.PutUint32(post, 0x00030000) // no names of glyphs
	return map[string][]byte{"OS/2": t["OS/2"], "cmap": t["cmap"], "glyf": glyf, "head": t["head"], "hhea": t["hhea"], "hmtx": t["hmtx"],
		"loca": loca, "maxp": t["maxp"], "name": {0, 0, 0, 0, 0, 6}, "post": post}
}

// woff packs tables as a WOFF 1.0 file (W3C Recommendation, 13 December 2012).
func woff(tables map[string][]byte) []byte {
	var names []string
	whole := 12
	for n, b := range tables {
		names = append(names, n)
		whole += 16 + (len(b)+3)&^3
	}
	slices.Sort(names)
	var directory, data []byte
	start := 44 + 20*len(names)
	for _, n := range names {
		b := tables[n]
		sum := uint32(0)
		for padded := append(slices.Clone(b), 0, 0, 0)[:(len(b)+3)&^3]; len(padded) > 0; padded = padded[4:] {
			sum += binary.BigEndian.Uint32(padded)
		}
		packed := deflated(b)
		if len(packed) >= len(b) {
			packed = b
		}
		directory = append(directory, n...)
		for _, v := range []uint32{uint32(start + len(data)), uint32(len(packed)), uint32(len(b)), sum} {
			directory = binary.BigEndian.AppendUint32(directory, v)
		}
		data = append(data, packed...)
		for len(data)%4 != 0 {
			data = append(data, 0)
		}
	}
	head := binary.BigEndian.AppendUint32([]byte("wOFF"), 0x00010000)
	head = binary.BigEndian.AppendUint32(head, uint32(start+len(data)))
	head = binary.BigEndian.AppendUint16(head, uint16(len(names)))
	head = binary.BigEndian.AppendUint16(head, 0)
	head = binary.BigEndian.AppendUint32(head, uint32(whole))
	head = append(head, make([]byte, 44-len(head))...) // version, metadata and private data: none
	return slices.Concat(head, directory, data)
}

func deflated(b []byte) []byte {
	var out bytes.Buffer
	w, _ := zlib.NewWriterLevel(&out, zlib.BestCompression) // the level is a valid one
	_, _ = w.Write(b)                                       // writing to a Buffer cannot fail
	_ = w.Close()
	return out.Bytes()
}
