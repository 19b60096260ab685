package cli

import (
	"runtime"
	"runtime/debug"
	"runtime/metrics"
)

// roomyHeap is up to how large the heap grows before it is looked through for what is no longer used, in bytes. Most
// commands hold a few megabytes and go through hundreds: collected at twice what they hold, as is usual, they would spend a
// fifth of their time on it.
const roomyHeap = 64 << 20

// roomHeap lets the heap grow to roomyHeap whatever it holds, and to twice what it holds above that. It looks again after
// each collection, which is when what nothing refers to is finalised.
func roomHeap() {
	type sentinel struct{ sample []metrics.Sample } // with a pointer, so that it is not put together with other small objects
	var look func(*sentinel)
	look = func(s *sentinel) {
		metrics.Read(s.sample)
		debug.SetGCPercent(room(int64(s.sample[0].Value.Uint64())))
		runtime.SetFinalizer(s, look)
	}
	look(&sentinel{[]metrics.Sample{{Name: "/gc/heap/live:bytes"}}})
}

// leastHeap is below what heap the runtime does not collect at 100 per cent, in bytes.
const leastHeap = 4 << 20

// room returns by how many per cent a heap that holds so many bytes may grow before it is collected.
func room(live int64) int { return int(max(100, roomyHeap*100/max(live, leastHeap)-100)) }
