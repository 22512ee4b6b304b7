package format

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/bike"
	"carryover/internal/diag"
	"carryover/internal/plane"
	"carryover/internal/saddle"
	"carryover/internal/tomltree"
)

// open holds a text against keys.
func open(t testing.TB, text string, odd bool, keys ...Key) (*Table, diag.List) {
	t.Helper()
	root, problems := tomltree.Parse("f.toml", []byte(text))
	require.Empty(t, problems)
	table := Open(root, &Key{Kind: Section, Keys: keys}, &problems, odd)
	problems.Sort()
	return table, problems
}

// TestMessages is what each kind of value says of what is wrong with it.
func TestMessages(t *testing.T) {
	in := func(table string, keys ...Key) Key { return Key{Name: table, Kind: Section, Keys: keys} }
	any := Key{Name: "a", Kind: Number, Lo: math.Inf(-1), Hi: math.Inf(1)}
	of := func(kind Kind) Key { return any.as(kind) }
	for _, c := range []struct {
		name, text string
		key        Key
		want       string
	}{
		{"unknown key, near a missing one", "[saddle]\nclamp_att = 150\n", in("saddle", mm("clamp_at", 0, 400, "")), `
f.toml:2:1: error: unknown key "clamp_att" in [saddle]
    2 | clamp_att = 150
      | ^^^^^^^^^
      = did you mean "clamp_at"?`},
		{"unknown key, near one already there", "[saddle]\ntilt = 1\ntillt = 2\n", in("saddle", mm("tilt", 0, 2, "")), `
f.toml:3:1: error: unknown key "tillt" in [saddle]
    3 | tillt = 2
      | ^^^^^
      = known here: tilt`},
		{"unknown tables", "[a]\n[sadle]\n[[other]]\n[[other]]\n", in("a"), `
f.toml:2:2: error: unknown table "sadle" in the file
    2 | [sadle]
      |  ^^^^^
      = known here: a
f.toml:3:3: error: unknown table "other" in the file
    3 | [[other]]
      |   ^^^^^
      = known here: a`},
		{"missing in a table", "[a] # here\nx = 1\n", in("a", mm("x", 0, 2, ""), mm("tilt", 0, 2, "").needed()), `
f.toml:1:1: error: missing key "tilt" in [a]
    1 | [a] # here
      | ^^^`},
		{"missing in an empty file", "", any.needed(), `
f.toml:1:1: error: missing key "a" in the file`},
		{"missing in an inline table of a list", "[[a]]\n[[a]]\nrail = { to = 1 }\n",
			Key{Name: "a", Kind: Sections, Keys: Keys{in("rail", mm("to", 0, 2, ""), mm("from", 0, 2, "").needed())}}, `
f.toml:3:8: error: missing key "from" in rail in [[a]] 2
    3 | rail = { to = 1 }
      |        ^^^^^^^^^^`},
		{"number as text", "a = \"150\"", any, `
f.toml:1:5: error: a must be a number, is text "150"
    1 | a = "150"
      |     ^^^^^
      = write the number alone, without quotes: 150`},
		{"number as text with comma and unit", "a = \"27,5 cm\"", any, `
f.toml:1:5: error: a must be a number, is text "27,5 cm"
    1 | a = "27,5 cm"
      |     ^^^^^^^^^
      = write the number alone, without quotes: 275`},
		{"number is a table", "[a]\nb = 1\n", any, `
f.toml:1:1: error: a must be a number, is a table
    1 | [a]
      | ^^^`},
		{"number is true", "a = true\n", any, `
f.toml:1:5: error: a must be a number, is true
    1 | a = true
      |     ^^^^`},
		{"number is a date", "a = 2020-01-02\n", any, `
f.toml:1:5: error: a must be a number, is the date or time 2020-01-02
    1 | a = 2020-01-02
      |     ^^^^^^^^^^`},
		{"inf", "a = -inf\n", any, `
f.toml:1:5: error: a must be an ordinary number, is -inf
    1 | a = -inf
      |     ^^^^`},
		{"at least", "a = -1.50\n", Key{Name: "a", Kind: Number, Hi: math.Inf(1)}, `
f.toml:1:5: error: a must be at least 0, is -1.50
    1 | a = -1.50
      |     ^^^^^`},
		{"above", "a = 0\n", mm("a", 0, 5, "").above(), `
f.toml:1:5: error: a must be above 0 and at most 5 mm, is 0
    1 | a = 0
      |     ^`},
		{"between", "a = 4\n", deg("a", -3, 3.5, ""), `
f.toml:1:5: error: a must be from -3 to 3.5, is 4
    1 | a = 4
      |     ^`},
		{"centimetres", "a = 27.5 # length\n", mm("a", 100, 400, ""), `
f.toml:1:5: error: a must be from 100 to 400 mm, is 27.5
    1 | a = 27.5 # length
      |     ^^^^
      = 27.5 reads like centimetres: write 275`},
		{"inches, since centimetres would be a child's saddle height", "a = 29.2\n", mm("a", 200, 1300, ""), `
f.toml:1:5: error: a must be from 200 to 1300 mm, is 29.2
    1 | a = 29.2
      |     ^^^^
      = 29.2 reads like inches: write 741.7`},
		{"metres", "a = 0.1725\n", mm("a", 150, 200, ""), `
f.toml:1:5: error: a must be from 150 to 200 mm, is 0.1725
    1 | a = 0.1725
      |     ^^^^^^
      = 0.1725 reads like metres: write 172.5`},
		{"no unit fits", "a = 9000\n", mm("a", 100, 400, ""), `
f.toml:1:5: error: a must be from 100 to 400 mm, is 9000
    1 | a = 9000
      |     ^^^^`},
		{"nothing", "a = 0\n", Key{Name: "a", Kind: Number, Lo: -1, Hi: 1, Nonzero: true}, `
f.toml:1:5: error: a must not be 0, which would move nothing
    1 | a = 0
      |     ^`},
		{"a step too small", "a = 0.001\n", Key{Name: "a", Kind: Number, Hi: 9, Least: 0.01}, `
f.toml:1:5: error: a must be at least 0.01, or 0, is 0.001
    1 | a = 0.001
      |     ^^^^^
      = write 0.0 for anywhere between`},
		{"text as number", "a = 12\n", of(Text), `
f.toml:1:5: error: a must be text, is the number 12
    1 | a = 12
      |     ^^
      = put it in quotes: "12"`},
		{"choice, near", "a = \"hoods\"\n", word("a", "", "hood", "drop", "pad"), `
f.toml:1:5: error: a must be "hood", "drop" or "pad", is "hoods"
    1 | a = "hoods"
      |     ^^^^^^^
      = did you mean "hood"?`},
		{"choice, far", "a = \"tops\"\n", word("a", "", "hood", "drop"), `
f.toml:1:5: error: a must be "hood" or "drop", is "tops"
    1 | a = "tops"
      |     ^^^^^^`},
		{"flag as text", "a = \"true\"\n", of(Flag), `
f.toml:1:5: error: a must be true or false, is text "true"
    1 | a = "true"
      |     ^^^^^^
      = write it without quotes: true`},
		{"version with a decimal", "a = 1.0\n", of(Version), `
f.toml:1:5: error: a must be a whole number, is the number 1.0
    1 | a = 1.0
      |     ^^^
      = write 1`},
		{"version to come", "a = 2\n", of(Version), `
f.toml:1:5: error: schema 2 is not known to this program
    1 | a = 2
      |     ^
      = write schema = 1`},
		{"day", "a = \"yesterday\"\n", of(Day), `
f.toml:1:5: error: a: "yesterday" is no day
    1 | a = "yesterday"
      |     ^^^^^^^^^^^
      = write it as year-month-day: 2026-11-27`},
		{"wrong count", "a = [1]\n", point("a", 5, ""), `
f.toml:1:5: error: a wants 2 numbers, has 1
    1 | a = [1]
      |     ^^^`},
		{"no list", "a = 170\n", of(Numbers), `
f.toml:1:5: error: a must be a list of numbers, is the number 170
    1 | a = 170
      |     ^^^`},
		{"all bad numbers of a list", "[feet]\ncranks = [\n 170,\n 17.25, \"175\",\n]\n", in("feet", mm("cranks", 150, 200, "").as(Numbers)), `
f.toml:4:2: error: number 2 of cranks in [feet] must be from 150 to 200 mm, is 17.25
    4 |  17.25, "175",
      |  ^^^^^
      = 17.25 reads like centimetres: write 172.5
f.toml:4:9: error: number 3 of cranks in [feet] must be a number, is text "175"
    4 |  17.25, "175",
      |         ^^^^^
      = write the number alone, without quotes: 175`},
		{"all bad places of a curve", "a = [[5, 1], [6], 7, [\"x\", 3], [5, 4], [8, 9]]\n", mm("a", 0, 5, "").as(Curve), `
f.toml:1:6: error: the first station of a must be 0, is 5
    1 | a = [[5, 1], [6], 7, ["x", 3], [5, 4], [8, 9]]
      |      ^^^^^^
      = stations are counted from the nose back
f.toml:1:14: error: pair 2 of a wants 2 numbers, has 1
    1 | a = [[5, 1], [6], 7, ["x", 3], [5, 4], [8, 9]]
      |              ^^^
f.toml:1:19: error: pair 3 of a must be a list of numbers, is the number 7
    1 | a = [[5, 1], [6], 7, ["x", 3], [5, 4], [8, 9]]
      |                   ^
f.toml:1:23: error: number 1 of pair 4 of a must be a number, is text "x"
    1 | a = [[5, 1], [6], 7, ["x", 3], [5, 4], [8, 9]]
      |                       ^^^
f.toml:1:32: error: station 5 of a does not lie behind station 5
    1 | a = [[5, 1], [6], 7, ["x", 3], [5, 4], [8, 9]]
      |                                ^^^^^^
      = list the stations from the nose back, each once
f.toml:1:40: error: a at station 8 must be from 0 to 5 mm, is 9
    1 | a = [[5, 1], [6], 7, ["x", 3], [5, 4], [8, 9]]
      |                                        ^^^^^^`},
		{"curve of numbers", "a = 1\n", of(Curve), `
f.toml:1:5: error: a must be a list of pairs, is the number 1
    1 | a = 1
      |     ^
      = write it as [[1, 2], [3, 4]]`},
		{"reversed span", "a = [5, -2.50]\n", of(Span), `
f.toml:1:5: error: a is a range from high to low
    1 | a = [5, -2.50]
      |     ^^^^^^^^^^
      = write [-2.50, 5]`},
		{"span as text", "a = \"5\"\n", of(Span), `
f.toml:1:5: error: a must be a number or [min, max], is text "5"
    1 | a = "5"
      |     ^^^
      = write the number alone, without quotes: 5`},
		{"span out of bounds", "a = [-1, 5]\n", mm("a", 0, 3, "").as(Span), `
f.toml:1:6: error: number 1 of a must be from 0 to 3 mm, is -1
    1 | a = [-1, 5]
      |      ^^
f.toml:1:10: error: number 2 of a must be from 0 to 3 mm, is 5
    1 | a = [-1, 5]
      |          ^`},
		{"texts", "a = [\"x\", 1]\n", of(Texts), `
f.toml:1:11: error: text 2 of a must be text, is the number 1
    1 | a = ["x", 1]
      |           ^
      = put it in quotes: "1"`},
		{"one where several may be", "[a]\n", of(Sections), `
f.toml:1:1: error: a must be a list of tables, is a table
    1 | [a]
      | ^^^
      = there may be several: write [[a]]`},
		{"several where one may be", "[[a]]\n", of(Section), `
f.toml:1:1: error: a must be a table, is a list
    1 | [[a]]
      | ^^^^^
      = there is only one: write [a]`},
		{"list with an odd entry", "a = [{}, 1]\n", of(Sections), `
f.toml:1:10: error: entry 2 of a must be a table, is the number 1
    1 | a = [{}, 1]
      |          ^`},
		{"too many", "a = [{}, {}, {}]\n", Key{Name: "a", Kind: Sections, Limit: 2, Except: "many", Mend: "leave one out"}, `
f.toml:1:14: error: there are 3 in a; at most 2 can be handled
    1 | a = [{}, {}, {}]
      |              ^^
      = leave one out`},
		{"marks", "[a]\n\"saddle post\" = \"12\"\nbar = 2\n", of(Marks), `
f.toml:2:17: error: "saddle post" in [a] must be a number, is text "12"
    2 | "saddle post" = "12"
      |                 ^^^^
      = write the number alone, without quotes: 12`},
		{"named", "[a.road]\nx = 5\n", Key{Name: "a", Kind: Named, Keys: Keys{mm("x", 0, 2, "")}}, `
f.toml:2:5: error: x in [a.road] must be from 0 to 2 mm, is 5
    2 | x = 5
      |     ^`},
		{"either", "a = [1]\n", either("a", "", "", any, word("a", "", "most")), `
f.toml:1:5: error: a must be a number or text, is a list
    1 | a = [1]
      |     ^^^`},
		{"both or neither", "a = 1\n", any.with("b"), `
f.toml:1:5: error: missing key "b" beside a
    1 | a = 1
      |     ^
      = give both, or neither`},
		{"unusual", "a = 4.5\n", mm("a", 0, 400, "").usual(20, 80), `
f.toml:1:5: warning: a: 4.5 is unusual: nearly all are from 20 to 80 mm
    1 | a = 4.5
      |     ^^^
      = if it was read in centimetres, write 45`},
		{"an angle is no length in centimetres", "a = 7.3\n", deg("a", 40, 90, ""), `
f.toml:1:5: error: a must be from 40 to 90, is 7.3
    1 | a = 7.3
      |     ^^^`},
		{"hostile key", "\"\\u001b[2J" + strings.Repeat("k", 100) + "\" = 1\n", any, `
f.toml:1:1: error: unknown key "\x1b[2Jkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkk…" in the file
    1 | "\u001b[2Jkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkk…
      | ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
      = known here: a`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, problems := open(t, c.text, true, c.key)
			assert.Equal(t, strings.TrimPrefix(c.want, "\n"), problems.Error())
		})
	}
}

