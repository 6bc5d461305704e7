package main

import "strings"

// glyphs are the figures that are read from two metres away, five rows each.
var glyphs = map[rune][5]string{
	'0': {" ### ", "#   #", "#   #", "#   #", " ### "},
	'1': {"  #  ", " ##  ", "  #  ", "  #  ", " ### "},
	'2': {" ### ", "#   #", "  ## ", " #   ", "#####"},
	'3': {"#### ", "    #", " ### ", "    #", "#### "},
	'4': {"#  # ", "#  # ", "#####", "   # ", "   # "},
	'5': {"#####", "#    ", "#### ", "    #", "#### "},
	'6': {" ### ", "#    ", "#### ", "#   #", " ### "},
	'7': {"#####", "    #", "   # ", "  #  ", "  #  "},
	'8': {" ### ", "#   #", " ### ", "#   #", " ### "},
	'9': {" ### ", "#   #", " ####", "    #", " ### "},
	'.': {"  ", "  ", "  ", "  ", "##"},
	'-': {"     ", "     ", "#####", "     ", "     "},
	' ': {"  ", "  ", "  ", "  ", "  "},
	'V': {"#   #", "#   #", " # # ", " # # ", "  #  "},
	'm': {"     ", "     ", "## # ", "# # #", "# # #"},
	'n': {"     ", "     ", "#### ", "#   #", "#   #"},
	'o': {"     ", "     ", " ### ", "#   #", " ### "},
	't': {" #   ", "###  ", " #   ", " #   ", "  ## "},
	'k': {"#    ", "#  # ", "###  ", "#  # ", "#   #"},
	'w': {"     ", "     ", "# # #", "# # #", " # # "},
}

// bigRows is how many rows a big figure has.
const bigRows = 5

// bigFigure writes a short text in large letters, one row a line. What has no
// large form is left out.
func bigFigure(text, ink string) string {
	var rows [bigRows]strings.Builder
	for _, r := range text {
		glyph, known := glyphs[r]
		if !known {
			continue
		}
		for i := range rows {
			rows[i].WriteString(strings.ReplaceAll(glyph[i], "#", ink))
			rows[i].WriteString("  ")
		}
	}
	var out strings.Builder
	for i := range rows {
		out.WriteString(strings.TrimRight(rows[i].String(), " "))
		out.WriteByte('\n')
	}
	return out.String()
}
