package audit

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/shopspring/decimal"

	"repose/ledger"
)

// at reads an instant in UTC.
func at(t testing.TB, s string) time.Time {
	t.Helper()
	when, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		t.Fatal(err)
	}
	return when
}

func period(t *testing.T, s string) ledger.Period {
	t.Helper()
	p, err := ledger.ParsePeriod(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// tons returns a mass that is given in whole kilograms.
func tons(t float64) ledger.Mass { return ledger.Mass(math.Round(t*1000)) * ledger.Kilogram }

func dry(t testing.TB, pct string) ledger.DryBasis {
	t.Helper()
	m, err := ledger.NewDryBasis(decimal.RequireFromString(pct))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func same(t *testing.T, what string, want, got any, opts ...cmp.Option) {
	t.Helper()
	if diff := cmp.Diff(want, got, opts...); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// Reports show these names.
func TestNames(t *testing.T) {
	same(t, "methods", "random, stratified, mass unit", fmt.Sprintf("%v, %v, %v", MethodRandom, MethodStratified, MethodMassUnit))
	same(t, "cuts", "period's end, survey", fmt.Sprintf("%v, %v", CutPeriod, CutSurvey))
	same(t, "evidence", "survey, book", fmt.Sprintf("%v, %v", EvidenceSurvey, EvidenceBook))
	same(t, "quantities", "volume, 1 %; density, 1 %; moisture, 1 %; moisture, 1 point; belt, 1 %",
		fmt.Sprintf("%v; %v; %v; %v; %v", QuantityVolume, QuantityDensity, QuantityMoisture, QuantityMoisturePoint, QuantityBelt))
}
