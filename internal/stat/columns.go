package stat

import "math"

// Term is a share of one error source in the error of a measured mass: Factor t for each standard deviation.
type Term struct {
	Source int // of the model
	Factor float64
}

// sourceKey names an error source: quantities whose terms have one key share that error.
type sourceKey struct {
	kind          Kind
	index, period int
}

// errorModel has every error source of the observations, and of every measured mass the terms of its error.
// That is all that needs thinking about: the columns, and with them every correlation across time,
// piles and instruments, follow from the balance being opening + flows - closing.
type errorModel struct {
	sources []Source
	places  map[sourceKey]int
	surveys [][]Term   // by survey
	flows   [][][]Term // by balance and flow
	other   [][]Term   // by balance: its resolution
}

func (o *Observations) errorModel() *errorModel {
	e := &errorModel{places: map[sourceKey]int{}}
	for i, s := range o.Surveys {
		e.surveys = append(e.surveys, e.surveyTerms(o, i, s))
	}
	flowNumber := 0
	for i, b := range o.Balances {
		terms := make([][]Term, len(b.Flows))
		for j, f := range b.Flows {
			flowNumber++
			terms[j] = e.flowTerms(o, f, flowNumber)
		}
		e.flows = append(e.flows, terms)
		e.other = append(e.other, e.add(nil, sourceKey{OtherError, i, 0}, o.Resolution))
	}
	e.setColumns(o)
	return e
}

// add adds a term of the source with a key, which it makes on first use. A mass of zero has no error.
func (e *errorModel) add(terms []Term, key sourceKey, factor float64) []Term {
	if factor == 0 {
		return terms
	}
	place, ok := e.places[key]
	if !ok {
		place = len(e.sources)
		e.places[key] = place
		e.sources = append(e.sources, Source{Kind: key.kind, Index: key.index, Period: key.period})
	}
	return append(terms, Term{place, factor})
}

func (e *errorModel) surveyTerms(o *Observations, index int, s Survey) []Term {
	terms := e.add(nil, sourceKey{SurveyVolume, index, 0}, s.Mass*s.Volume)
	terms = e.add(terms, sourceKey{SurveyWindow, index, 0}, s.Window)
	if s.Density != None {
		terms = e.add(terms, sourceKey{DensityError, s.Density, 0}, s.Mass*o.Densities[s.Density].Relative)
	}
	if s.Base != None {
		terms = e.add(terms, sourceKey{BaseSurface, s.Base, 0}, o.Bases[s.Base].Mass)
	}
	return terms
}

// flowTerms returns the terms of a flow. Of n weighings of equal size the random errors partly cancel: the sum
// has 1/sqrt(n) of one weighing's relative uncertainty.
func (e *errorModel) flowTerms(o *Observations, f Flow, number int) []Term {
	var terms []Term
	if f.Instrument != None {
		in := o.Instruments[f.Instrument]
		n := max(f.Weighings, 1)
		systematic, random := LoaderSystematic, sourceKey{Weighings, number, 0}
		if in.Kind == BeltWeigher {
			n = 1
			systematic, random = BeltSystematic, sourceKey{BeltRandom, number, 0}
		}
		if f.Batch > 0 {
			random = sourceKey{TransferWeighings, f.Batch, 0}
		}
		terms = e.add(terms, sourceKey{systematic, f.Instrument, 0}, f.Mass*in.Systematic)
		terms = e.add(terms, random, f.Mass*in.Random/math.Sqrt(n))
	}
	if f.Moisture != None {
		m := o.Moistures[f.Moisture]
		terms = e.add(terms, sourceKey{MoistureSystematic, f.Moisture, 0}, f.Mass*m.Systematic)
		terms = e.add(terms, sourceKey{MoistureRandom, f.Moisture, f.Period}, f.Mass*m.Random)
	}
	return terms
}

// setColumns adds up for each source what it does to each balance. A survey that closes one balance opens the
// next, so its own error comes back with the other sign; a density shared by both ends of a balance
// works on the change of stock alone. (Taken as two independent ones it would make sigma several times too wide.)
func (e *errorModel) setColumns(o *Observations) {
	columns := make([]gather, len(e.sources))
	add := func(row int, sign float64, terms []Term) {
		for _, t := range terms {
			if columns[t.Source] == nil {
				columns[t.Source] = gather{}
			}
			columns[t.Source].add(row, sign*t.Factor)
		}
	}
	for row, b := range o.Balances {
		add(row, 1, e.surveys[b.Opening])
		for _, terms := range e.flows[row] {
			add(row, 1, terms)
		}
		add(row, 1, e.other[row])
		add(row, -1, e.surveys[b.Closing])
	}
	for i := range e.sources {
		e.sources[i].Column = columns[i].vector(1)
	}
}
