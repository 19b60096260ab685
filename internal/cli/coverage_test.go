package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os/exec"
	"testing"

	"repose/internal/report"
)

// The 95 % interval of a balance holds the truth, which is nothing in a yard without faults, in about 95 of
// 100 balances: through the real commands, on simulated yards whose uncertainties are stated rightly. The
// limits are those of the binomial distribution at 1 in 1,000; docs/method.md has the figure of a longer run.
func TestIntervalCoversTheTruth(t *testing.T) {
	yards := 4
	if testing.Short() {
		yards = 1
	}
	inside, all := 0, 0
	for seed := range yards {
		dir := t.TempDir()
		mustRun(t, dir, "simulate", "--files", "sim", "--seed", fmt.Sprint(seed+1), "--load", "100")
		mustRun(t, dir, "intake", "sim")
		out, err := program(t, dir, "causes", "2025-12", "--json").Output()
		var exit *exec.ExitError
		if err != nil && !(errors.As(err, &exit) && exit.ExitCode() == exitFound) {
			t.Fatal(err)
		}
		var c struct {
			History []struct {
				Residual string `json:"residual_t"`
				Sigma    string `json:"sigma_t"`
			} `json:"history"`
			Schema int `json:"schema"`
		}
		if err := json.Unmarshal(out, &c); err != nil || c.Schema != report.Schema {
			t.Fatalf("causes: %v\n%s", err, out)
		}
		for _, h := range c.History {
			var residual, sigma float64
			if _, err := fmt.Sscan(h.Residual, &residual); err != nil {
				t.Fatal(err)
			}
			if _, err := fmt.Sscan(h.Sigma, &sigma); err != nil {
				t.Fatal(err)
			}
			all++
			if math.Abs(residual) <= 1.96*sigma {
				inside++
			}
		}
	}
	if all != 72*yards {
		t.Fatalf("%d balances, want %d", all, 72*yards)
	}
	share := float64(inside) / float64(all)
	if slack := 3.3 * math.Sqrt(0.05*0.95/float64(all)); math.Abs(share-0.95) > slack {
		t.Errorf("%d of %d intervals hold the truth (%.3f), want 0.95 +/- %.3f", inside, all, share, slack)
	}
	t.Logf("%d of %d intervals hold the truth (%.3f)", inside, all, share)
}
