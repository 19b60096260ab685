package stat

// Kind says what an error source is an error of.
type Kind uint8

// The kinds of error sources. For a source made by [Observations.Model], Index of the [Source] points into
// the list named here.
const (
	OtherError         Kind = iota + 1 // Balances: the resolution of a balance, or anything else
	BeltSystematic                     // Instruments: shared by all that a belt weighed in a calibration epoch
	LoaderSystematic                   // Instruments: the same for a loader scale or a deck scale
	BeltRandom                         // flows, counted from 1: fresh for each belt, pile and period
	Weighings                          // flows, counted from 1: single weighings, independent of one another
	TransferWeighings                  // Batch of the flows: the same, felt by two piles with opposite signs
	DensityError                       // Densities: shared by all surveys that one test converted to mass
	SurveyVolume                       // Surveys: the volume, and that day's compaction
	SurveyWindow                       // Surveys: movements while the pile was being flown
	BaseSurface                        // Bases: the floor under a pile; cancels between surveys on one base
	MoistureSystematic                 // Moistures: shared by all flows that one test converted to solids
	MoistureRandom                     // Moistures: fresh for each test and period
)

var kindNames = [...]string{
	OtherError: "other", BeltSystematic: "belt, systematic", LoaderSystematic: "loader, systematic",
	BeltRandom: "belt, random", Weighings: "weighings", TransferWeighings: "transfer weighings",
	DensityError: "density", SurveyVolume: "survey volume", SurveyWindow: "survey window",
	BaseSurface: "base surface", MoistureSystematic: "moisture, systematic", MoistureRandom: "moisture, random",
}

// String returns the kind in words.
func (k Kind) String() string { return nameOf(kindNames[:], int(k)) }

// PerKind holds one number for each kind of error source; element 0 is not used.
type PerKind [MoistureRandom + 1]float64

// nameOf returns the name of an enum's value, and "unknown" for the zero value and any outside the list.
func nameOf(names []string, i int) string {
	if i <= 0 || i >= len(names) {
		return "unknown"
	}
	return names[i]
}

// Source is one independent cause of measurement error: a standard normal variable times Column.
type Source struct {
	Kind   Kind
	Index  int    // what it belongs to, in the list its Kind names
	Period int    // of a MoistureRandom
	Column Vector // t of residual for one standard deviation of the error
}
