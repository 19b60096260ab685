package intake

// field names a column in any table. It indexes the columns of a binding, so that a cell is found
// without looking up its name in every row.
type field uint8

const (
	fYard field = iota + 1
	fName
	fTimeZone
	fUnit
	fProduct
	fReferenceMoisture
	fAbsorption
	fPile
	fOpened
	fClosed
	fOwner
	fInstrument
	fKind
	fFrom
	fUntil
	fSystematic
	fRandom
	fModulus
	fCertificate
	fCertificateClass
	fTime
	fSolids
	fMass
	fMoisture
	fBelt
	fNet
	fReading
	fShift
	fNote
	fLoader
	fTicket
	fTruck
	fCustomer
	fPasses
	fPurpose
	fStatus
	fDeck
	fGross
	fTare
	fFromPile
	fToPile
	fSurvey
	fStart
	fEnd
	fVolume
	fVolumeU
	fDeduction
	fDeductionReason
	fBase
	fToeArea
	fMethod
	fSurveyor
	fReport
	fTaken
	fBulkDensity
	fBasis
	fU
	fTests
	fCompaction
	fWeekday
	fDate
	fDay
	fOpen
	fClose
	fValue
	fReason
	fPeriod
	fCostCentre
	fAmount
	fCurrency
	fPrice
	fSellingCost
	fCompletionCost
	fPer
	fReplaces
	fieldCount
)

var fieldNames = [fieldCount]string{
	fYard: "yard", fName: "name", fTimeZone: "time zone", fUnit: "unit", fProduct: "product",
	fReferenceMoisture: "reference moisture", fAbsorption: "absorption", fPile: "pile", fOpened: "opened",
	fClosed: "closed", fOwner: "owner", fInstrument: "instrument", fKind: "kind", fFrom: "from", fUntil: "until",
	fSystematic: "systematic", fRandom: "random", fModulus: "modulus", fCertificate: "certificate",
	fCertificateClass: "certificate class", fTime: "time", fSolids: "solids", fMass: "mass", fMoisture: "moisture",
	fBelt: "belt", fNet: "net", fReading: "reading", fShift: "shift", fNote: "note", fLoader: "loader",
	fTicket: "ticket", fTruck: "truck", fCustomer: "customer", fPasses: "passes", fPurpose: "purpose",
	fStatus: "status", fDeck: "deck", fGross: "gross", fTare: "tare", fFromPile: "from pile", fToPile: "to pile",
	fSurvey: "survey", fStart: "start", fEnd: "end", fVolume: "volume", fVolumeU: "volume u",
	fDeduction: "deduction", fDeductionReason: "deduction reason", fBase: "base", fToeArea: "toe area",
	fMethod: "method", fSurveyor: "surveyor", fReport: "report", fTaken: "taken", fBulkDensity: "bulk density",
	fBasis: "basis", fU: "u", fTests: "tests", fCompaction: "compaction factor", fWeekday: "weekday", fDate: "date",
	fDay: "day", fOpen: "open", fClose: "close", fValue: "value", fReason: "reason", fReplaces: "replaces",
	fPeriod: "period", fCostCentre: "cost centre", fAmount: "amount", fCurrency: "currency", fPrice: "price",
	fSellingCost: "selling cost", fCompletionCost: "completion cost", fPer: "per"}

// String returns the column's name as headers write it.
func (f field) String() string { return fieldNames[f] }
