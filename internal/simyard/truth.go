package simyard

import "time"

// Truth is what the invented yard knows and its tables do not say. Masses are solids unless their name says
// wet; in JSON they are text in tonnes. Errors are positive where something reads high.
type Truth struct {
	Schema      int               `json:"schema"`
	Yard        string            `json:"yard"`
	Seed        uint64            `json:"seed"`
	Scale       float64           `json:"scale"`
	Periods     []string          `json:"periods"` // from month 1
	Piles       []PileTruth       `json:"piles"`
	Instruments []InstrumentTruth `json:"instruments"`
	Faults      []FaultTruth      `json:"faults"`
}

// PileTruth is one pile. Its surveys and months are in order; survey 0 is the opening one, and survey t ends
// month t.
type PileTruth struct {
	Pile                 string        `json:"pile"`
	Density              Grams         `json:"density_t_per_m3"` // dry, in place, before any fault
	OpeningErrorPPB      PPB           `json:"opening_error_ppb"`
	MoistureErrorPPB     PPB           `json:"moisture_error_ppb"` // of the solids that all tests of the pile make
	DensityTestErrorsPPB []PPB         `json:"density_test_errors_ppb"`
	Surveys              []PileSurvey  `json:"surveys"`
	Months               []MonthOfPile `json:"months"`
}

// PileSurvey is one survey of a pile.
type PileSurvey struct {
	Survey         string    `json:"survey"`
	End            time.Time `json:"end"`
	Solids         Grams     `json:"solids_t"`
	VolumeErrorPPB PPB       `json:"volume_error_ppb"` // its own, without any fault
	DensityTest    int       `json:"density_test"`     // the one in force, counted from 0
}

// MonthOfPile is a pile from one survey to the next.
type MonthOfPile struct {
	Period     string `json:"period"`
	Made       Grams  `json:"made_t"`
	Sold       Grams  `json:"sold_t"` // by truck, with a record or without
	CarriedIn  Grams  `json:"carried_in_t"`
	CarriedOut Grams  `json:"carried_out_t"`
	Lost       Grams  `json:"lost_t"`         // by losses, beside what was sold
	Fed        Grams  `json:"fed_t,omitzero"` // to the crusher
	// Shrinkage is what truly left the pile and is not in its records, less what the records have leave it
	// and did not: what an errorless balance would find missing.
	Shrinkage Grams `json:"shrinkage_t"`

	MoisturePPM        int64       `json:"moisture_ppm"`                   // of the dry mass
	MoistureErrorPPB   PPB         `json:"moisture_error_ppb"`             // of solids, of this month's test, with the pile's own
	MoistureInForcePPM int64       `json:"moisture_in_force_ppm,omitzero"` // of the test in use, where a fault made it another one
	BeltRandomErrorPPB PPB         `json:"belt_random_error_ppb"`
	BeltSlip           Grams       `json:"belt_slip_wet_t,omitzero"` // that records have of the belt by faults, less what they lack
	Weighings          []Weighings `json:"weighings"`
}

// Weighings are the records by which a loader has stone leave a pile in a month: for sale, or to another
// pile.
type Weighings struct {
	Loader  string `json:"loader"`
	To      string `json:"to,omitempty"` // of transfers
	Records int    `json:"records"`
	Wet     Grams  `json:"wet_t"`               // truly, in all trucks on these records
	Error   Grams  `json:"random_error_wet_t"`  // sum of the random errors of single weighings, with their rounding
	Slip    Grams  `json:"slip_wet_t,omitzero"` // by which faults have the records above what the loader showed
}

// InstrumentTruth is one weighing instrument.
type InstrumentTruth struct {
	Instrument string `json:"instrument"`
	// CalibrationErrorsPPB are systematic, without any fault: three months each.
	CalibrationErrorsPPB []PPB `json:"calibration_errors_ppb"`
}

// FaultTruth is what became of a fault.
type FaultTruth struct {
	Fault  string       `json:"fault"` // as it was asked for
	Months []FaultMonth `json:"months"`
}

// FaultMonth is a fault in one month.
type FaultMonth struct {
	Period string `json:"period"`
	Solids Grams  `json:"solids_t,omitzero"` // of what it concerns, in whole loads
	// Of a fault of single records, Findings name the records. Of others:
	// Wrong are the IDs of records that are in the tables and are not true, Absent of those that are not
	// there though they were numbered.
	Wrong  []string `json:"wrong,omitempty"`
	Absent []string `json:"absent,omitempty"`
	Deck   []string `json:"deck,omitempty"` // tickets of the deck scale for the same trucks

	Findings []Finding `json:"findings,omitempty"` // of a detailed yard
}
