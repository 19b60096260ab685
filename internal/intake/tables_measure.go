package intake

import (
	"repose/ledger"

	"github.com/shopspring/decimal"
)

func openingTable() Table {
	return Table{
		Name: "opening", Kind: ledger.KindOpeningRecord,
		Note: "what lay in each pile when its book began",
		Columns: []Column{
			column(fPile, Required, Code, "the pile's code"),
			column(fTime, Required, Date, "the instant; a date means its start"),
			column(fSolids, Optional, Mass, "oven-dry stone"),
			column(fMass, Optional, Mass, "stone with its water; needs a moisture"),
			column(fMoisture, Optional, Moisture, "moisture of the pile then; with solids it states the water"),
		},
		OneOf: [][]string{{fSolids.String(), fMass.String()}},
		build: builder{
			fact: func(r *row) ledger.Fact {
				o := ledger.Opening{Pile: r.knownPile(fPile), At: r.date(fTime), Solids: r.mass(fSolids), Mass: r.mass(fMass)}
				o.IsSolids = r.oneOf(fSolids, fMass) == fSolids
				if r.has(fMoisture) {
					o.Moisture = decimal.NewNullDecimal(r.moisture(fMoisture).Percent())
				} else if !o.IsSolids {
					r.failRow("a mass without its moisture", "the column moisture filled, or solids in place of mass")
				}
				return o
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				o := f.(ledger.Opening)
				o.At = r.correctedTime(value)
				return o.Key()
			},
		},
	}
}

func moisturesTable() Table {
	return Table{
		Name: "moistures", Kind: ledger.KindMoistureRecord,
		Note: "moisture tests of piles, or of products where no pile is named",
		Columns: []Column{
			column(fPile, Optional, Code, "the pile's code"),
			column(fProduct, Optional, Code, "the product's code, for a test that speaks for all its piles"),
			column(fTaken, Required, Date, "when the sample was taken; a date means its start"),
			column(fMoisture, Required, Moisture, "per cent of dry mass (ASTM C566, EN 1097-5) or of wet mass, as the header says"),
			column(fTests, Optional, Count, "how many samples"),
			column(fU, Optional, PercentPoint, "standard uncertainty in percentage points, on the basis of the moisture"),
		},
		OneOf: [][]string{{fPile.String(), fProduct.String()}},
		build: builder{
			fact: func(r *row) ledger.Fact {
				r.oneOf(fPile, fProduct)
				return ledger.MoistureTest{Pile: r.knownPile(fPile), Product: r.knownProduct(fProduct), Taken: r.date(fTaken),
					Moisture: r.moisture(fMoisture), Tests: r.count(fTests), U: r.dryPoints(fU, fMoisture)}
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				t := f.(ledger.MoistureTest)
				t.Taken = r.correctedTime(value)
				return t.Key()
			},
		},
	}
}

func densitiesTable() Table {
	return Table{
		Name: "densities", Kind: ledger.KindDensityRecord,
		Note: "bulk density tests of piles, or of products where no pile is named",
		Columns: []Column{
			column(fPile, Optional, Code, "the pile's code"),
			column(fProduct, Optional, Code, "the product's code, for a test that speaks for all its piles"),
			column(fTaken, Required, Date, "when the sample was taken; a date means its start"),
			column(fBulkDensity, Required, Density, "of the stone as it was tested"),
			column(fMoisture, Optional, Moisture, "moisture of the stone as it was tested"),
			{Name: fBasis.String(), field: fBasis, Need: Optional, Holds: Word, Words: []string{basisDry},
				Note: "the word dry where the density is of oven-dry stone, in place of a moisture"},
			column(fU, Optional, Percent, "relative standard uncertainty of the density"),
			column(fTests, Optional, Count, "how many samples"),
			column(fMethod, Optional, Text, "how it was measured"),
			{Name: fCompaction.String(), field: fCompaction, Need: Optional, Holds: Number, Default: "1",
				Note: "from the tested state to the pile's; blank for none"},
		},
		OneOf: [][]string{{fPile.String(), fProduct.String()}, {fMoisture.String(), fBasis.String()}},
		build: builder{
			fact: func(r *row) ledger.Fact {
				r.oneOf(fPile, fProduct)
				d := ledger.DensityTest{Pile: r.knownPile(fPile), Product: r.knownProduct(fProduct), Taken: r.date(fTaken),
					MoistTPerM3: r.quantity(fBulkDensity).Decimal, U: r.quantity(fU), Tests: r.count(fTests),
					Method: r.text(fMethod), Compaction: r.quantity(fCompaction).Decimal}
				if r.oneOf(fMoisture, fBasis) == fBasis {
					r.words(fBasis)
				} else {
					d.Moisture = r.moisture(fMoisture)
				}
				return d
			},
			corrected: func(r *row, f ledger.Fact, value string) string {
				t := f.(ledger.DensityTest)
				t.Taken = r.correctedTime(value)
				return t.Key()
			},
		},
	}
}

const basisDry = "dry"

func surveysTable() Table {
	return Table{
		Name: "surveys", Kind: ledger.KindSurveyRecord,
		Note: "measured volumes, a row for each pile of a survey",
		Columns: []Column{
			column(fSurvey, Required, Text, "the survey's number"),
			column(fPile, Required, Code, "the pile's code"),
			column(fStart, Required, Time, "when measuring began"),
			column(fEnd, Required, Time, "when it ended: the book is struck at this instant"),
			column(fVolume, Required, Volume, "as measured, deductions not yet taken off"),
			column(fVolumeU, Optional, Percent, "relative standard uncertainty of the volume"),
			{Name: fDeduction.String(), field: fDeduction, Need: Optional, Holds: Volume, Default: "0",
				Note: "what is not stone of this pile: base layer, berms, voids; needs a reason"},
			column(fDeductionReason, Optional, Text, "what was taken off"),
			column(fBase, Optional, Text, "the surface under the pile that the volume was taken from"),
			column(fToeArea, Optional, Area, "plan area inside the toe line"),
			column(fMethod, Optional, Text, "how it was measured"),
			column(fSurveyor, Optional, Text, "a code, not a name"),
			column(fReport, Optional, Text, "number of the report"),
		},
		build: builder{
			fact: surveyOf,
			corrected: func(_ *row, f ledger.Fact, value string) string {
				s := f.(ledger.Survey)
				s.Survey = value
				return s.Key()
			},
		},
	}
}

func surveyOf(r *row) ledger.Fact {
	s := ledger.Survey{Survey: r.own(fSurvey), Pile: r.knownPile(fPile), Start: r.at(fStart), End: r.at(fEnd),
		VolumeM3: r.quantity(fVolume).Decimal, VolumeU: r.quantity(fVolumeU),
		DeductionM3: r.quantity(fDeduction).Decimal, DeductionReason: r.own(fDeductionReason),
		Base: r.text(fBase), ToeAreaM2: r.quantity(fToeArea), Method: r.text(fMethod),
		Surveyor: r.text(fSurveyor), Report: r.own(fReport)}
	if !r.ok() {
		return s
	}
	if s.End.Before(s.Start) {
		r.fail(fEnd, quote(r.shown(fEnd))+", before the start", "a time from "+quote(r.shown(fStart))+" on")
	}
	if s.DeductionM3.GreaterThan(s.VolumeM3) {
		r.fail(fDeduction, quote(r.shown(fDeduction))+", more than the volume", "zero up to the volume")
	}
	if s.DeductionM3.IsPositive() && s.DeductionReason == "" {
		r.failRow("a deduction without a reason", "the column deduction reason filled")
	}
	return s
}
