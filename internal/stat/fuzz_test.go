package stat

import (
	"encoding/binary"
	"math"
	"testing"
)

// numbers reads float64s of any kind out of bytes.
func numbers(data []byte) []float64 {
	var x []float64
	for ; len(data) >= 8; data = data[8:] {
		x = append(x, math.Float64frombits(binary.LittleEndian.Uint64(data)))
	}
	return x
}

func seeds(f *testing.F, lists ...[]float64) {
	for _, list := range lists {
		var data []byte
		for _, v := range list {
			data = binary.LittleEndian.AppendUint64(data, math.Float64bits(v))
		}
		f.Add(data)
	}
}

// Whatever the weighings: an error or finite figures, and no panic.
func FuzzCalibration(f *testing.F) {
	seeds(f, []float64{26.1, 26.3, 25.5, 25.6, 27.1, 27.4, 24.9, 25.0, 26.7, 27.0}, []float64{1, 1, 1, 1, 1, 1, 1, 1},
		[]float64{1, 2, math.NaN(), 4, 5, 6, 7, 8}, []float64{0, 1e300, 1e-300, -1e300, 3, 4, 5, math.Inf(1)},
		[]float64{1e200, 1e200, 2e200, 2e200, 3e200, 3e200, 4e200, 4e200})
	f.Fuzz(func(t *testing.T, data []byte) {
		x := numbers(data)
		half := len(x) / 2
		a, b := x[:half], x[half:2*half]
		finite := func(what string, err error, values ...float64) {
			for _, v := range values {
				if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
					t.Errorf("%s of %v and %v: %v without an error", what, a, b, values)
					return
				}
			}
		}
		p := Pairs{a, b}
		bias, err := p.Bias()
		finite("bias", err, bias.Value, bias.SE)
		ratio, err := p.Ratio()
		finite("ratio", err, ratio.Value, ratio.SE)
		drift, err := p.Drift(b)
		finite("drift", err, drift.Value, drift.SE)
		agreement, err := p.RelativeAgreement()
		finite("agreement", err, agreement.Low, agreement.High)
		line, err := Deming(a, b, 1)
		finite("Deming", err, line.Slope.Value, line.Slope.SE, line.Intercept.Value)
		line, err = Weighted(a, b, a, b)
		finite("York", err, line.Slope.Value, line.Intercept.Value)
		g, err := Grubbs(x, 0.05, TwoSided)
		finite("Grubbs", err, g.G, g.Critical)
		_, outliers, err := GeneralizedESD(x, 3, 0.05)
		if err == nil && (outliers < 0 || outliers > 3) {
			t.Errorf("%d outliers of up to 3", outliers)
		}
		ModifiedZScores(x)
	})
}

// Whatever the sources: an error or a model whose figures are finite.
func FuzzModel(f *testing.F) {
	seeds(f, []float64{100, 5, 3, -50, 2, 7}, []float64{1, 0, 0, 1, 0, 0}, []float64{math.Inf(1), 1, 1, 1, math.NaN(), 1},
		[]float64{1e160, 1e160, 1, 1, 1e-160, 1e160}, []float64{1, 1e-200, 0, 1, 1e-200, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		x := numbers(data)
		n := min(len(x)/3, 20) // a residual, an own error and a shared one for each balance
		rows, sources := make([]Row, n), []Source{{Kind: OtherError}}
		for i := range n {
			rows[i] = Row{Pile: i % 2, From: i / 2, Period: i/2 + 1, Residual: x[3*i]}
			sources = append(sources, Source{Kind: OtherError, Column: Vector{{i, x[3*i+1]}}})
			sources[0].Column = append(sources[0].Column, Element{i, x[3*i+2]})
		}
		m, err := NewModel(rows, sources)
		if err != nil {
			return
		}
		for i, u := range m.Whitened() {
			if math.IsNaN(u) || math.IsInf(u, 0) {
				t.Errorf("u %d is %v of %v", i, u, x)
			}
		}
	})
}
