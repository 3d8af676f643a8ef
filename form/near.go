package form

import "strings"

// Near returns the option nearest to word in single-character edits, or "" where none is near enough
// to be meant: at most a third of the word's letters, and at least one, may differ.
func Near(word string, options []string) string {
	best, at := "", max(1, len([]rune(word))/3)+1
	for _, o := range options {
		if n := edits(strings.ToLower(word), strings.ToLower(o)); n < at {
			best, at = o, n
		}
	}
	return best
}

// didYouMean is the hint for a misspelt word.
func didYouMean(word string, options []string, otherwise string) string {
	if n := Near(word, options); n != "" {
		return "did you mean " + n + "?"
	}
	return otherwise
}

// edits counts the insertions, deletions, substitutions and swaps of neighbours that turn a into b
// (optimal string alignment).
func edits(a, b string) int {
	s, t := []rune(a), []rune(b)
	prev2, prev, cur := make([]int, len(t)+1), make([]int, len(t)+1), make([]int, len(t)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := range s {
		cur[0] = i + 1
		for j := range t {
			cost := 1
			if s[i] == t[j] {
				cost = 0
			}
			cur[j+1] = min(prev[j+1]+1, cur[j]+1, prev[j]+cost)
			if i > 0 && j > 0 && s[i] == t[j-1] && s[i-1] == t[j] {
				cur[j+1] = min(cur[j+1], prev2[j-1]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(t)]
}
