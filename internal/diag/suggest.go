package diag

import (
	"strings"
	"unicode/utf8"
)

// Suggest is the candidate that word most likely stands for: the first of the nearest by edit distance, where
// swapping two neighbours is one edit (the optimal string alignment form of Damerau's distance). It must be at most
// 2 edits away and fewer than half the word's length plus one. Case does not count.
func Suggest(word string, candidates []string) (string, bool) {
	n := utf8.RuneCountInString(word)
	w := []rune(strings.ToLower(word))
	best, bestDistance := "", min(3, n/2+1)
	for _, c := range candidates {
		if d := utf8.RuneCountInString(c) - n; d < -2 || d > 2 {
			continue
		}
		if d := distance(w, []rune(strings.ToLower(c))); d < bestDistance {
			best, bestDistance = c, d
		}
	}
	return best, best != ""
}

func distance(a, b []rune) int {
	before, previous, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range a {
		before, previous, row = previous, row, before
		row[0] = i + 1
		for j := range b {
			change := 1
			if a[i] == b[j] {
				change = 0
			}
			row[j+1] = min(previous[j]+change, previous[j+1]+1, row[j]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
	}
	return row[len(b)]
}
