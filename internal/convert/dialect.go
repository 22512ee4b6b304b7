package convert

import (
	"bufio"
	"encoding/csv"
	"errors"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// dialect is how a spreadsheet wrote its CSV, so that the answer can be written for the same one.
type dialect struct {
	comma    rune // between cells
	decimals rune // in numbers; 0: not known yet
	bom      bool
	crlf     bool
	sep      bool // a first line sep=; says what is between cells
}

const byteOrderMark = "\ufeff"

// maxHeaderLines is how many lines a header is followed over.
const maxHeaderLines = 50

// sniff learns the dialect from the first line that holds something, and returns the text from the header on with the number
// of spreadsheet rows before it.
func sniff(r io.Reader) (d dialect, text io.Reader, rows int, err error) {
	in := bufio.NewReaderSize(r, 64<<10)
	d.comma = ','
	for first := true; ; first = false {
		line, err := in.ReadString('\n')
		if err != nil && (err != io.EOF || line == "") {
			return d, nil, rows, err
		}
		if first {
			if strings.HasPrefix(line, "\xff\xfe") || strings.HasPrefix(line, "\xfe\xff") {
				return d, nil, rows, errors.New("this is UTF-16: save it as CSV in UTF-8")
			}
			line, d.bom = strings.CutPrefix(line, byteOrderMark)
		}
		for n := 0; n < maxHeaderLines && strings.Count(line, `"`)%2 == 1 && err == nil; n++ { // a cell with a line break
			var more string
			more, err = in.ReadString('\n')
			line += more
		}
		d.crlf = d.crlf || strings.HasSuffix(line, "\r\n")
		bare := strings.TrimSpace(line)
		if len(bare) == 5 && strings.EqualFold(bare[:4], "sep=") || strings.EqualFold(strings.Trim(line, "\r\n"), "sep=\t") {
			d.comma, d.sep = rune(strings.Trim(line, "\r\n ")[4]), true
			continue
		}
		if strings.Trim(bare, ",;") == "" || remark(bare) {
			rows++
			continue
		}
		if !d.sep {
			d.comma = separator(line)
		}
		return d, io.MultiReader(strings.NewReader(line), in), rows, nil
	}
}

// remark reports whether a line is one: it begins with # and names no column.
func remark(line string) bool {
	if !strings.HasPrefix(line, "#") {
		return false
	}
	cells := strings.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(",;\t", r) })
	return !slices.ContainsFunc(cells, func(name string) bool {
		c, err := parseColumn(name)
		return err == nil && c.kind != carried
	})
}

// separator is what parts the cells of a header: a tab, semicolon or comma, whichever is there most often outside quotes.
func separator(line string) rune {
	count := map[rune]int{}
	quoted := false
	for _, r := range line {
		if r == '"' {
			quoted = !quoted
		} else if !quoted {
			count[r]++
		}
	}
	best := ','
	for _, r := range ";\t" {
		if count[r] > count[best] {
			best = r
		}
	}
	return best
}

// reader reads rows of the dialect.
func (d dialect) reader(r io.Reader) *csv.Reader {
	in := csv.NewReader(r)
	in.Comma, in.FieldsPerRecord = d.comma, -1
	return in
}

// writer writes rows of the dialect after what stands before a header.
func (d dialect) writer(w io.Writer) (*csv.Writer, error) {
	before := ""
	if d.bom {
		before = byteOrderMark
	}
	if d.sep {
		before += "sep=" + string(d.comma) + "\n"
		if d.crlf {
			before = strings.Replace(before, "\n", "\r\n", 1)
		}
	}
	out := csv.NewWriter(w)
	out.Comma, out.UseCRLF = d.comma, d.crlf
	_, err := io.WriteString(w, before)
	return out, err
}

// decimalSign is the last comma or point between the digits of a number.
var decimalSign = regexp.MustCompile(`\d([,.])\d+\D*$`)

// learn looks for the decimal sign in a cell that should be a number.
func (d *dialect) learn(cell string) {
	number, _, _ := strings.Cut(cell, "@")
	if found := decimalSign.FindStringSubmatch(number); found != nil && d.decimals == 0 {
		d.decimals = rune(found[1][0])
	}
}

// settle takes what spreadsheets do where nothing was learnt: decimal commas beside semicolons.
func (d *dialect) settle() {
	if d.decimals != 0 && d.comma != ',' {
		return
	}
	d.decimals = '.'
	if d.comma == ';' {
		d.decimals = ','
	}
}

// number writes a number to three decimals, without a minus before 0.
func (d dialect) number(v float64) string {
	text := strconv.FormatFloat(v, 'f', 3, 64)
	if text == "-0.000" {
		text = "0.000"
	}
	if d.decimals == ',' {
		text = strings.Replace(text, ".", ",", 1)
	}
	return text
}

// pointed is a cell of numbers with points for decimal commas. Behind @ a comma parts two places.
func (d dialect) pointed(cell string) string {
	if d.comma == ',' || !strings.Contains(cell, ",") {
		return cell
	}
	return numbers(cell, point)
}

// numbers is a cell with its numbers, ahead of @ and behind ~, made into others.
func numbers(cell string, as func(number string) string) string {
	value, sigma, hasSigma := strings.Cut(cell, "~")
	number, place, hasPlace := strings.Cut(value, "@")
	cell = as(number)
	if hasPlace {
		cell += "@" + place
	}
	if hasSigma {
		cell += "~" + as(sigma)
	}
	return cell
}

// point makes the last comma of a number a point; points ahead of it divide thousands.
func point(number string) string {
	i := strings.LastIndexByte(number, ',')
	if i < 0 {
		return number
	}
	return strings.ReplaceAll(number[:i], ".", "") + "." + number[i+1:]
}
