package ledger

// SealLine is one line that a close seals beside the entries and the closing state: a kind, one word, and
// canonical JSON.
type SealLine struct{ Kind, Text string }

// The kinds of sealed lines.
const (
	SealSurvey = "survey" // a survey set against the book
	SealStream = "stream" // what came or went through one instrument since the survey before
	SealPair   = "pair"   // trucks that a loader and a deck scale weighed
	SealPolicy = "policy" // the rules in force
)

// SealLines returns what a close seals of a month beside its entries and its closing state: every survey
// with the tests and figures that it rests on, what moved since the one before, and the rules in force.
func (m *Month) SealLines() []SealLine {
	var lines []SealLine
	for _, c := range m.Comparisons {
		lines = append(lines, SealLine{SealSurvey, sealLine(c.fields)})
		for _, s := range c.Base.Streams.Sorted() {
			lines = append(lines, SealLine{SealStream, sealLine(func(w *fieldWriter) {
				w.text("survey", c.Record.ID())
				s.fields(w, c.Base.Streams[s])
			})})
		}
	}
	for _, p := range m.Pairs.Sorted() {
		lines = append(lines, SealLine{SealPair, sealLine(func(w *fieldWriter) { p.fields(w, m.Pairs[p]) })})
	}
	lines = append(lines, SealLine{SealPolicy, sealLine(m.Policies.fields)})
	for _, r := range m.Rates {
		lines = append(lines, SealLine{SealPolicy, sealLine(func(w *fieldWriter) {
			w.text("expected_shrinkage_of", r.Product)
			w.decimal("percent", r.Percent)
			w.text("per_cent_of", r.Of.String())
		})})
	}
	for _, b := range m.Ratings {
		lines = append(lines, SealLine{SealPolicy, sealLine(func(w *fieldWriter) {
			w.text("factor_of", b.Belt)
			w.decimal("factor", b.Factor)
		})})
	}
	return lines
}

func (c *Comparison) fields(w *fieldWriter) {
	w.text("survey", c.Record.ID())
	w.text("pile", c.Pile.Account().String())
	w.time("at", c.Survey.End)
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
	if c.HasBase {
		w.text("base", c.Base.Record)
		w.time("base_at", c.Base.At)
		w.mass("base_solids_g", c.Base.Solids)
		w.mass("in_since_g", c.Base.In)
		w.mass("out_since_g", c.Base.Out)
		c.Base.allowed(w, "explained_since_g", "expected_since_g")
	}
	w.mass("in_window_g", c.windowSolids())
	if c.HasLimit {
		w.mass("limit_g", c.Limit)
	}
	w.text("outcome", c.Outcome.String())
}

// windowSolids returns what moved while the pile was being surveyed, in either direction.
func (c *Comparison) windowSolids() (m Mass) {
	for _, i := range c.InWindow {
		m += i.Net.Solids.Abs()
	}
	return m
}

func (p Policies) fields(w *fieldWriter) {
	w.text("adjust", p.Adjust.String())
	if p.Limit.Set() {
		w.optional("limit_mass_g", p.Limit.Mass)
		w.optional("limit_percent", p.Limit.Percent)
		w.text("limit_of", p.Limit.Of.String())
		w.text("limit_join", p.Limit.Join.String())
	}
	w.text("cut_off", p.CutOff.String())
	w.count("survey_every_months", p.SurveyEvery)
}
