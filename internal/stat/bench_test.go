package stat

import "testing"

// BenchmarkAnalysis is everything that a question for causes asks of the balances, for yards of growing size. The
// covariance is dense and costs the cube of the balances; hypotheses, of which there are about
// months x piles^2, only their number times months.
func BenchmarkAnalysis(b *testing.B) {
	for _, size := range [...]struct{ months, piles int }{{12, 6}, {24, 20}, {24, 60}, {36, 60}} {
		o := regularYard(size.months, size.piles, 300)
		b.Run(yardName(size.months, size.piles), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				m, err := o.Model()
				if err != nil {
					b.Fatal(err)
				}
				m.Innovations()
				m.Attribute()
				scan := NewScan(m, o.Hypotheses(DefaultPriors()))
				th := scan.Thresholds(DefaultAlarmPolicy())
				last := len(scan.Periods()) - 1
				scan.Alarms(th)
				scan.Rank(last)
				scan.SecondFault(last, th)
			}
		})
	}
}

func BenchmarkModel(b *testing.B) {
	o := regularYard(24, 60, 0)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := o.Model(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkThresholds(b *testing.B) {
	o := regularYard(12, 6, 0)
	m, err := o.Model()
	if err != nil {
		b.Fatal(err)
	}
	scan := NewScan(m, o.Hypotheses(DefaultPriors()))
	b.ReportAllocs()
	for b.Loop() {
		scan.Thresholds(DefaultAlarmPolicy())
	}
}

func BenchmarkReconcile(b *testing.B) {
	o := regularYard(24, 60, 0)
	m, err := o.Model()
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		o.Reconcile(m)
	}
}
