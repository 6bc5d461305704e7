package main

import (
	"fmt"
	"strings"
	"unicode"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// pageName is the name of a command's man page: soakline-soak-begin.
func pageName(cmd *cobra.Command) string {
	return strings.ReplaceAll(cmd.CommandPath(), " ", "-")
}

// manPage is a command's manual page in the man macros of troff (man-pages(7),
// groff_man(7)). It carries no date: the same program gives the same page.
func manPage(cmd *cobra.Command) string {
	var page strings.Builder
	fmt.Fprintf(&page, ".TH %s 1 \"\" \"%s\" \"User commands\"\n", quoted(strings.ToUpper(pageName(cmd))), troff(program()))
	fmt.Fprintf(&page, ".SH NAME\n%s \\- %s\n", troff(pageName(cmd)), troff(cmd.Short))
	fmt.Fprintf(&page, ".SH SYNOPSIS\n.B %s\n", troff(cmd.UseLine()))
	description := cmd.Long
	if description == "" {
		description = cmd.Short + "."
	}
	fmt.Fprintf(&page, ".SH DESCRIPTION\n%s", paragraphs(description))
	manOptions(&page, "OPTIONS", cmd.NonInheritedFlags())
	manOptions(&page, "OPTIONS OF EVERY COMMAND", cmd.InheritedFlags())
	if cmd.Example != "" {
		fmt.Fprintf(&page, ".SH EXAMPLE\n.nf\n%s.fi\n", lines(cmd.Example))
	}
	page.WriteString(exitStatus)
	manRelated(&page, cmd)
	return page.String()
}

// exitStatus says what the exit codes mean; see exit.go.
const exitStatus = `.SH EXIT STATUS
0 done, or the verdict is pass; 1 the verdict is fail; 2 wrong usage or
configuration; 3 undecided; 4 port or file trouble.
`

func manOptions(page *strings.Builder, heading string, flags *pflag.FlagSet) {
	if !flags.HasAvailableFlags() {
		return
	}
	fmt.Fprintf(page, ".SH %s\n", heading)
	flags.VisitAll(func(flag *pflag.Flag) {
		if flag.Hidden {
			return
		}
		value, usage := pflag.UnquoteUsage(flag)
		name := "--" + flag.Name
		if flag.Shorthand != "" {
			name = "-" + flag.Shorthand + ", " + name
		}
		fmt.Fprintf(page, ".TP\n\\fB%s\\fR", troff(name))
		if value != "" {
			fmt.Fprintf(page, " \\fI%s\\fR", troff(value))
		}
		fmt.Fprintf(page, "\n%s\n", troff(usage))
	})
}

// manRelated names the pages above and below.
func manRelated(page *strings.Builder, cmd *cobra.Command) {
	var names []string
	if cmd.HasParent() {
		names = append(names, pageName(cmd.Parent()))
	}
	for _, child := range documented(cmd) {
		names = append(names, pageName(child))
	}
	if len(names) == 0 {
		return
	}
	page.WriteString(".SH SEE ALSO\n")
	for i, name := range names {
		end := ","
		if i == len(names)-1 {
			end = ""
		}
		fmt.Fprintf(page, ".BR %s (1)%s\n", troff(name), end)
	}
}

// paragraphs are filled text, an empty line between two of them.
func paragraphs(text string) string {
	return strings.ReplaceAll(lines(text), "\n\n", "\n.PP\n")
}

// lines escapes a text line by line: one that begins with a dot or an apostrophe
// would be a request to troff.
func lines(text string) string {
	var all strings.Builder
	for line := range strings.Lines(text) {
		all.WriteString(troff(strings.TrimSuffix(line, "\n")) + "\n")
	}
	return all.String()
}

// troff escapes one line: backslashes, hyphens that are typed as such, and what is
// not ASCII (groff_char(7)).
func troff(text string) string {
	var out strings.Builder
	if strings.HasPrefix(text, ".") || strings.HasPrefix(text, "'") {
		out.WriteString(`\&`)
	}
	for _, r := range text {
		switch {
		case r == '\\':
			out.WriteString(`\e`)
		case r == '-':
			out.WriteString(`\-`)
		case r == '\n':
			out.WriteByte(' ')
		case r > unicode.MaxASCII:
			fmt.Fprintf(&out, `\[u%04X]`, r)
		default:
			out.WriteRune(r)
		}
	}
	return out.String()
}

func quoted(text string) string { return `"` + troff(text) + `"` }
