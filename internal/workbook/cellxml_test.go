package workbook

import (
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestAppendContent(t *testing.T) {
	at := time.Date(2026, 10, 31, 12, 0, 0, 0, time.UTC)
	for name, test := range map[string]struct {
		value value
		want  string
	}{
		"blank":          {value{}, `"/>`},
		"text":           {text("sale"), `" t="inlineStr"><is><t>sale</t></is></c>`},
		"empty text":     {text(""), `" t="inlineStr"><is><t></t></is></c>`},
		"markup":         {text(`a<b>&"c'`), `" t="inlineStr"><is><t>a&lt;b&gt;&amp;&#34;c&#39;</t></is></c>`},
		"leading blank":  {text(" a"), `" t="inlineStr"><is><t xml:space="preserve"> a</t></is></c>`},
		"trailing line":  {text("a\n"), "\" t=\"inlineStr\"><is><t xml:space=\"preserve\">a\n</t></is></c>"},
		"tab within":     {text("a\tb"), `" t="inlineStr"><is><t>a&#x9;b</t></is></c>`},
		"control":        {text("a\x00\x7f"), `" t="inlineStr"><is><t>a␀␡</t></is></c>`},
		"not UTF-8":      {text("a\xff"), "\" t=\"inlineStr\"><is><t>a\uFFFD</t></is></c>"},
		"escape":         {text("_x0041_"), `" t="inlineStr"><is><t>_x005F_x0041_</t></is></c>`},
		"surrogate":      {text("_xD800_"), `" t="inlineStr"><is><t>＿xD800_</t></is></c>`},
		"text computed":  {computed(`"a"&B1`, text(" b\n")), `" t="str"><f>&#34;a&#34;&amp;B1</f><v xml:space="preserve"> b&#xA;</v></c>`},
		"check":          {computed("1<2", check(true)), `" t="str"><f>1&lt;2</f><v>OK</v></c>`},
		"control within": {computed("\"a\x01\"", text("x")), "\" t=\"str\"><f>&#34;a\uFFFD&#34;</f><v>x</v></c>"},
		"tonnes":         {tonnes(31_757_369), `"><v>31.757369</v></c>`},
		"whole tonnes":   {tonnes(-31_000_000), `"><v>-31</v></c>`},
		"a gram":         {tonnes(-1), `"><v>-0.000001</v></c>`},
		"no tonnes":      {tonnes(0), `"><v>0</v></c>`},
		"computed":       {computed("A1+1", tonnes(2_500_000)), `"><f>A1+1</f><v>2.5</v></c>`},
		"percent":        {ratio(0.0425), `"><v>0.0425</v></c>`},
		"third":          {ratio(1.0 / 3), `"><v>0.333333333333333</v></c>`},
		"date":           {date(at), `"><v>46326</v></c>`},
		"instant":        {instant(at), `"><v>46326.5</v></c>`},
		"a second later": {instant(at.Add(time.Second)), `"><v>46326.5000115741</v></c>`},
		"integer":        {integer(-40_000), `"><v>-40000</v></c>`},
		"true":           {boolean(true), `" t="b"><v>1</v></c>`},
		"false computed": {computed("1=2", boolean(false)), `" t="b"><f>1=2</f><v>0</v></c>`},
	} {
		t.Run(name, func(t *testing.T) {
			got, err := appendContent(nil, &test.value, newClock(time.UTC))
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want, string(got)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// What cannot be written is refused in long tables as in others.
func TestAppendContentRefuses(t *testing.T) {
	for name, v := range map[string]value{"not a number": float(math.NaN()), "endless": ratio(math.Inf(-1)), "too many digits": integer(maxInteger + 1),
		"before 1900": date(time.Date(1899, 12, 31, 0, 0, 0, 0, time.UTC)), "after 9999": instant(time.Date(10_000, 1, 2, 0, 0, 0, 0, time.UTC))} {
		t.Run(name, func(t *testing.T) {
			_, want := v.content(time.UTC)
			_, got := appendContent(nil, &v, newClock(time.UTC))
			if want == nil || got == nil || got.Error() != want.Error() {
				t.Errorf("err = %v, want %v", got, want)
			}
		})
	}
}

// sound is sure where it says that a text needs no cleaning.
func TestSound(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drawText(rt, "text") + rapid.String().Draw(rt, "more")
		if sound(s) && visible(s) != s {
			rt.Fatalf("%q is cleaned to %q", s, visible(s))
		}
	})
}
