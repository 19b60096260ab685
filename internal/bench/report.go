package bench

import (
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"text/tabwriter"
)

// Report is what a run found.
type Report struct {
	Schema   int      `json:"schema"`
	Versions Versions `json:"versions"`
	Load     string   `json:"load_average"` // of the machine over 1, 5 and 15 minutes when the run began; empty where unknown
	Sizes    Sizes    `json:"sizes"`
	Lines    []Line   `json:"lines"`
}

// Line is one comparison.
type Line struct {
	Case     string   `json:"case"`
	What     string   `json:"what"`
	Ours     *Summary `json:"ours,omitempty"`
	Peer     string   `json:"peer,omitempty"` // what it is compared with; empty for a line without a peer
	Theirs   *Summary `json:"theirs,omitempty"`
	Ratio    float64  `json:"ratio,omitempty"`     // of the medians of wall time; 0 where a side is missing
	CPURatio float64  `json:"cpu_ratio,omitempty"` // of the medians of processor time
	Target   float64  `json:"target,omitempty"`    // what the ratio of wall time is meant to be at most; 0 for none
	Note     string   `json:"note,omitempty"`
}

// Summary is what several runs of one side took.
type Summary struct {
	Runs    int     `json:"runs"`
	Wall    float64 `json:"wall_s"` // median, as the others unless their name says more
	Fastest float64 `json:"wall_min_s"`
	Slowest float64 `json:"wall_max_s"`
	CPU     float64 `json:"cpu_s"`
	PeakMB  float64 `json:"peak_mb"` // the largest of the runs, in 10^6 bytes; 0 where the system does not say
}

// add adds a line to the report, or passes an error on.
func (r *Report) add(line Line, err error) error {
	if err == nil {
		r.Lines = append(r.Lines, line)
	}
	return err
}

// WriteJSON writes the report as one JSON document.
func (r *Report) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(r)
}

// WriteText writes the report as a table.
func (r *Report) WriteText(w io.Writer) error {
	fmt.Fprintf(w, "%s\nload average at the start: %s\n\n", r.Versions, r.Load)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "case\twhat\tours s\t(min-max)\tcpu s\tpeak MB\tpeer\tpeer s\t(min-max)\tcpu s\tpeak MB\tratio\tcpu ratio\ttarget\tnote")
	for _, l := range r.Lines {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", l.Case, l.What, l.Ours.columns(), l.Peer, l.Theirs.columns(),
			figure(l.Ratio), figure(l.CPURatio), target(l.Target), l.Note)
	}
	return t.Flush()
}

// columns returns the cells of one side.
func (s *Summary) columns() string {
	if s == nil {
		return "\t\t\t"
	}
	return fmt.Sprintf("%s\t%s-%s\t%s\t%.0f", figure(s.Wall), figure(s.Fastest), figure(s.Slowest), figure(s.CPU), s.PeakMB)
}

// figure writes a number to three digits, and nothing for zero.
func figure(v float64) string {
	switch {
	case v == 0:
		return ""
	case v >= 100:
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

func target(v float64) string {
	if v == 0 {
		return ""
	}
	return "<= " + figure(v)
}
