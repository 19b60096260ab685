// Package term is what the program knows of the terminal: its three streams, whether a person is
// watching, and a progress bar for long work.
//
// Results go to Out and everything else to Err, so that a report can be piped while its progress is
// still seen. A progress bar is drawn only where Err is a terminal.
package term

import (
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// Streams are where a command reads and writes.
type Streams struct {
	In  io.Reader
	Out io.Writer
	Err io.Writer
}

// Standard returns the process's own streams.
func Standard() Streams { return Streams{os.Stdin, os.Stdout, os.Stderr} }

// Watched reports whether messages go to a terminal.
func (s Streams) Watched() bool { return isTerminal(s.Err) }

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}

// Progress is a bar for one piece of work. The zero Progress draws nothing.
type Progress struct{ bar *progressbar.ProgressBar }

// Progress starts a bar over a total in bytes or rows. It draws nothing unless a person is watching.
func (s Streams) Progress(what string, total int64, isBytes bool) *Progress {
	if !s.Watched() {
		return &Progress{}
	}
	return &Progress{progressbar.NewOptions64(total, progressbar.OptionSetWriter(s.Err),
		progressbar.OptionSetDescription(what), progressbar.OptionShowBytes(isBytes),
		progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionSetWidth(30),
		progressbar.OptionClearOnFinish(), progressbar.OptionSetPredictTime(true))}
}

// Set says how much is done.
func (p *Progress) Set(done int64) {
	if p.bar != nil {
		_ = p.bar.Set64(done) // a bar that cannot be drawn is no reason to stop the work
	}
}

// Done removes the bar.
func (p *Progress) Done() {
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}
