package intake

import "strings"

// token is a part of a date layout that stands for a part of a time.
type token uint8

const (
	tokenLiteral   token = iota // the layout's own character
	tokenYear                   // YYYY
	tokenShortYear              // YY, of 2000 to 2099
	tokenMonth                  // MM
	tokenDay
	tokenHour        // HH, 00 to 23
	tokenHalfDayHour // hh, 01 to 12, with AM
	tokenMinute      // mm, or MM after an hour
	tokenSecond      // SS
	tokenHalfDay     // AM, for AM or PM
	tokenCount       // how many there are
)

// dateLayout is a compiled date layout of a column map.
type dateLayout struct {
	steps   []step
	hasTime bool
}

type step struct {
	token token
	char  byte // of a literal
	loose bool // one digit will do, because no digit follows
}

// layoutTokens says which tokens a layout has, for messages.
const layoutTokens = "each once: YYYY or YY, MM, DD, then if there is a time HH and mm, or hh, mm and AM, and SS if there are seconds"

var layoutWords = []struct {
	text  string
	token token
}{
	{"YYYY", tokenYear}, {"YY", tokenShortYear}, {"MM", tokenMonth}, {"DD", tokenDay}, {"HH", tokenHour}, {"hh", tokenHalfDayHour},
	{"mm", tokenMinute}, {"SS", tokenSecond}, {"AM", tokenHalfDay},
}

// newDateLayout compiles a layout such as "DD.MM.YYYY HH:MM". Its tokens are YYYY, YY, MM, DD, HH, hh,
// mm, SS and AM; MM stands for minutes where it follows an hour. Everything else but letters, and a T
// before the hour, stands for itself. ok is false where a token is missing, unknown or there twice.
func newDateLayout(s string) (l *dateLayout, ok bool) {
	l = &dateLayout{}
	var seen [tokenCount]bool
	last := tokenLiteral
	for rest := s; rest != ""; {
		st, n := nextStep(rest)
		if st.token == tokenMonth && (last == tokenHour || last == tokenHalfDayHour) {
			st.token = tokenMinute
		}
		if n == 0 || st.token != tokenLiteral && seen[st.token] {
			return nil, false
		}
		if st.token != tokenLiteral {
			seen[st.token] = true
			last = st.token
		}
		l.steps = append(l.steps, st)
		rest = rest[n:]
	}
	for i := range l.steps {
		next := tokenLiteral
		if i+1 < len(l.steps) {
			next = l.steps[i+1].token
		}
		l.steps[i].loose = next == tokenLiteral || next == tokenHalfDay
	}
	l.hasTime = seen[tokenHour] || seen[tokenHalfDayHour] || seen[tokenMinute] || seen[tokenSecond] || seen[tokenHalfDay]
	date := seen[tokenYear] != seen[tokenShortYear] && seen[tokenMonth] && seen[tokenDay]
	clock := seen[tokenHour] != seen[tokenHalfDayHour] && seen[tokenMinute] && seen[tokenHalfDayHour] == seen[tokenHalfDay]
	return l, date && (clock || !l.hasTime)
}

// nextStep reads the first step of a layout and its length, 0 for none.
func nextStep(s string) (step, int) {
	for _, w := range layoutWords {
		if strings.HasPrefix(s, w.text) {
			return step{token: w.token}, len(w.text)
		}
	}
	c := s[0]
	letter := c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= 0x80
	if letter && !strings.HasPrefix(s, "THH") && !strings.HasPrefix(s, "Thh") || c >= '0' && c <= '9' {
		return step{}, 0
	}
	return step{char: c}, 1
}

// parse reads a time. MM, DD, HH, hh, mm and SS take one digit as well as two where the layout has no
// digit after them; a blank takes any number of blanks.
func (l *dateLayout) parse(s string) (c civil, ok bool) {
	var v [tokenCount]int
	for _, st := range l.steps {
		n := 0
		switch st.token {
		case tokenLiteral:
			n = matchLiteral(s, st.char)
		case tokenHalfDay:
			v[tokenHalfDay], n = matchHalf(s)
		case tokenYear:
			v[tokenYear], n = matchDigits(s, 4, 4)
		case tokenShortYear:
			v[tokenYear], n = matchDigits(s, 2, 2)
			v[tokenYear] += 2000
		default:
			shortest := 2
			if st.loose {
				shortest = 1
			}
			v[st.token], n = matchDigits(s, shortest, 2)
		}
		if n == 0 {
			return c, false
		}
		s = s[n:]
	}
	if s != "" {
		return c, false
	}
	return l.civil(&v)
}

// civil puts the parts of a time together.
func (l *dateLayout) civil(v *[tokenCount]int) (c civil, ok bool) {
	hour := v[tokenHour]
	if v[tokenHalfDay] != 0 {
		if v[tokenHalfDayHour] < 1 || v[tokenHalfDayHour] > 12 {
			return c, false
		}
		hour = v[tokenHalfDayHour]%12 + v[tokenHalfDay] - 1
	}
	if !validClock(hour, v[tokenMinute], v[tokenSecond]) {
		return c, false
	}
	c.hasTime = l.hasTime
	c.second = int32(hour*secondsPerHour + v[tokenMinute]*60 + v[tokenSecond])
	c.day, ok = civilDay(v[tokenYear], v[tokenMonth], v[tokenDay])
	return c, ok
}

// matchLiteral returns how much of s a literal takes, 0 for none.
func matchLiteral(s string, c byte) int {
	n := 0
	for n < len(s) && s[n] == c && (n == 0 || c == ' ') {
		n++
	}
	return n
}

// matchHalf returns 1 for AM and 13 for PM, so that 0 is neither, and the length taken.
func matchHalf(s string) (half, n int) {
	if len(s) < 2 {
		return 0, 0
	}
	switch {
	case strings.EqualFold(s[:2], "AM"):
		return 1, 2
	case strings.EqualFold(s[:2], "PM"):
		return 13, 2
	}
	return 0, 0
}

// matchDigits reads as many digits as there are, up to longest, and returns their value and number; 0
// for fewer than shortest.
func matchDigits(s string, shortest, longest int) (value, n int) {
	for n < len(s) && n < longest && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	if n < shortest {
		return 0, 0
	}
	return digits(s[:n]), n
}
