package demoyard

import (
	"fmt"
	"time"
)

// flightPlan are the survey flights: days from 2026-08-01 and local times. The last is in the middle of
// a working day, with trucks loading under it.
var flightPlan = [monthCount]struct{ day, startHour, startMinute, endHour, endMinute int }{
	{day: 30, startHour: 18, startMinute: 20, endHour: 19, endMinute: 5},
	{day: 60, startHour: 18, startMinute: 5, endHour: 18, endMinute: 45},
	{day: 89, startHour: 10, startMinute: 40, endHour: 11, endMinute: 25},
}

func flightStart(month int, zone *time.Location) time.Time {
	f := flightPlan[month]
	return clock(f.day, f.startHour, f.startMinute, zone)
}

func flightEnd(month int, zone *time.Location) time.Time {
	f := flightPlan[month]
	return clock(f.day, f.endHour, f.endMinute, zone)
}

// volumeScatterPPM is the standard deviation of a measured volume; the files state it as 1 %.
const volumeScatterPPM = 8_000

// flight is the camera over the piles, half-way between the start and the end of a survey.
type flight struct {
	at    time.Time
	month int
}

// landing is the end of a survey, and monthEnd that of a month: the truth of both is kept.
type (
	landing  flight
	monthEnd flight
)

func (f flight) when() time.Time   { return f.at }
func (l landing) when() time.Time  { return l.at }
func (m monthEnd) when() time.Time { return m.at }

// flights plans the surveys and the ends of the months.
func (s *simulation) flights() []event {
	var plan []event
	for month := range monthCount {
		start, end := flightStart(month, s.zone), flightEnd(month, s.zone)
		plan = append(plan, flight{start.Add(end.Sub(start) / 2), month},
			landing{end, month}, monthEnd{endOfMonth(month, s.zone), month})
	}
	return plan
}

// happen measures every pile as it lies at that moment.
func (f flight) happen(s *simulation) {
	for i, p := range piles {
		litres := s.solids[i]/p.densityKgM3 + p.baseLayerM3*1_000
		ppm := s.survey.bell(volumeScatterPPM)
		s.months[i][f.month].VolumePPM = ppm
		s.surveys = append(s.surveys, surveyRow{
			survey: fmt.Sprintf("S%d-%s", 41+f.month, p.name), report: fmt.Sprintf("SR-%d", 2608+f.month),
			pile: i, start: flightStart(f.month, s.zone), end: flightEnd(f.month, s.zone), litres: withError(litres, ppm)})
	}
}

func (l landing) happen(s *simulation) {
	for i := range piles {
		s.months[i][l.month].AtSurveyG = s.solids[i]
	}
}

func (m monthEnd) happen(s *simulation) {
	for i := range piles {
		s.months[i][m.month].AtEndG = s.solids[i]
	}
}
