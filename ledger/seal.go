package ledger

// SurveyLines returns every comparison of the month as canonical lines of JSON, with the figures and the
// tests that it rests on, for sealing.
func (m *Month) SurveyLines() []string {
	lines := make([]string, len(m.Comparisons))
	for i, c := range m.Comparisons {
		w := fieldWriter{body: []byte{'{'}}
		c.fields(&w)
		lines[i] = string(append(w.body, '}'))
	}
	return lines
}

func (c *Comparison) fields(w *fieldWriter) {
	w.text("survey", c.Record.ID())
	w.text("product", c.Product)
	w.decimal("net_volume_m3", c.Survey.NetM3())
	if c.HasDensity {
		w.text("density_test", c.Density.Key())
		w.decimal("moist_density_t_per_m3", c.Density.MoistTPerM3)
		w.decimal("test_moisture_pct_dry", c.Density.Moisture.pct)
		w.decimal("compaction_factor", c.Density.Compaction)
	}
	w.decimal("pile_moisture_pct_dry", c.Moisture.pct)
	w.mass("book_solids_g", c.Book.Solids)
	w.mass("book_water_g", c.Book.Water)
	w.mass("survey_solids_g", c.Found.Solids)
	w.mass("survey_water_g", c.Found.Water)
	w.text("base", c.Base.Record)
	w.mass("base_solids_g", c.Base.Solids)
	w.mass("in_since_g", c.Base.In)
	w.mass("out_since_g", c.Base.Out)
	if c.HasLimit {
		w.mass("limit_g", c.Limit)
	}
	w.text("outcome", c.Outcome.String())
}

// PolicyLines returns the rules in force at the month's end as canonical lines of JSON, for sealing.
func (m *Month) PolicyLines() []string {
	p := m.Policies
	w := fieldWriter{body: []byte{'{'}}
	w.text("adjust", p.Adjust.String())
	if p.Limit.Set() {
		w.optional("limit_mass_g", p.Limit.Mass)
		w.optional("limit_percent", p.Limit.Percent)
		w.text("limit_of", p.Limit.Of.String())
		w.text("limit_join", p.Limit.Join.String())
	}
	w.text("cut_off", p.CutOff.String())
	w.count("survey_every_months", p.SurveyEvery)
	return []string{string(append(w.body, '}'))}
}
