package lsq

type searchFunc func(Problem, []bool, float64, *Workspace) (*Search, error)

var searches = map[string]searchFunc{"one by one": FindBlunders, "jointly": Robust}

func indices(s *Search) []int {
	var at []int
	for _, suspect := range s.Suspects {
		at = append(at, suspect.Index)
	}
	return at
}
