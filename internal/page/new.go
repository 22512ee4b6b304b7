package page

import (
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"carryover/internal/bike"
	"carryover/internal/bikefile"
	"carryover/internal/catalog"
	"carryover/internal/diag"
	"carryover/internal/format"
	"carryover/internal/locate"
	"carryover/internal/plane"
	"carryover/internal/tomltree"
	"carryover/internal/words"
	"carryover/internal/written"
)

// question is one of the ten of the short path. What a number may be and how it is measured stands in the format's table.
type question struct {
	Key, Ask string
	How      string // where the table does not say it, or not for the mark
	Unit     string // "mm", "°", or none for words
	Reads    string // the reading's kind in the file
	Path     string // of the key in the table, for what is no reading
	AtSit    bool   // it starts at the mark on the saddle
	Tape     tape
}

// questions go around a bike as a person does: angles first, then places.
var questions = []question{
	{Key: "name", Ask: "What do you call this bike?", How: "Any name will do: it is what you will choose it by."},
	{Key: "crank", Ask: "How long are its cranks?", Unit: "mm", Path: "feet.crank", Tape: alongCrank},
	{Key: "support", Ask: "How wide is the saddle where you sit?", How: "Your sit bones and 20 mm more; 120 mm when you do not know. " +
		"Put a strip of tape across " +
		"the saddle where it is as wide as that: every tape goes to this mark. Use the same width on both bikes.", Unit: "mm",
		Path: "posture.support", Tape: acrossSaddle},
	{Key: "tilt", Ask: "What does a level say along the saddle?", Unit: "°", Reads: "saddle-tilt", Tape: alongSaddle},
	{Key: "height", Ask: "How far is the mark from the crank's axle, straight?", Unit: "mm", Reads: "saddle-height", AtSit: true,
		Tape: axleToMark},
	{Key: "setback", Ask: "How far behind the axle is the mark?", Unit: "mm", Reads: "setback", AtSit: true, Tape: axleToPlumb},
	{Key: "reach", Ask: "How far ahead of the mark do your hands hold?", How: "To the hollow of the hood, where the web of the hand " +
		"rests: plumb lines off both, level between them.",
		Unit: "mm", Reads: "reach", AtSit: true, Tape: markToHands},
	{Key: "drop", Ask: "How far below the mark do they hold?", How: "Level line from the mark, tape down to the hollow of the hood; " +
		"negative when the hands are above.", Unit: "mm",
		Reads: "drop", AtSit: true, Tape: handsUpToMark},
	{Key: "hood", Ask: "What does a level say on top of the hood?", Unit: "°", Reads: "hood-angle", Tape: alongHood},
	{Key: "moves", Ask: "What can be moved on it?", How: "Only what you will set up when you carry a position to this bike. Nothing, " +
		"when you only carry from it."},
}

// key is the format's table about a number.
func (q question) key() *format.Key {
	if q.Reads != "" {
		return format.Bike.Keys.Find("reading").Sorts[q.Reads].Find("value")
	}
	k := format.Bike.Keys.Find(q.Path)
	for i := range k.Kinds {
		if k.Kinds[i].Kind == format.Number {
			return &k.Kinds[i]
		}
	}
	return k
}

// Signed reports a question whose answer may be below zero.
func (q question) Signed() bool { return q.Unit != "" && q.key().Lo < 0 }

// adjusters are what most bikes can be moved by; the lean is common practice.
var adjusters = []struct{ Key, Called, Moves, Angle string }{
	{"sp", "saddle post", "saddle", "107.0"}, {"ss", "saddle slide", "saddle", "0.0"}, {"bp", "bar post", "bar", "107.0"}, {"bs",
		"bar slide", "bar", "0.0"},
}

// scales are how an adjuster is marked.
var scales = []struct{ Value, Called string }{
	{"", "does not move"}, {"10", "has a scale in cm"}, {"1", "has a scale in mm"}, {"no", "moves, without a scale"},
}

const firstName, usualWidth = "My bike", "120"

// draft is what has been answered so far.
type draft url.Values

func (d draft) text(key string) string { return strings.TrimSpace(url.Values(d).Get(key)) }

// number is an answer as a number; ok is false for none, err for what is none.
func (d draft) number(key string) (x float64, ok bool, err error) {
	text := d.text(key)
	if text == "" {
		return 0, false, nil
	}
	x, err = written.Quantity(text)
	return x, err == nil, err
}

// doubt is what is odd about an answer, "" for nothing; mend is what it may have meant.
func (q question) doubt(d draft) (text, mend string) {
	if q.Unit == "" {
		return "", ""
	}
	x, ok, err := d.number(q.Key)
	if err != nil {
		return words.Sentence(err.Error() + ": write it like 743, 74.3 cm or 29 1/4 in"), ""
	}
	if !ok {
		return "", ""
	}
	k, literal := q.key(), words.Trimmed(x, 2)
	f := k.Judge(x, literal)
	if f == nil {
		f = k.Odd(x, literal)
	}
	if f == nil {
		return "", ""
	}
	usual := func(v float64) bool { return k.Judge(v, literal) == nil && k.Odd(v, literal) == nil }
	for _, by := range [...]float64{10, 25.4} { // read in centimetres, in inches
		if q.Unit == "mm" && usual(x*by) {
			mend = words.Trimmed(x*by, 1)
			break
		}
	}
	text = words.Sentence(f.Text)
	if f.Mend != "" {
		text += " " + words.Sentence(f.Mend)
	}
	return text, mend
}

