package workbook

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// role says what part a cell plays. No role rests on colour alone: each differs in weight, slope,
// border or by a word as well, so that it survives a grey print.
type role uint8

const (
	roleData        role = iota // fact out of the records
	roleInput                   // parameter a person set: blue italic in a dotted box
	roleCalculation             // worked out here: upright black
	roleControl                 // the program's own figure, held against a calculation: grey with a side rule
	roleTotal                   // bold between rules
	roleLink                    // leads elsewhere in the workbook: underlined
	roleHeader                  // head of a column
	roleOptional                // head of a column of a form that may be left empty: slanted, not bold
	roleForm                    // empty column of a form: only its format
	roleTitle                   // from here on: running text
	roleSubtitle
	roleHeading
	roleNote
)

// The palette: ink and stone, with one blue, one green and one red that differ in lightness too.
const (
	inkDark    = "22262A"
	inkSoft    = "5C6166"
	inkBlue    = "1D4E9B"
	inkGreen   = "1F5C2E"
	stonePale  = "F4F1EA"
	stoneLight = "E4DED2"
	stoneDark  = "6F675A"
	ruleHair   = "CFC8BA"
	fillGreen  = "E3EFE2"
	fillRed    = "8E1B16"
	paperWhite = "FFFFFF"
)

const fontFamily = "Arial" // found, or matched in width, on every system

const maxPlaces = 10

// Number formats. Negative figures stand in brackets and zero is a dash; a figure that only rounds to
// zero is shown as 0.000, so that a dash always means nothing.
const (
	formatTonnes  = `#,##0.000_);(#,##0.000);"–"_)`
	formatPercent = `0.00%_);(0.00%);"–"_)`
	formatInteger = `#,##0_);(#,##0);"–"_)`
	formatDate    = "yyyy-mm-dd"
	formatInstant = "yyyy-mm-dd hh:mm:ss"
	formatText    = "@" // also keeps a text that looks like a formula a text when it is edited
)

func formatNumber(places int) string {
	digits := "#,##0"
	if places > 0 {
		digits += "." + strings.Repeat("0", places)
	}
	return digits + "_);(" + digits + `);"–"_)`
}

// styleKey names a cell style. Two cells of one key share one style of the file.
type styleKey struct {
	role    role
	kind    kind
	places  int
	formula bool
	wrap    bool
}

// style returns the look of a cell of the column. What a formula works out is no input, even among inputs.
func (c column) style(k kind, places int, formula bool) styleKey {
	key := styleKey{role: c.role, kind: k, places: places, formula: formula, wrap: c.wrap}
	if formula && c.role == roleInput {
		key.role = roleCalculation
	}
	return key
}

// styles registers cell styles with a file, each once.
type styles struct {
	file     *excelize.File
	ids      map[styleKey]int
	overlays map[overlay]int
}

func newStyles(f *excelize.File) *styles {
	return &styles{file: f, ids: make(map[styleKey]int), overlays: make(map[overlay]int)}
}

// id returns the file's number for a style.
func (s *styles) id(k styleKey) (int, error) {
	if k.kind != kindNumber {
		k.places = 0
	}
	if id, ok := s.ids[k]; ok {
		return id, nil
	}
	id, err := s.file.NewStyle(k.style())
	if err != nil {
		return 0, fmt.Errorf("style: %w", err)
	}
	s.ids[k] = id
	return id, nil
}

func (k styleKey) style() *excelize.Style {
	st := &excelize.Style{
		Font:      &excelize.Font{Family: fontFamily, Size: 10, Color: inkDark},
		Alignment: &excelize.Alignment{Vertical: "top", Horizontal: k.align(), WrapText: k.wrap},
	}
	if format := k.format(); format != "" {
		st.CustomNumFmt = &format
	}
	if k.role == roleForm {
		st.Alignment = nil // as the application aligns what is typed
	} else if k.align() == "left" && k.role < roleTitle {
		st.Alignment.Indent = 1 // keeps words off the figures to their left
	}
	k.decorate(st)
	return st
}

