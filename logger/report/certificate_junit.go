package report

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"soakline/checks"
)

// junitSuites is the certificate as a build server reads test results: the elements
// and attributes of JUnit XML, which no standard fixes, as its readers agree on them.
// They know failed, broken, skipped, and take all else for passed; so what is
// undecided, a skipped step too, is written as broken (error).
type junitSuites struct {
	XMLName xml.Name `xml:"testsuites"`
	Name    string   `xml:"name,attr"`
	junitCount
	Suites []junitSuite `xml:"testsuite"`
}

// junitSuite is a part of the certificate.
type junitSuite struct {
	Name string `xml:"name,attr"`
	junitCount
	// Seconds is how long the part took, Begin when it began, in UTC without saying so.
	Seconds    string          `xml:"time,attr"`
	Begin      string          `xml:"timestamp,attr"`
	Host       string          `xml:"hostname,attr"`
	Properties []junitProperty `xml:"properties>property"`
	Cases      []junitCase     `xml:"testcase"`
}

// junitCount counts test cases by how they ended.
type junitCount struct {
	Tests    int `xml:"tests,attr"`
	Failures int `xml:"failures,attr"`
	Errors   int `xml:"errors,attr"`
	Skipped  int `xml:"skipped,attr"`
}

type junitProperty struct {
	Name  string `xml:"name,attr"`
	Value string `xml:"value,attr"`
}

type junitCase struct {
	Class   string      `xml:"classname,attr"`
	Name    string      `xml:"name,attr"`
	Seconds string      `xml:"time,attr"`
	Failure *junitFault `xml:"failure"`
	Error   *junitFault `xml:"error"`
	Out     string      `xml:"system-out,omitempty"`
}

type junitFault struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr"`
	Text    string `xml:",chardata"`
}

// JUnit writes the verdict as test results for a build server: a suite for the
// verdict, one for the final test's steps and one for the soak's checks.
func (c Certificate) JUnit(w io.Writer) error {
	all := junitSuites{Name: string(c.Unit)}
	all.add(c.junitVerdict())
	if c.Final != nil {
		all.add(c.junitFinal())
	}
	if c.Soak != nil {
		all.add(c.junitSoak())
	}
	if _, err := io.WriteString(w, xml.Header); err != nil {
		return fmt.Errorf("write the XML: %w", err)
	}
	encoder := xml.NewEncoder(w)
	encoder.Indent("", "  ")
	if err := encoder.Encode(all); err != nil {
		return fmt.Errorf("write the XML: %w", err)
	}
	_, err := io.WriteString(w, "\n")
	return err
}

// add takes a suite in and counts its cases.
func (s *junitSuites) add(suite junitSuite) {
	for _, c := range suite.Cases {
		suite.Tests++
		switch {
		case c.Failure != nil:
			suite.Failures++
		case c.Error != nil:
			suite.Errors++
		}
	}
	s.Tests += suite.Tests
	s.Failures += suite.Failures
	s.Errors += suite.Errors
	s.Suites = append(s.Suites, suite)
}

// junitVerdict is what the unit leaves with. It is a case of its own, since a verdict
// can fail to be a pass for reasons that lie in no single step.
func (c Certificate) junitVerdict() junitSuite {
	suite := c.junitSuite("verdict", c.Given, 0)
	suite.Properties = []junitProperty{
		{"unit", c.Unit}, {"console", c.Console}, {"bench", c.Bench},
		{"sheet", c.Sheet.Name}, {"sheet-sha256", c.Sheet.Hash},
		{"chain-position", strconv.FormatInt(c.Chain.Position, 10)}, {"chain-hash", c.Chain.Hash},
		{"identity", c.Identity}, {"program", c.Program},
	}
	suite.Cases = []junitCase{c.junitCase("verdict", c.Outcome, append(c.Reasons, c.Remarks...), c.Statement)}
	return suite
}

func (c Certificate) junitFinal() junitSuite {
	var took time.Duration
	if c.Final.End != nil {
		took = c.Final.End.Sub(c.Final.Begin)
	}
	suite := c.junitSuite("final test "+strconv.FormatInt(c.Final.Number, 10), c.Final.Begin, took)
	for _, step := range c.Final.Steps {
		var why, said []string
		for _, r := range step.Reasons {
			why = append(why, reasonText(checks.StepReason{Text: r.Text, Causes: r.Causes}))
		}
		if step.Said != "" {
			said = append(said, step.Said)
		}
		for _, f := range step.Figures {
			said = append(said, fmt.Sprintf("%s %s: %s, limit %s", f.TestPoint, f.Measure, f.Figure.Text, f.Limit.Text))
		}
		suite.Cases = append(suite.Cases, c.junitCase(step.Step, step.Outcome, why, said))
	}
	return suite
}

func (c Certificate) junitSoak() junitSuite {
	suite := c.junitSuite("soak "+strconv.FormatInt(c.Soak.Number, 10), c.Soak.Begin, c.Soak.End.Sub(c.Soak.Begin))
	for _, part := range c.Checks {
		suite.Cases = append(suite.Cases, c.junitCase(part.TestPoint+" "+part.Measure, part.Outcome, part.junitWhy(), part.junitFigures()))
	}
	return suite
}

// junitWhy says what kept a check from passing: what was outside, and what is missing.
func (p CheckPart) junitWhy() []string {
	var why []string
	for _, e := range p.Excursions {
		why = append(why, fmt.Sprintf("%s at %s, from %s, worst %s", e.State, e.Edge, e.From.UTC().Format(time.RFC3339), e.Worst.Text))
	}
	for _, gap := range p.Gaps {
		why = append(why, fmt.Sprintf("no reading from %s for %s: %s", gap.From.UTC().Format(time.RFC3339), gap.To.Sub(gap.From).Round(time.Second), gap.Cause))
	}
	return why
}

func (p CheckPart) junitFigures() []string {
	figures := []string{"limit " + p.Limit.Text}
	for _, f := range []struct{ name, text string }{{"lowest", p.Low.Text}, {"mean", p.Mean.Text}, {"highest", p.High.Text}} {
		if f.text != "" {
			figures = append(figures, f.name+" "+f.text)
		}
	}
	return append(figures, fmt.Sprintf("%d readings cover %s of the soak", p.Readings, percentText(p.EvidenceRatio)))
}

func (c Certificate) junitSuite(name string, begin time.Time, took time.Duration) junitSuite {
	return junitSuite{Name: name, Seconds: junitSeconds(took), Begin: begin.UTC().Format("2006-01-02T15:04:05"), Host: c.Bench}
}

// junitCase is a test case. Why is told where it did not pass, the rest always.
func (c Certificate) junitCase(name string, outcome checks.Outcome, why, rest []string) junitCase {
	one := junitCase{Class: strings.TrimSpace(c.Console + " " + c.Unit), Name: name, Seconds: junitSeconds(0), Out: strings.Join(rest, "\n")}
	if outcome == checks.Pass {
		return one
	}
	fault := &junitFault{Message: string(outcome), Type: string(outcome), Text: strings.Join(why, "\n")}
	if len(why) > 0 {
		fault.Message = why[0]
	}
	if outcome == checks.Fail {
		one.Failure = fault
	} else {
		one.Error = fault
	}
	return one
}

// junitSeconds writes a duration as its readers want it, to the millisecond.
func junitSeconds(d time.Duration) string {
	return strconv.FormatFloat(math.Max(0, d.Seconds()), 'f', 3, 64)
}