func unit(u string) string {
	if u == "mm" {
		return words.NoBreak + u
	}
	return u
}

// file is the bike as a file, with what nobody knew left out.
func (d draft) file() string {
	var b strings.Builder
	name := d.text("name")
	if name == "" {
		name = firstName
	}
	fmt.Fprintf(&b, "# The short path: no shapes, a mark on the saddle where the rider sits, and six readings.\nschema = 1\nname = %s\n",
		tomltree.Quote(name))
	say := func(key, line, unknown string) {
		if x, ok, _ := d.number(key); ok {
			fmt.Fprintf(&b, line+"\n", decimal(x))
		} else {
			b.WriteString(unknown + "\n")
		}
	}
	b.WriteString("\n[feet]\n")
	say("crank", "crank = %s", "crank = 170.0            # not known: taken to be this")
	b.WriteString("\n[saddle]\n\n[bar]\n\n[posture.road]\nhands = \"hood\"\n")
	say("support", "support = %s          # the saddle's width at the mark",
		"support = "+usualWidth+".0          # not known: taken to be this")
	for _, q := range questions {
		if x, ok, _ := d.number(q.Key); ok && q.Reads != "" {
			fmt.Fprintf(&b, "\n[[reading]]\nkind = %q\n", q.Reads)
			if q.AtSit {
				b.WriteString("at = \"sit\"\n")
			}
			fmt.Fprintf(&b, "value = %s\n", decimal(x))
		}
	}
	for _, a := range adjusters {
		scale := d.text(a.Key)
		if scale == "" || !slices.ContainsFunc(scales, func(s struct{ Value, Called string }) bool { return s.Value == scale }) {
			continue
		}
		fmt.Fprintf(&b, "\n[[adjuster]]             # it counts from where it stands, until its mark is given\nname = %q\nmoves = "+
			"%q\nangle = %s\n", a.Called, a.Moves, a.Angle)
		if scale == "no" {
			b.WriteString("unit = 1.0\nmarked = false\n")
		} else {
			fmt.Fprintf(&b, "unit = %s.0\n", scale)
		}
	}
	return b.String()
}

// decimal writes a number as the files do.
func decimal(x float64) string {
	s := strconv.FormatFloat(x, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s
}

// slug is a file name for a bike's name.
func slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() > 60 {
			break
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s
	}
	return "bike"
}

// field is an answer that is carried along.
type field struct{ Name, Value string }

// newPage is one question, or the summary after the last.
type newPage struct {
	question
	No, Of             int
	Typed, Doubt, Mend string
	Known              string // what is taken when it is not known
	Picture            template.HTML
	Kept               []field // the answers to all other questions
	Moves              []move
	Next, Back         int
	Rows               []summary // the summary
	Missing, Surer     []string
	Where              []string
	Wrong              *trouble
	Text               string
}

type move struct {
	Key, Called string
	Scales      []choice
}

type choice struct {
	Value, Called string
	Chosen        bool
}

// summary is an answer to correct before it is kept.
type summary struct {
	No                 int
	Ask, Answer, Doubt string
	Link               string
}

func (v *visit) newBike() Response {
	d := draft(v.req.Query)
	no, _ := strconv.Atoi(v.get("q"))
	if to, err := strconv.Atoi(v.get("go")); err == nil { // the button that was pressed
		no = to
	}
	if skip := v.get("skip"); skip != "" { // "I don't know"
		url.Values(d).Del(skip)
		no++
	}
	no = max(no, 1)
	if no > len(questions) {
		return v.summary(StatusOK, d, nil)
	}
	q := questions[no-1]
	p := newPage{question: q, No: no, Of: len(questions), Typed: d.text(q.Key), Next: no + 1, Back: no - 1, Picture: sketch(d, q.Tape)}
	p.Doubt, p.Mend = q.doubt(d)
	if p.How == "" {
		p.How = words.Sentence(q.key().How)
	}
	p.Kept = d.others(q.Key)
	switch q.Key {
	case "crank":
		p.Known = "Without it 170 mm is taken; both bikes' difference is what counts."
	case "support":
		p.Known = "Without it " + usualWidth + " mm is taken."
	case "moves":
		p.Moves = d.moves()
	case "name":
		p.Known = "Without one it is called " + firstName + "."
	default:
		p.Known = "Without it the rest is still solved, where it can be."
	}
	return v.show(StatusOK, "new", q.Ask, p)
}

