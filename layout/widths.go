package layout

// share parts total among columns by weight, none below its least width.
func share(weights, least []float64, total float64) []float64 {
	out := make([]float64, len(weights))
	fixed := make([]bool, len(weights))
	for {
		var sumW float64
		room := total
		for i, w := range weights {
			if fixed[i] {
				room -= least[i]
			} else {
				sumW += w
			}
		}
		again := false
		for i, w := range weights {
			if fixed[i] {
				out[i] = least[i]
				continue
			}
			out[i] = max(room, 0) * w / max(sumW, 1e-9)
			if out[i] < least[i]-1e-9 {
				fixed[i], again = true, true
				break
			}
		}
		if !again {
			break
		}
	}
	// more asked for than there is: everyone gives alike
	if t := sum(out); t > total+1e-6 {
		for i := range out {
			out[i] *= total / t
		}
	}
	return out
}

// longest is the width of the longest that a text's lines should not part: a
// word and those tied to it.
func (s *sheet) longest(f font, text string) float64 {
	w := 0
	words, space := s.words(f.face, text), s.advance(f.face, " ")
	for i := range words {
		w = max(w, clusterWidth(words[i:], space))
	}
	return f.of(w)
}

// longestWord is the width of its longest word.
func (s *sheet) longestWord(f font, text string) float64 {
	w := 0
	for _, wd := range s.words(f.face, text) {
		w = max(w, wd.w)
	}
	return f.of(w)
}

// whole widens columns to what they want without wrapping; where that is more
// than total, to a common width above which none is widened, so that the long
// ones share the wrapping.
func whole(least, natural []float64, total float64) {
	room := func(level float64) float64 {
		left := total
		for j := range least {
			left -= max(least[j], min(natural[j], level))
		}
		return left
	}
	level := total
	if room(total) < 0 {
		low, high := 0.0, total
		for range 40 {
			if level = (low + high) / 2; room(level) < 0 {
				high = level
			} else {
				low = level
			}
		}
		level = low
	}
	for j := range least {
		least[j] = max(least[j], min(natural[j], level))
	}
}
