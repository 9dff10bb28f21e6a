package main

import "strings"

// closest returns the candidate nearest to word, or "" when none is near
// enough to be what was meant: a third of its letters may differ, and at least
// one, but not all. The first of equally near ones wins.
func closest(word string, candidates []string) string {
	word = strings.ToLower(word)
	best, bestDist := "", min(max(1, len(word)/3), len(word)-1)+1
	for _, c := range candidates {
		if d := editDistance(word, strings.ToLower(c)); d < bestDist {
			best, bestDist = c, d
		}
	}
	return best
}

// maxSuggestWord bounds the work on a word from a hostile file.
const maxSuggestWord = 64

// editDistance returns the number of letters to insert, delete, replace or
// swap with their neighbour that turns a into b (optimal string alignment).
// Words longer than 64 bytes are as far apart as they are long.
func editDistance(a, b string) int {
	if len(a) > maxSuggestWord || len(b) > maxSuggestWord {
		return max(len(a), len(b))
	}
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range last {
		last[j] = j
	}
	for i := 1; i <= len(a); i++ {
		row[0] = i
		for j := 1; j <= len(b); j++ {
			cost := 1
			if a[i-1] == b[j-1] {
				cost = 0
			}
			row[j] = min(last[j]+1, row[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				row[j] = min(row[j], before[j-2]+1)
			}
		}
		before, last, row = last, row, before
	}
	return last[len(b)]
}

// didYouMean returns a hint that names the closest candidate, or lists them
// all when none is close.
func didYouMean(word string, candidates []string) string {
	if c := closest(word, candidates); c != "" {
		return "did you mean " + c
	}
	return "known are " + strings.Join(candidates, ", ")
}
