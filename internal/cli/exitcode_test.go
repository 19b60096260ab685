package cli

import (
	"context"
	"errors"
	"fmt"
	"os/exec"
	"strconv"
	"testing"

	"repose/internal/sqlite"
)

func exitText(err error) string {
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return strconv.Itoa(exit.ExitCode())
	}
	return err.Error()
}

func TestExitCodes(t *testing.T) {
	interrupted, cancel := context.WithCancel(context.Background())
	cancel()
	for _, c := range []struct {
		name string
		ctx  context.Context
		err  error
		want int
	}{
		{"done", context.Background(), nil, 0},
		{"failed", context.Background(), errors.New("x"), 1},
		{"store", context.Background(), fmt.Errorf("x: %w", sqlite.ErrBusy), 1},
		{"usage", context.Background(), fmt.Errorf("x: %w", usage(errors.New("y"))), 2},
		{"found", context.Background(), fmt.Errorf("x: %w", errFound), 3},
		{"interrupted", interrupted, errors.New("x"), 130},
	} {
		if got := exitCode(c.ctx, c.err); got != c.want {
			t.Errorf("%s: exit code %d, want %d", c.name, got, c.want)
		}
	}
}
