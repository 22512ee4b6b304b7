package tomltree

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"carryover/internal/diag"
)

// read parses a valid document, hands its reader to f, finishes and gives the findings.
func read(t *testing.T, text string, f func(*Table)) diag.List {
	t.Helper()
	root, problems := Parse("f.toml", []byte(text))
	require.Empty(t, problems)
	table := NewTable(root, &problems)
	f(table)
	table.Finish()
	problems.Sort()
	return problems
}

// in gives f the table under the key.
func in(key string, f func(*Table)) func(*Table) {
	return func(root *Table) {
		if t, ok := root.Table(key); ok {
			f(t)
		}
	}
}

func TestReaderMessages(t *testing.T) {
	float := func(rules ...Rule) func(*Table) { return func(t *Table) { t.Float("a", rules...) } }
	for _, c := range []struct {
		name, text string
		read       func(*Table)
		want       string
	}{
		{"unknown key, near a missing one", "[saddle]\ntilt = 1\nclamp_att = 150\n",
			in("saddle", func(t *Table) { t.Float("tilt"); t.Float("clamp_at") }), `
f.toml:3:1: error: unknown key "clamp_att" in [saddle]
    3 | clamp_att = 150
      | ^^^^^^^^^
      = did you mean "clamp_at"?`},
		{"unknown key, near one already there", "[saddle]\ntilt = 1\ntillt = 2\n",
			in("saddle", func(t *Table) { t.Float("tilt") }), `
f.toml:3:1: error: unknown key "tillt" in [saddle]
    3 | tillt = 2
      | ^^^^^
      = known here: tilt`},
		{"unknown keys in the file and in lists", "nmae = 1\n[sadle]\nx = 1\n[[adjuster]]\n[[adjuster]]\nq.r = 1\n[[other]]\n[[other]]\n",
			func(t *Table) {
				t.String("name")
				t.Table("saddle")
				t.Tables("adjuster")
			}, `
f.toml:1:1: error: unknown key "nmae" in the file
    1 | nmae = 1
      | ^^^^
      = did you mean "name"?
f.toml:2:2: error: unknown table "sadle" in the file
    2 | [sadle]
      |  ^^^^^
      = did you mean "saddle"?
f.toml:6:1: error: unknown table "q" in [[adjuster]] 2
    6 | q.r = 1
      | ^
f.toml:7:3: error: unknown table "other" in the file
    7 | [[other]]
      |   ^^^^^
      = known here: name, saddle, adjuster`},
		{"wrong case", "Name = \"x\"\n", func(t *Table) { t.String("name") }, `
f.toml:1:1: error: unknown key "Name" in the file
    1 | Name = "x"
      | ^^^^
      = did you mean "name"?`},
		{"missing in a table", "[a]\n\n[saddle] # here\nx = 1\n",
			func(t *Table) {
				t.Table("a")
				in("saddle", func(s *Table) { s.Float("x"); s.Require("x", "tilt") })(t)
			}, `
f.toml:3:1: error: missing key "tilt" in [saddle]
    3 | [saddle] # here
      | ^^^^^^^^`},
		{"missing in the file", "# bike\n", func(t *Table) { t.Require("schema") }, `
f.toml:1:1: error: missing key "schema" in the file
    1 | # bike
      | ^`},
		{"missing in an empty file", "", func(t *Table) { t.Require("schema") }, `
f.toml:1:1: error: missing key "schema" in the file`},
		{"missing in an inline table of a list", "[[adjuster]]\n[[adjuster]]\nrail = { to = 1 }\n",
			func(t *Table) {
				list, _ := t.Tables("adjuster")
				in("rail", func(r *Table) { r.Float("to"); r.Require("from") })(list[1])
			}, `
f.toml:3:8: error: missing key "from" in rail in [[adjuster]] 2
    3 | rail = { to = 1 }
      |        ^^^^^^^^^^`},
		{"number as text", "a = \"150\"", float(), `
f.toml:1:5: error: a must be a number, is text "150"
    1 | a = "150"
      |     ^^^^^
      = write it without quotes: 150`},
		{"number as text with comma and unit", "a = \"27,5 mm\"", float(), `
f.toml:1:5: error: a must be a number, is text "27,5 mm"
    1 | a = "27,5 mm"
      |     ^^^^^^^^^
      = write the number alone: 27.5`},
		{"number is a table", "[a]\nb = 1\n", float(), `
f.toml:1:1: error: a must be a number, is a table
    1 | [a]
      | ^^^`},
		{"number is a list", "a = [1]\n", float(), `
f.toml:1:5: error: a must be a number, is a list
    1 | a = [1]
      |     ^^^`},
		{"number is true", "a = true\n", float(), `
f.toml:1:5: error: a must be a number, is true
    1 | a = true
      |     ^^^^`},
		{"number is a date", "a = 2020-01-02\n", float(), `
f.toml:1:5: error: a must be a number, is the date or time 2020-01-02
    1 | a = 2020-01-02
      |     ^^^^^^^^^^`},
		{"nan", "a = nan\n", float(), `
f.toml:1:5: error: a must be an ordinary number, is nan
    1 | a = nan
      |     ^^^`},
		{"inf", "a = -inf\n", float(), `
f.toml:1:5: error: a must be an ordinary number, is -inf
    1 | a = -inf
      |     ^^^^`},
		{"min", "a = -1.50\n", float(Min(0)), `
f.toml:1:5: error: a must be at least 0, is -1.50
    1 | a = -1.50
      |     ^^^^^`},
		{"max", "a = 91\n", float(Min(0), Max(90)), `
f.toml:1:5: error: a must be at most 90, is 91
    1 | a = 91
      |     ^^`},
		{"positive", "a = 0\n", float(Positive()), `
f.toml:1:5: error: a must be above 0, is 0
    1 | a = 0
      |     ^`},
		{"between", "a = 4\n", float(Between(-3, 3.5)), `
f.toml:1:5: error: a must be from -3 to 3.5, is 4
    1 | a = 4
      |     ^`},
		{"centimetres", "a = 27.5 # length\n", float(Plausible(100, 400)), `
f.toml:1:5: error: a must be from 100 to 400 mm, is 27.5
    1 | a = 27.5 # length
      |     ^^^^
      = 27.5 reads like centimetres: write 275`},
		{"inches", "a = 6.5\n", float(Plausible(150, 200)), `
f.toml:1:5: error: a must be from 150 to 200 mm, is 6.5
    1 | a = 6.5
      |     ^^^
      = 6.5 reads like inches: write 165.1`},
		{"inches, since centimetres would be a child's saddle height", "a = 29.2\n", float(Plausible(200, 1300)), `
f.toml:1:5: error: a must be from 200 to 1300 mm, is 29.2
    1 | a = 29.2
      |     ^^^^
      = 29.2 reads like inches: write 741.7`},
		{"metres", "a = 0.1725\n", float(Plausible(150, 200)), `
f.toml:1:5: error: a must be from 150 to 200 mm, is 0.1725
    1 | a = 0.1725
      |     ^^^^^^
      = 0.1725 reads like metres: write 172.5`},
		{"negative centimetres", "a = -17.1\n", float(Plausible(-400, -100)), `
f.toml:1:5: error: a must be from -400 to -100 mm, is -17.1
    1 | a = -17.1
      |     ^^^^^
      = -17.1 reads like centimetres: write -171`},
		{"no unit fits", "a = 9000\n", float(Plausible(100, 400)), `
f.toml:1:5: error: a must be from 100 to 400 mm, is 9000
    1 | a = 9000
      |     ^^^^`},
		{"text as number", "a = 12\n", func(t *Table) { t.String("a") }, `
f.toml:1:5: error: a must be text, is the number 12
    1 | a = 12
      |     ^^
      = put it in quotes: "12"`},
		{"text as list", "a = [\"b\"]\n", func(t *Table) { t.String("a") }, `
f.toml:1:5: error: a must be text, is a list
    1 | a = ["b"]
      |     ^^^^^`},
		{"choice, near", "a = \"hoods\"\n", func(t *Table) { t.OneOf("a", "hood", "drop", "pad") }, `
f.toml:1:5: error: a must be "hood", "drop" or "pad", is "hoods"
    1 | a = "hoods"
      |     ^^^^^^^
      = did you mean "hood"?`},
		{"choice, far", "a = \"tops\"\n", func(t *Table) { t.OneOf("a", "hood", "drop") }, `
f.toml:1:5: error: a must be "hood" or "drop", is "tops"
    1 | a = "tops"
      |     ^^^^^^`},
		{"bool as text", "a = \"true\"\n", func(t *Table) { t.Bool("a") }, `
f.toml:1:5: error: a must be true or false, is text "true"
    1 | a = "true"
      |     ^^^^^^
      = write it without quotes: true`},
		{"bool as number", "a = 1\n", func(t *Table) { t.Bool("a") }, `
f.toml:1:5: error: a must be true or false, is the number 1
    1 | a = 1
      |     ^`},
		{"whole number", "a = 1.0\n", func(t *Table) { t.Int("a") }, `
f.toml:1:5: error: a must be a whole number, is the number 1.0
    1 | a = 1.0
      |     ^^^
      = write 1`},
		{"whole number with fraction", "a = 1.5\n", func(t *Table) { t.Int("a") }, `
f.toml:1:5: error: a must be a whole number, is the number 1.5
    1 | a = 1.5
      |     ^^^`},
		{"whole number out of bounds", "a = 3\n", func(t *Table) { t.Int("a", Max(2)) }, `
f.toml:1:5: error: a must be at most 2, is 3
    1 | a = 3
      |     ^`},
		{"wrong count", "a = [1]\n", func(t *Table) { t.Floats("a", 2) }, `
f.toml:1:5: error: a wants 2 numbers, has 1
    1 | a = [1]
      |     ^^^`},
		{"wrong counts of one", "a = [1, 2]\n", func(t *Table) { t.Floats("a", 1) }, `
f.toml:1:5: error: a wants 1 number, has 2
    1 | a = [1, 2]
      |     ^^^^^^`},
		{"list of numbers", "a = 170\n", func(t *Table) { t.Floats("a", -1) }, `
f.toml:1:5: error: a must be a list of numbers, is the number 170
    1 | a = 170
      |     ^^^`},
		{"all bad numbers of a list", "[feet]\ncranks = [\n 170,\n 17.25, \"175\",\n]\n",
			in("feet", func(t *Table) { t.Floats("cranks", -1, Plausible(150, 200)) }), `
f.toml:4:2: error: number 2 of cranks in [feet] must be from 150 to 200 mm, is 17.25
    4 |  17.25, "175",
      |  ^^^^^
      = 17.25 reads like centimetres: write 172.5
f.toml:4:9: error: number 3 of cranks in [feet] must be a number, is text "175"
    4 |  17.25, "175",
      |         ^^^^^
      = write it without quotes: 175`},
		{"all bad pairs", "a = [[0, 1], [1], 2, [\"x\", 3]]\n", func(t *Table) { t.Pairs("a") }, `
f.toml:1:14: error: pair 2 of a wants 2 numbers, has 1
    1 | a = [[0, 1], [1], 2, ["x", 3]]
      |              ^^^
f.toml:1:19: error: pair 3 of a must be a list of 2 numbers, is the number 2
    1 | a = [[0, 1], [1], 2, ["x", 3]]
      |                   ^
f.toml:1:23: error: number 1 of pair 4 of a must be a number, is text "x"
    1 | a = [[0, 1], [1], 2, ["x", 3]]
      |                       ^^^`},
		{"pairs", "a = 1\n", func(t *Table) { t.Pairs("a") }, `
f.toml:1:5: error: a must be a list of pairs, is the number 1
    1 | a = 1
      |     ^
      = write it as [[1, 2], [3, 4]]`},
		{"rule on a pair", "a = [[0, 1],\n  [0, 2]]\n", func(t *Table) {
			pairs, nodes, _ := t.Pairs("a")
			t.ErrorAtf(nodes[1], "order", "sort them", "station %g repeats", pairs[1][0])
		}, `
f.toml:2:3: error: station 0 repeats
    2 |   [0, 2]]
      |   ^^^^^^
      = sort them`},
		{"reversed range", "a = [5, -2.50]\n", func(t *Table) { t.Range("a") }, `
f.toml:1:5: error: a is a range from high to low
    1 | a = [5, -2.50]
      |     ^^^^^^^^^^
      = write [-2.50, 5]`},
		{"range of one", "a = [5]\n", func(t *Table) { t.Range("a") }, `
f.toml:1:5: error: a wants 2 numbers, has 1
    1 | a = [5]
      |     ^^^`},
		{"range as text", "a = \"5\"\n", func(t *Table) { t.Range("a") }, `
f.toml:1:5: error: a must be a number or [min, max], is text "5"
    1 | a = "5"
      |     ^^^
      = write it without quotes: 5`},
		{"range out of bounds", "a = [-1, 5]\n", func(t *Table) { t.Range("a", Between(0, 3)) }, `
f.toml:1:6: error: number 1 of a must be from 0 to 3, is -1
    1 | a = [-1, 5]
      |      ^^
f.toml:1:10: error: number 2 of a must be from 0 to 3, is 5
    1 | a = [-1, 5]
      |          ^`},
		{"texts", "a = [\"x\", 1]\n", func(t *Table) { t.Strings("a") }, `
f.toml:1:11: error: text 2 of a must be text, is the number 1
    1 | a = ["x", 1]
      |           ^
      = put it in quotes: "1"`},
		{"one where several may be", "[adjuster]\n", func(t *Table) { t.Tables("adjuster") }, `
f.toml:1:1: error: adjuster must be a list of tables, is a table
    1 | [adjuster]
      | ^^^^^^^^^^
      = there may be several: write [[adjuster]]`},
		{"several where one may be", "[[saddle]]\n", func(t *Table) { t.Table("saddle") }, `
f.toml:1:1: error: saddle must be a table, is a list
    1 | [[saddle]]
      | ^^^^^^^^^^
      = there is only one: write [saddle]`},
		{"no table", "saddle = 1\n", func(t *Table) { t.Table("saddle") }, `
f.toml:1:10: error: saddle must be a table, is the number 1
    1 | saddle = 1
      |          ^`},
		{"list with an odd entry", "a = [{}, 1]\n", func(t *Table) { t.Tables("a") }, `
f.toml:1:10: error: entry 2 of a must be a table, is the number 1
    1 | a = [{}, 1]
      |          ^`},
		{"marks", "[marks]\n\"saddle post\" = \"12\"\nbar = 2\n", func(t *Table) { t.FloatMap("marks") }, `
f.toml:2:17: error: "saddle post" in [marks] must be a number, is text "12"
    2 | "saddle post" = "12"
      |                 ^^^^
      = write it without quotes: 12`},
		{"own rule at a value, at an absent key, as a warning", "[x]\na = 1\n",
			in("x", func(t *Table) {
				t.Float("a")
				t.Errorf("a", "code", "mend it", "a is %d", 1)
				t.Errorf("b", "code", "", "b is gone")
				t.Warnf("a", "code", "", "a is odd")
			}), `
f.toml:1:1: error: b is gone
    1 | [x]
      | ^^^
f.toml:2:5: error: a is 1
    2 | a = 1
      |     ^
      = mend it
f.toml:2:5: warning: a is odd
    2 | a = 1
      |     ^`},
		{"hostile key", "\"\\u001b[2J" + strings.Repeat("k", 100) + "\" = 1\n", func(t *Table) {}, `
f.toml:1:1: error: unknown key "\x1b[2Jkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkk…" in the file
    1 | "\u001b[2Jkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkkk…
      | ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^`},
	} {
		t.Run(c.name, func(t *testing.T) {
			problems := read(t, c.text, c.read)
			assert.Equal(t, strings.TrimPrefix(c.want, "\n"), problems.Error())
		})
	}
}

