package table

import "testing"

func TestParseFormat(t *testing.T) {
	for _, tt := range []struct {
		code string
		want numberFormat
	}{
		{"General", plainNumber},
		{"", plainNumber},
		{"0.00", plainNumber},
		{"#,##0.00_);[Red](#,##0.00)", plainNumber},
		{`0.0" days"`, plainNumber},
		{`0.0\d`, plainNumber},
		{`0.0_m`, plainNumber},
		{`* 0.0`, plainNumber},
		{`*d0.0`, plainNumber},
		{`[$USD-409] 0.00`, plainNumber},
		{`[DBNum1]0`, plainNumber},
		{"0.00E+00", plainNumber},
		{"@", plainNumber},
		{`0.0" t";yyyy`, plainNumber},
		{`0"unclosed d`, plainNumber},
		{`0\`, plainNumber},
		{`0[unclosed h`, plainNumber},
		{"0%", percentage},
		{`0.0" %"`, plainNumber},
		{`0\%`, plainNumber},
		{"yyyy-mm-dd", dateFormat},
		{"YYYY/MM/DD", dateFormat},
		{"[$-409]d-mmm-yy;@", dateFormat},
		{`yyyy"年"m"月"d"日"`, dateFormat},
		{"mmm", dateFormat},
		{"mmm-yy", dateFormat},
		{"h:mm", timeFormat},
		{"mm:ss", timeFormat},
		{"mm:ss.0", timeFormat},
		{"h:mm AM/PM", timeFormat},
		{"h AM/PM", timeFormat},
		{"h:mm a/p", timeFormat},
		{"h", timeFormat},
		{"[h]:mm", elapsedFormat},
		{"[HH]:mm:ss", elapsedFormat},
		{"[mm]:ss", elapsedFormat},
		{"[ss].00", elapsedFormat},
		{"m/d/yy h:mm", dateTimeFormat},
		{"dd.mm.yyyy hh:mm:ss", dateTimeFormat},
		{"mmm h:mm:ss", dateTimeFormat},
		{"hh dd", dateTimeFormat},
		{"d [h]:mm", dateTimeFormat},
	} {
		if got := parseFormat(tt.code); got != tt.want {
			t.Errorf("parseFormat(%q) = %d, want %d", tt.code, got, tt.want)
		}
	}
}

func TestBuiltinFormat(t *testing.T) {
	// The table of ECMA-376 part 1, 18.8.30; the East Asian part from memory.
	want := map[int]numberFormat{
		9: percentage, 10: percentage,
		14: dateFormat, 15: dateFormat, 16: dateFormat, 17: dateFormat,
		18: timeFormat, 19: timeFormat, 20: timeFormat, 21: timeFormat, 22: dateTimeFormat,
		27: dateFormat, 28: dateFormat, 29: dateFormat, 30: dateFormat, 31: dateFormat,
		32: timeFormat, 33: timeFormat, 34: localFormat, 35: localFormat, 36: dateFormat,
		45: timeFormat, 46: elapsedFormat, 47: timeFormat,
		50: dateFormat, 51: dateFormat, 52: localFormat, 53: localFormat, 54: dateFormat,
		55: localFormat, 56: localFormat, 57: dateFormat, 58: dateFormat,
	}
	for id := range 200 {
		w, ok := want[id]
		if !ok {
			w = plainNumber
		}
		if got := builtinFormat(id); got != w {
			t.Errorf("builtinFormat(%d) = %d, want %d", id, got, w)
		}
	}
}
