package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// addFixtures adds to a folder of example files what the examples of the commands name besides.
func addFixtures(t *testing.T, dir string) {
	t.Helper()
	for name, text := range map[string]string{
		"my-saddle.toml": mySaddle,
		"readings.csv":   myReadings,
		"requests.csv":   "saddle,height,setback,tilt\nclassic-280,742,55,-1\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666))
	}
}

// typed is what a person answers to a command that asks; other commands do not read it.
func typed(t *testing.T, command string) string {
	t.Helper()
	name := map[string]string{"carryover new bike": "bike_short_from", "carryover new rider": "rider", "carryover new part": "part_saddle",
		"carryover catalog measure": "part_saddle"}[command]
	if name == "" {
		return ""
	}
	src, err := os.ReadFile("../../internal/interview/testdata/" + name + ".answers")
	require.NoError(t, err)
	if command == "carryover catalog measure" { // which knows what it is
		return strings.TrimPrefix(string(src), "saddle\n")
	}
	return string(src)
}

// myReadings is a saddle, measured.
const myReadings = `reading,station,value
length,,270
width,0,42
width,100,70
width,225,145
width,270,70
dip,0,4
dip,45,0
dip,130,6
dip,240,0
dip,270,3
sag,,6
rail-height,,45
rail-from,,95
rail-to,,165
`

// mySaddle is the part file that examples call my-saddle.toml.
const mySaddle = `schema = 1
kind = "saddle"
id = "my-saddle"
name = "My own saddle"
length = 250.0
width = [[0.0, 40.0], [50.0, 55.0], [100.0, 65.0], [150.0, 95.0], [210.0, 140.0], [250.0, 60.0]]
top = [[0.0, -3.0], [60.0, 0.0], [110.0, -3.0], [170.0, -3.0], [230.0, 0.0], [250.0, -2.0]]
sag = 5.0
rail = { height = 45.0, from = 90.0, to = 160.0 }
`