// TestValues reads one of every kind.
func TestValues(t *testing.T) {
	r, problems := open(t, `
name = "Blue studio frame"
day = 2026-11-27T08:00:00Z
flip = false
tilt = -2
free = [0, 1.5]
width = [[0, 40], [280, 145.5]]
cranks = [165, 170.5]
parts = ["stem-80", "stem-*"]
rail = { height = 50 }
[marks]
z = 1
a = 2.5
[posture.road]
support = 85
[[reading]]
value = 1
[[reading]]
value = 2
[reading.more]
x = 3
`, false, text("name", ""), Key{Name: "day", Kind: Day}, Key{Name: "flip", Kind: Flag}, deg("tilt", -2, 2, "").usual(0, 1),
		mm("free", 0, 2, "").as(Span), mm("width", 0, 200, "").as(Curve), mm("cranks", 0, 200, "").as(Numbers), Key{Name: "parts", Kind: Texts},
		table("rail", "", mm("height", 0, 60, "")), Key{Name: "marks", Kind: Marks},
		Key{Name: "posture", Kind: Named, Keys: Keys{mm("support", 0, 100, "")}},
		Key{Name: "reading", Kind: Sections, Keys: Keys{mm("value", 0, 5, ""), table("more", "", mm("x", 0, 5, ""))}},
		mm("absent", 0, 5, ""))
	require.Empty(t, problems, "what is unusual is said only where that is asked for")
	assert.Equal(t, "the file", r.Name())
	assert.Equal(t, "Blue studio frame", r.String("name"))
	assert.Equal(t, "2026-11-27", r.String("day"))
	flip, ok := r.Bool("flip")
	assert.True(t, ok && !flip)
	assert.InDelta(t, plane.Rad(-2), r.Or("tilt", 9), 1e-15)
	lo, hi, isRange, ok := r.Span("free")
	assert.True(t, ok && isRange)
	assert.Equal(t, [2]float64{0, 1.5}, [2]float64{lo, hi})
	rows, nodes, ok := r.Curve("width")
	assert.True(t, ok)
	assert.Equal(t, [][2]float64{{0, 40}, {280, 145.5}}, rows)
	assert.Equal(t, diag.Pos{Line: 7, Col: 19}, nodes[1].Span.Start)
	cranks, ok := r.Floats("cranks")
	assert.True(t, ok)
	assert.Equal(t, []float64{165, 170.5}, cranks)
	assert.Len(t, r.Texts("parts"), 2)
	assert.Nil(t, r.Optional("absent"))
	assert.Equal(t, 7.0, r.Or("absent", 7))
	assert.False(t, r.Has("absent") || r.Is("absent"))
	rail, ok := r.Table("rail")
	require.True(t, ok)
	assert.Equal(t, "[rail]", rail.Name())
	assert.Equal(t, 50.0, rail.Number("height"))
	assert.True(t, r.Has("rail.height") && !r.Has("rail.from"))
	marks := r.Marks("marks")
	require.Len(t, marks, 2)
	assert.Equal(t, "z", marks[0].Key)
	postures, ok := r.Tables("posture")
	require.True(t, ok)
	assert.Equal(t, "road", postures[0].Key())
	assert.Equal(t, "[posture.road]", postures[0].Name())
	readings, ok := r.Tables("reading")
	require.True(t, ok)
	require.Len(t, readings, 2)
	assert.Equal(t, 2.0, readings[1].Number("value"))
	more, _ := readings[1].Table("more")
	assert.Equal(t, "more in [[reading]] 2", more.Name())
}

