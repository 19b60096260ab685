package cli

import "testing"

// A heap grows to 64 MB, and never by less than what it holds.
func TestRoom(t *testing.T) {
	for live, want := range map[int64]int{0: 1500, 4 << 20: 1500, 16 << 20: 300, 32 << 20: 100, 63 << 20: 100, 65 << 20: 100, 1 << 34: 100} {
		if got := room(live); got != want {
			t.Errorf("%d bytes may grow by %d %%, want %d", live, got, want)
		}
	}
}
