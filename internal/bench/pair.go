package bench

import (
	"slices"
)

// side is one side of a comparison: a function that runs it once. A nil side is not installed.
type side func() (Figures, error)

// compare runs both sides in turn, as often as the run says, and fills in the line. Either may be nil.
func (b *Bench) compare(line Line, ours, theirs side) (Line, error) {
	b.say("%s: %s", line.Case, line.What)
	var left, right []Figures
	for range b.Reps {
		for _, s := range []struct {
			run side
			to  *[]Figures
		}{{ours, &left}, {theirs, &right}} {
			if s.run == nil {
				continue
			}
			f, err := s.run()
			if err != nil {
				return line, err
			}
			*s.to = append(*s.to, f)
		}
	}
	line.Ours, line.Theirs = summarise(left), summarise(right)
	if line.Ours != nil && line.Theirs != nil {
		line.Ratio = ratio(line.Ours.Wall, line.Theirs.Wall)
		line.CPURatio = ratio(line.Ours.CPU, line.Theirs.CPU)
	}
	return line, nil
}

func ratio(ours, theirs float64) float64 {
	if theirs == 0 {
		return 0
	}
	return ours / theirs
}

// summarise returns the medians of several runs, or nil where there are none.
func summarise(runs []Figures) *Summary {
	if len(runs) == 0 {
		return nil
	}
	of := func(value func(Figures) float64) []float64 {
		values := make([]float64, len(runs))
		for i, r := range runs {
			values[i] = value(r)
		}
		slices.Sort(values)
		return values
	}
	wall := of(func(f Figures) float64 { return f.Wall.Seconds() })
	cpu := of(func(f Figures) float64 { return f.CPU.Seconds() })
	peaks := of(func(f Figures) float64 { return float64(f.Peak) / 1e6 })
	return &Summary{Runs: len(runs), Wall: median(wall), Fastest: wall[0], Slowest: wall[len(wall)-1], CPU: median(cpu),
		PeakMB: peaks[len(peaks)-1]}
}

// median returns the middle of sorted values, or the mean of the two in the middle.
func median(sorted []float64) float64 {
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}