// TestOwnProblems are what a reader of several keys reports: at a value, at the header where the key is absent.
func TestOwnProblems(t *testing.T) {
	root, problems := tomltree.Parse("f.toml", []byte("[x]\na = 1\n"))
	r := Open(root, &Key{Kind: Section, Keys: Keys{table("x", "", mm("a", 0, 5, ""), mm("b", 0, 5, ""))}}, &problems, false)
	x, _ := r.Table("x")
	assert.True(t, x.Right())
	x.Errorf("a", "code", "mend it", "a is %d", 1)
	x.Errorf("b", "code", "", "b is gone")
	x.Warnf("a", "code", "", "a is odd")
	problems.Sort()
	assert.Equal(t, strings.TrimPrefix(`
f.toml:1:1: error: b is gone
    1 | [x]
      | ^^^
f.toml:2:5: error: a is 1
    2 | a = 1
      |     ^
      = mend it
f.toml:2:5: warning: a is odd
    2 | a = 1
      |     ^`, "\n"), problems.Error())
}

// What is exactly at a limit is inside it.
func TestLimitsAreInside(t *testing.T) {
	usual := mm("a", 0, 400, "").usual(20, 80)
	for v, odd := range map[float64]bool{20: false, 80: false, 19.9: true, 80.1: true} {
		assert.Equal(t, odd, usual.Odd(v, "") != nil, "%g", v)
	}
	step := Key{Kind: Number, Hi: 9, Least: 0.01}
	assert.Nil(t, step.Judge(0.01, ""))
	assert.NotNil(t, step.Judge(0.009, ""))
	for _, c := range []struct {
		place  saddle.Reference
		lo, hi float64
	}{{saddle.Reference{Kind: saddle.Nose}, -100, 160}, {saddle.Reference{Kind: saddle.ByStation, MM: 45}, -55, 205},
		{saddle.Reference{Kind: saddle.Mid}, bike.LeastBehind, bike.MostBehind}} {
		assert.Equal(t, [2]float64{c.lo, c.hi}, Setback(c.place).Most, "%v", c.place)
	}
}

