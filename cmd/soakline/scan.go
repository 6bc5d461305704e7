package main

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"soakline/logger/page"
)

// symbologyIdentifier is what a scanner may be set to send first: which kind of code
// it has read (ISO/IEC 15424; value from memory).
var symbologyIdentifier = regexp.MustCompile(`^\][A-Za-z][0-9A-Za-z]`)

// assetNumbers returns what a typed or scanned text may mean, the most literal first.
// A scanner types like a keyboard, and may be set to send more than the code: control
// characters, spaces, the kind of code, or the stars that Code 39 begins and ends with.
func assetNumbers(text string) []string {
	plain := strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, text))
	bare := strings.TrimSpace(symbologyIdentifier.ReplaceAllString(plain, ""))
	core := strings.TrimFunc(bare, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	var all []string
	for _, candidate := range []string{plain, bare, core} {
		if candidate != "" && (len(all) == 0 || all[len(all)-1] != candidate) {
			all = append(all, candidate)
		}
	}
	return all
}

// findAsset returns the unit of the book that a text means: as it stands, or else
// whatever case a scanner made of it.
func findAsset(text string, units []page.UnitView) (string, bool) {
	for _, candidate := range assetNumbers(text) {
		for _, unit := range units {
			if unit.Unit == candidate {
				return unit.Unit, true
			}
		}
	}
	for _, candidate := range assetNumbers(text) {
		found := ""
		for _, unit := range units {
			if strings.EqualFold(unit.Unit, candidate) {
				if found != "" {
					return "", false // two that differ in case only: a person must say which
				}
				found = unit.Unit
			}
		}
		if found != "" {
			return found, true
		}
	}
	return "", false
}

// errNoUnit says that no asset number was given.
var errNoUnit = errors.New("--unit: say which unit, or sit at a terminal to type or scan its asset number")

// askUnit returns the unit that is meant: from the command line, or typed or scanned
// at the terminal. One that is not in the book is booked in if a person is there.
func askUnit(ctx context.Context, p *person, given string, taker finalTaker) (string, error) {
	units, err := taker.units(ctx)
	if err != nil {
		return "", err
	}
	if given == "" && !p.there {
		return "", wrongUsage(errNoUnit)
	}
	for {
		text := given
		if text == "" {
			if text, err = p.scan(ctx, "asset number, typed or scanned: "); err != nil {
				return "", err
			}
		}
		if unit, found := findAsset(text, units); found {
			return unit, nil
		}
		candidates := assetNumbers(text)
		switch {
		case len(candidates) == 0 && given != "":
			return "", wrongUsage(fmt.Errorf("--unit %q: there is no asset number in it", given))
		case len(candidates) == 0:
			continue
		case !p.there:
			unit := candidates[0]
			return "", wrongUsage(fmt.Errorf("unit %s is not in the book; book it in: soakline unit add %s --console NAME", unit, unit))
		}
		unit, err := bookIn(ctx, p, candidates[len(candidates)-1], taker)
		if err != nil || unit != "" {
			return unit, err
		}
		if given != "" {
			return "", wrongUsage(fmt.Errorf("unit %s is not in the book", candidates[0]))
		}
	}
}

// bookIn books a unit in, if the person says which console it is.
func bookIn(ctx context.Context, p *person, unit string, taker finalTaker) (string, error) {
	consoles := taker.consoles()
	fmt.Fprintf(p.out, "%s is not in the book. Which console is it?\n", unit)
	for i, console := range consoles {
		fmt.Fprintf(p.out, "  %d  %s\n", i+1, console)
	}
	for {
		answer, err := p.answer(ctx, "its number books it in, Enter alone does not: ")
		if err != nil || answer == "" {
			return "", err
		}
		n, err := strconv.Atoi(answer)
		if err != nil || n < 1 || n > len(consoles) {
			fmt.Fprintf(p.out, "%q is none of them\n", answer)
			continue
		}
		if err := taker.addUnit(ctx, page.UnitView{Unit: unit, Console: consoles[n-1]}); err != nil {
			return "", err
		}
		fmt.Fprintf(p.out, "%s is booked in as %s\n", unit, consoles[n-1])
		return unit, nil
	}
}

// scannerPause is how long after a scan what else the scanner sends may come: a
// second line end must not answer the next question.
const scannerPause = 100 * time.Millisecond

// scan is answer for what a scanner may type: a tab ends it as a line end does, and
// an empty line right behind it belongs to it.
func (p *person) scan(ctx context.Context, prompt string) (string, error) {
	restore := tabEndsLine(p.in)
	p.tabEnds.Store(true)
	defer func() { p.tabEnds.Store(false); restore() }()
	text, err := p.answer(ctx, prompt)
	if err != nil {
		return "", err
	}
	quiet := time.NewTimer(scannerPause)
	defer quiet.Stop()
	for {
		select {
		case line, ok := <-p.lines:
			if !ok {
				return text, nil
			}
			if rest := strings.TrimSpace(line); rest != "" && text == "" {
				text = rest
			}
		case <-quiet.C:
			return text, nil
		case <-ctx.Done():
			return "", ctx.Err()
		}
	}
}
