package demoyard

import "time"

// Truth is what the invented yard knows and its files do not say, and what a test can hold the files'
// reader to. Masses are grams.
type Truth struct {
	Yard, Zone  string
	Piles       []PileTruth // in the order of the piles sheet
	Instruments []InstrumentTruth
	Unrecorded  []UnrecordedLoad // in order of time
	Tables      []TableTruth     // in the order of the files and their sheets
}

// PileTruth is one pile.
type PileTruth struct {
	Pile, Product    string
	OpeningG         int64 // solids truly in it at the opening
	OpeningRecordedG int64 // solids that the opening states
	DryDensityKgM3   int64 // true dry bulk density in place
	Months           []MonthTruth
}

// MonthTruth is one pile in one month.
type MonthTruth struct {
	Period     string    // such as 2026-08
	SurveyEnd  time.Time // UTC
	AtSurveyG  int64     // solids truly in the pile then
	AtEndG     int64     // solids truly in it at the end of the month
	VolumePPM  int64     // error of the survey's volume, positive where it reads high
	DensityPPM int64     // error of the density test in force at the survey
	Recorded   Movements // of the calendar month
	// Loads that left without a record, and their solids.
	UnrecordedLoads int
	UnrecordedG     int64
}

// Movements are recorded as-weighed masses: kept loads that no other replaces, belt readings' differences,
// and so on.
type Movements struct {
	ProductionG, SaleG, InternalG, FreeG int64
	TransferInG, TransferOutG            int64
	FeedG, ReturnG                       int64
}

// InstrumentTruth is the true error of an instrument.
type InstrumentTruth struct {
	Instrument string
	BiasPPM    int64 // systematic; positive where it reads high
	ScatterPPM int64 // standard deviation of one weighing, or of one run of a belt
}

// UnrecordedLoad is a truckload that left a pile without any record.
type UnrecordedLoad struct {
	Pile    string
	At      time.Time // UTC
	WetG    int64
	SolidsG int64
}

// TableTruth counts the rows of one table of one file.
type TableTruth struct {
	File, Sheet string // Sheet is empty for a text file
	Table       string
	Rows        int // data rows, headings not counted
	Voids       int // of them with a status of void
	Replacing   int // of them that replace another row
	Repeated    int // of them that an earlier file holds too
}