// What belongs to one kind of part or another is not told as unknown where the kind is not known.
func TestKeysOfAnUnknownKind(t *testing.T) {
	root, problems := tomltree.Parse("f.toml", []byte("schema = 1\nkind = \"sadle\"\nid = \"x\"\nlength = 270.0\nbend = 3.0\nother = 1\n"))
	Open(root, &Part, &problems, false)
	problems.Sort()
	require.Len(t, problems, 2)
	assert.Equal(t, "value-choice", problems[0].Code)
	assert.Contains(t, problems[1].Summary, `unknown key "other"`)
	assert.Contains(t, problems[1].Detail, "bend, length", "what is there may belong to it")
	assert.NotContains(t, problems[1].Detail, "hollow")
}

// A list of texts with one that is none is not right; a long list of keys is not told; a key is found through a choice of kinds.
func TestListsOfTextsAndOfKeys(t *testing.T) {
	r, problems := open(t, "a = [1, \"x\"]\n", false, Key{Name: "a", Kind: Texts})
	assert.True(t, problems.HasErrors() && !r.Is("a"))
	var keys []Key
	for i := range 17 {
		keys = append(keys, text(strings.Repeat("k", i+5), ""))
	}
	_, problems = open(t, "other = 1\n", false, keys...)
	assert.Empty(t, problems[0].Detail)
	_, problems = open(t, "other = 1\n", false)
	assert.Empty(t, problems[0].Detail)
	assert.Equal(t, "max", Bike.Keys.Find("stem.spacers.max").Name)
}

func TestEveryKeySaysWhatItIs(t *testing.T) {
	var walk func(where string, k *Key)
	walk = func(where string, k *Key) {
		if where != "" {
			assert.NotEmpty(t, k.About, where)
			assert.NotZero(t, k.Kind, where)
			assert.True(t, k.Lo <= k.Hi, where)
			if k.Most != [2]float64{} {
				assert.True(t, k.Lo <= k.Most[0] && k.Most[0] < k.Most[1] && k.Most[1] <= k.Hi, "what is usual is possible: %s", where)
			}
		}
		for i := range k.Keys {
			walk(where+"."+k.Keys[i].Name, &k.Keys[i])
		}
		for word, sort := range k.Sorts {
			for i := range sort {
				walk(where+"["+word+"]."+sort[i].Name, &sort[i])
			}
		}
		for i := range k.Kinds {
			if k.Kinds[i].Kind == Section {
				walk(where, &k.Kinds[i])
			}
		}
	}
	walk("", &Bike)
	walk("", &Part)
	walk("", &Rider)
}
