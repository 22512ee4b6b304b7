package diag

// Columns is how many terminal columns a visible string takes.
func Columns(s string) int {
	n := 0
	for _, r := range s {
		_, w := cell(r)
		n += w
	}
	return n
}

// Shorten is the visible form of s, cut to at most n columns with an ellipsis where it is longer.
func Shorten(s string, n int) string {
	s = Visible(s)
	if Columns(s) <= n {
		return s
	}
	used, runes := 0, 0
	for i, r := range s {
		_, w := cell(r)
		if used+w > n-markLength || runes >= maxRunes {
			return s[:i] + cutMark
		}
		used += w
		runes++
	}
	return s
}