// format returns the number format. A cell with a formula never gets the text format: edited there, the
// formula would turn into a text. The head of a column is text, whatever stands below it.
func (k styleKey) format() string {
	if k.role == roleHeader || k.role == roleOptional {
		return formatText // exactly: the library takes the names of a table's columns from the heads as shown
	}
	switch k.kind {
	case kindText:
		if !k.formula {
			return formatText
		}
	case kindTonnes:
		return formatTonnes
	case kindNumber:
		return formatNumber(k.places)
	case kindPercent:
		return formatPercent
	case kindDate:
		return formatDate
	case kindInstant:
		return formatInstant
	case kindInteger:
		return formatInteger
	}
	return ""
}

func (k styleKey) align() string {
	switch k.kind {
	case kindTonnes, kindNumber, kindPercent, kindInteger:
		return "right"
	case kindDate, kindInstant, kindBool, kindCheck:
		return "center"
	}
	return "left"
}

func (k styleKey) decorate(st *excelize.Style) {
	font := st.Font
	switch k.role {
	case roleTitle:
		font.Size, font.Bold = 16, true
	case roleSubtitle:
		font.Color = inkSoft
	case roleHeading:
		font.Size, font.Bold = 12, true
	case roleNote:
		font.Size, font.Italic, font.Color = 9, true, inkSoft
	case roleHeader, roleOptional:
		font.Bold, font.Italic = k.role == roleHeader, k.role == roleOptional
		st.Alignment.WrapText, st.Alignment.Vertical = true, "center"
		st.Fill = solid(stoneLight)
		st.Border = []excelize.Border{rule("top", lineThin, stoneDark), rule("bottom", lineMedium, stoneDark)}
	case roleTotal:
		font.Bold = true
		st.Fill = solid(stonePale)
		st.Border = []excelize.Border{rule("top", lineThin, stoneDark), rule("bottom", lineDouble, stoneDark)}
	case roleInput:
		font.Color, font.Italic = inkBlue, true
		st.Border = []excelize.Border{rule("left", lineDotted, inkBlue), rule("right", lineDotted, inkBlue),
			rule("top", lineDotted, inkBlue), rule("bottom", lineDotted, inkBlue)}
	case roleControl:
		font.Color = inkSoft
		st.Fill = solid(stonePale)
		st.Border = []excelize.Border{rule("left", lineMedium, stoneDark), rule("bottom", lineThin, ruleHair)}
	case roleLink:
		font.Underline = "single"
		st.Border = []excelize.Border{rule("bottom", lineThin, ruleHair)}
	case roleData, roleCalculation:
		st.Border = []excelize.Border{rule("bottom", lineThin, ruleHair)}
	}
}

// Border lines as the file format numbers them (ECMA-376 Part 1, 18.18.3).
const (
	lineThin   = 1
	lineMedium = 2
	lineDotted = 4
	lineDouble = 6
)

func rule(side string, line int, colour string) excelize.Border {
	return excelize.Border{Type: side, Style: line, Color: colour}
}

func solid(colour string) excelize.Fill {
	return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{colour}}
}

// overlay is a look that a conditional format lays over cells, by the word they hold.
type overlay uint8

const (
	overlayAlarm overlay = iota + 1 // calls for attention
	overlayCalm                     // is well
)

// over returns the file's number for an overlay.
func (s *styles) over(o overlay) (int, error) {
	if id, ok := s.overlays[o]; ok {
		return id, nil
	}
	style := &excelize.Style{Font: &excelize.Font{Color: inkGreen}, Fill: solid(fillGreen)}
	if o == overlayAlarm {
		style = &excelize.Style{Font: &excelize.Font{Bold: true, Color: paperWhite}, Fill: solid(fillRed)}
	}
	id, err := s.file.NewConditionalStyle(style)
	if err != nil {
		return 0, fmt.Errorf("style: %w", err)
	}
	s.overlays[o] = id
	return id, nil
}
