package simyard

// Quick returns a small detailed yard for tests that need many: two months of which the first is there for
// what is known before, about 1,000 loads of 22 t in each, and every test fresh. Faults belong in month 2.
// A busier or calmer one differs in Traffic: 10 is about 240 loads, 60 about 1,400.
func Quick(seed uint64) Config {
	cfg := Default(seed)
	cfg.Start, cfg.Months = "2026-03", 2
	cfg.LoadT, cfg.Traffic = 22, 42
	cfg.DensityMonths = 1
	cfg.Detailed = true
	return cfg
}

// Month generates the yard of [Quick] with faults.
func Month(seed uint64, faults ...Fault) (*Yard, error) {
	cfg := Quick(seed)
	cfg.Faults = faults
	return Generate(cfg)
}
