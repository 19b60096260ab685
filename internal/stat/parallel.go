package stat

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// invertLower returns the inverse of a lower triangular n x n matrix, row major. Strips of columns do not
// depend on one another and are shared out among the processors; each is computed the same way by whichever
// has it.
func invertLower(l []float64, n int) []float64 {
	const width = 192 // a strip of the tallest matrix in use stays in the second-level cache
	x := make([]float64, n*n)
	parallel((n+width-1)/width, func(strip int) {
		lo := strip * width
		for i := lo; i < n; i++ {
			hi := min(lo+width, i+1)
			row := x[i*n+lo : i*n+hi]
			if i < lo+width {
				row[i-lo] = 1
			}
			for k := lo; k < i; k++ {
				if a := l[i*n+k]; a != 0 {
					axpy(-a, x[k*n+lo:k*n+min(hi, k+1)], row[:min(hi, k+1)-lo])
				}
			}
			d := 1 / l[i*n+i]
			for j := range row {
				row[j] *= d
			}
		}
	})
	return x
}

// parallel calls do for every i below n, on as many goroutines as there are processors. Whatever do writes for
// one i must not depend on another, so that the result is the same whatever their number.
func parallel(n int, do func(i int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(n, runtime.GOMAXPROCS(0)) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wg.Wait()
}