func TestReaderValues(t *testing.T) {
	text := `
name = "Blue studio frame"
schema = 1
flip = false
tilt = -2
free = [0, 1.5]
same = [3, 3]
width = [[0, 40], [280, 145.5]]
cranks = [165, 170.5]
none = []
parts = ["stem-80", "stem-*"]
hands = "pad"
rail = { height = 50, from = 1, to = 2 }
adjuster = []
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
`
	problems := read(t, text, func(r *Table) {
		assert.Equal(t, "the file", r.Name())
		name, ok := r.String("name")
		assert.True(t, ok)
		assert.Equal(t, "Blue studio frame", name)
		schema, ok := r.Int("schema", Between(1, 1))
		assert.True(t, ok)
		assert.Equal(t, 1, schema)
		flip, ok := r.Bool("flip")
		assert.True(t, ok)
		assert.False(t, flip)
		tilt, ok := r.Float("tilt", Between(-2, 2))
		assert.True(t, ok)
		assert.Equal(t, -2.0, tilt, "whole numbers are numbers")

		for key, want := range map[string][2]float64{"tilt": {-2, -2}, "free": {0, 1.5}, "same": {3, 3}} {
			lo, hi, isRange, ok := r.Range(key)
			assert.True(t, ok)
			assert.Equal(t, want, [2]float64{lo, hi})
			assert.Equal(t, key != "tilt", isRange)
		}
		pairs, nodes, ok := r.Pairs("width")
		assert.True(t, ok)
		assert.Equal(t, [][2]float64{{0, 40}, {280, 145.5}}, pairs)
		assert.Equal(t, diag.Pos{Line: 8, Col: 19}, nodes[1].Span.Start)
		cranks, ok := r.Floats("cranks", 2)
		assert.True(t, ok)
		assert.Equal(t, []float64{165, 170.5}, cranks)
		none, ok := r.Floats("none", -1)
		assert.True(t, ok)
		assert.Empty(t, none)
		parts, _, ok := r.Strings("parts")
		assert.True(t, ok)
		assert.Equal(t, []string{"stem-80", "stem-*"}, parts)
		hands, ok := r.OneOf("hands", "hood", "pad")
		assert.True(t, ok)
		assert.Equal(t, "pad", hands)

		rail, ok := r.Table("rail")
		require.True(t, ok)
		assert.Equal(t, "[rail]", rail.Name())
		assert.True(t, rail.Require("height", "from", "to"))
		again, _ := r.Table("rail")
		assert.Same(t, rail, again)

		adjusters, ok := r.Tables("adjuster")
		assert.True(t, ok)
		assert.Empty(t, adjusters)
		marks, ok := r.FloatMap("marks")
		assert.True(t, ok)
		require.Len(t, marks, 2)
		assert.Equal(t, "z", marks[0].Name)
		assert.Equal(t, 2.5, marks[1].Value)
		assert.Equal(t, diag.Pos{Line: 17, Col: 5}, marks[1].Node.Span.Start)

		postures, ok := r.Table("posture")
		require.True(t, ok)
		assert.Equal(t, []string{"road"}, postures.Keys())
		road, ok := postures.Table("road")
		require.True(t, ok)
		assert.Equal(t, "[posture.road]", road.Name())
		assert.True(t, road.Has("support"))

		readings, ok := r.Tables("reading")
		require.True(t, ok)
		require.Len(t, readings, 2)
		assert.Equal(t, "[[reading]] 2", readings[1].Name())
		readings[0].Float("value")
		value, _ := readings[1].Float("value")
		assert.Equal(t, 2.0, value)
		more, ok := readings[1].Table("more")
		require.True(t, ok)
		assert.Equal(t, "more in [[reading]] 2", more.Name())
		more.Float("x")
	})
	assert.Empty(t, problems)
}

// Absent keys are silent for every kind of reading; only Require complains.
func TestAbsentKeysAreSilent(t *testing.T) {
	problems := read(t, "", func(r *Table) {
		_, isFloat := r.Float("a")
		_, isInt := r.Int("a")
		_, isString := r.String("a")
		_, isChoice := r.OneOf("a", "b")
		_, isBool := r.Bool("a")
		_, isFloats := r.Floats("a", 2)
		_, _, isStrings := r.Strings("a")
		_, _, isPairs := r.Pairs("a")
		_, _, _, isRange := r.Range("a")
		_, isTable := r.Table("a")
		_, isTables := r.Tables("a")
		_, isMap := r.FloatMap("a")
		assert.False(t, isFloat || isInt || isString || isChoice || isBool || isFloats || isStrings || isPairs ||
			isRange || isTable || isTables || isMap || r.Has("a") || r.Node("a") != nil)
	})
	assert.Empty(t, problems)
}