// others are the answers to all questions but one.
func (d draft) others(but string) []field {
	var list []field
	for _, q := range questions {
		if text := d.text(q.Key); q.Key != but && text != "" {
			list = append(list, field{q.Key, text})
		}
	}
	for _, a := range adjusters {
		if text := d.text(a.Key); but != "moves" && text != "" {
			list = append(list, field{a.Key, text})
		}
	}
	return list
}

func (d draft) moves() []move {
	var list []move
	for _, a := range adjusters {
		m := move{Key: a.Key, Called: a.Called}
		for _, s := range scales {
			m.Scales = append(m.Scales, choice{s.Value, s.Called, s.Value == d.text(a.Key)})
		}
		list = append(list, m)
	}
	return list
}

// summary shows all answers, what is missing, and what would make the answer surer.
func (v *visit) summary(status int, d draft, wrong *trouble) Response {
	p := newPage{No: len(questions) + 1, Of: len(questions), Picture: sketch(d, noTape), Kept: d.others(""), Text: d.file(), Wrong: wrong}
	for i, q := range questions {
		row := summary{No: i + 1, Ask: q.Ask, Answer: d.text(q.Key)}
		row.Doubt, _ = q.doubt(d)
		query := url.Values{"q": {strconv.Itoa(i + 1)}}
		for _, f := range d.others("") {
			query.Set(f.Name, f.Value)
		}
		row.Link = v.base + at("/new", query)
		switch {
		case q.Key == "moves":
			row.Answer = d.moved()
		case row.Answer == "":
			row.Answer = "not known"
		case q.Unit != "":
			if x, ok, _ := d.number(q.Key); ok {
				row.Answer = words.Trimmed(x, 2) + unit(q.Unit)
			}
		}
		p.Rows = append(p.Rows, row)
	}
	p.judge(v)
	return v.show(status, "summary", "Is this right?", p)
}

func (d draft) moved() string {
	var list []string
	for _, a := range adjusters {
		for _, s := range scales {
			if s.Value != "" && s.Value == d.text(a.Key) {
				list = append(list, a.Called+" "+s.Called)
			}
		}
	}
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, "; ")
}

// judge says where the contacts are by what is known, what is missing, and what would make them surer.
func (p *newPage) judge(v *visit) {
	lib, err := v.files.Library()
	if err != nil {
		return
	}
	b, problems := readDraft(p.Text, lib)
	if b == nil {
		p.Missing = told(problems)
		return
	}
	a, err := locate.Adjust(b, nil, locate.Options{})
	if err == nil {
		err = a.Err()
	}
	if err != nil {
		p.Missing = newTrouble("", err).Lines
		return
	}
	pos, err := a.Position(b.Postures[0])
	if err != nil {
		p.Missing = newTrouble("", err).Lines
		return
	}
	sit, hands := pos.Sit, pos.Hands
	p.Where = []string{
		fmt.Sprintf("Your seat is %s behind and %s above the axle, the saddle %s.", words.MM(-sit.At.X), words.MM(sit.At.Y),
			words.Tilted(plane.Angle(sit.Angle), "nose")),
		fmt.Sprintf("Your hands are %s ahead of and %s above it.", words.MM(hands.At.X), words.MM(hands.At.Y)),
	}
	p.Where = append(p.Where, words.Doubts(a)...)
	outputs, err := a.ContactOutputs(b.Postures[0])
	if err != nil {
		return
	}
	now, steps := a.Plan(outputs, 3)
	for _, s := range steps {
		again := ""
		if s.Again {
			again = "once more, "
		}
		p.Surer = append(p.Surer, fmt.Sprintf("%s%s: ±%s%s becomes ±%s%s.", again, words.Reading(s.Reading, 0), words.NoBreak,
			words.MM(now), words.NoBreak, words.MM(s.Spread)))
		now = s.Spread
	}
}

func readDraft(text string, lib *catalog.Library) (*bike.Bike, diag.List) {
	return bikefile.ReadBike("this bike", []byte(text), bikefile.Folder{FS: &Memory{}}, lib)
}

// keepNew writes the new bike's file, under the first name that is free.
func (v *visit) keepNew() Response {
	d := draft(v.req.Form)
	name := d.text("name")
	if name == "" {
		name = firstName
	}
	for n := 1; n < 100; n++ {
		file := slug(name) + ".toml"
		if n > 1 {
			file = fmt.Sprintf("%s-%d.toml", slug(name), n)
		}
		if _, err := v.store.ReadFile(file); !errors.Is(err, fs.ErrNotExist) {
			continue
		}
		switch err := v.store.Save(file, []byte(d.file()), ""); {
		case errors.Is(err, ErrChanged):
			continue
		case err != nil:
			return v.summary(StatusUnprocessed, d, newTrouble("Nothing was written", err))
		}
		return Response{Status: StatusSeeOther, Location: at("/bike", url.Values{"file": {file}})}
	}
	return v.summary(StatusConflict, d, newTrouble("There are a hundred bikes of that name already", nil))
}
