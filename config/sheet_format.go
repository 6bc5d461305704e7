package config

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"time"

	"go.yaml.in/yaml/v3"

	"soakline/checks"
	"soakline/device"
)

// FormatSheet writes a sheet as a file that ParseSheet reads back to the same
// sheet but for the hash, which is the file's own. Nothing is left to defaults. A
// sheet that a file could not hold, such as a limit without a source, is refused.
func FormatSheet(sheet checks.Sheet) ([]byte, error) {
	if err := sheet.Validate(); err != nil {
		return nil, fmt.Errorf("writing test sheet %q: %w", sheet.Name, err)
	}
	root := group{}
	root.text("name", sheet.Name)
	root.text("console", string(sheet.Console))
	root.words("video_system", sheet.VideoSystem)
	soak := group{}
	soak.span("duration", sheet.Soak.Duration)
	soak.put("evidence_at_least_pct", plain(percent(sheet.Soak.EvidenceAtLeast)))
	soak.span("longest_gap", sheet.Soak.LongestGap)
	if sheet.Soak.RemindEvery > 0 {
		soak.span("remind_every", sheet.Soak.RemindEvery)
	}
	if c := sheet.Soak.Cycles; c != nil {
		cycles := group{}
		cycles.text("test_point", string(c.TestPoint))
		cycles.put("cycles", plain(strconv.Itoa(c.Cycles)))
		cycles.span("on", c.On)
		cycles.span("off", c.Off)
		soak.put("power_cycles", cycles.node())
	}
	root.put("soak", soak.node())
	points := &yaml.Node{Kind: yaml.SequenceNode}
	for _, p := range sheet.TestPoints {
		points.Content = append(points.Content, formatTestPoint(p))
	}
	root.put("test_points", points)
	if len(sheet.Trial) > 0 {
		trial := &yaml.Node{Kind: yaml.SequenceNode}
		for _, c := range sheet.Trial {
			g := formatCriterion(c)
			trial.Content = append(trial.Content, g.node())
		}
		root.put("trial", trial)
	}
	if len(sheet.Final.Steps) > 0 {
		root.put("final", formatFinal(sheet.Final))
	}
	var out bytes.Buffer
	e := yaml.NewEncoder(&out)
	e.SetIndent(2)
	if err := e.Encode(root.node()); err != nil {
		return nil, fmt.Errorf("writing test sheet %q: %w", sheet.Name, err)
	}
	if _, err := ParseSheet(sheet.Name, out.Bytes()); err != nil {
		return nil, fmt.Errorf("writing test sheet %q: %w", sheet.Name, err)
	}
	return out.Bytes(), nil
}

// formatTestPoint always writes the checks as a list, also where there is one.
func formatTestPoint(p checks.TestPoint) *yaml.Node {
	g := group{}
	g.text("name", string(p.Name))
	g.words("about", p.About)
	g.words("connect", p.Connect)
	g.words("caution", p.Caution)
	if p.Discharge != nil {
		discharge := group{}
		discharge.figure("below_v", p.Discharge.BelowVolts)
		discharge.span("watch_for", p.Discharge.WatchFor)
		discharge.known("load_ohm", p.Discharge.LoadOhms)
		discharge.known("capacitance_f", p.Discharge.CapacitanceFarads)
		if p.Discharge.ExpectedTau != 0 {
			discharge.span("expected_tau", p.Discharge.ExpectedTau)
		}
		g.put("discharge", discharge.node())
	}
	if a := p.Audio; a != nil {
		audio := group{}
		audio.known("tone_hz", a.ToneHertz)
		audio.known("mains_hz", a.MainsHertz)
		audio.words("beside", string(a.Beside))
		if a.Beside != "" {
			audio.figure("alike_at_least_ratio", a.AlikeAtLeast)
		}
		g.put("audio", audio.node())
	}
	if p.Reservoir != nil {
		reservoir := formatReservoir(*p.Reservoir)
		g.put("reservoir", reservoir.node())
	}
	if p.Wear != nil {
		wear := formatWear(*p.Wear)
		g.put("wear", wear.node())
	}
	list := &yaml.Node{Kind: yaml.SequenceNode}
	for _, c := range p.Checks {
		list.Content = append(list.Content, formatCheck(c))
	}
	g.put("checks", list)
	return g.node()
}

// formatCheck writes every key of a check, with the measure's unit in the keys.
func formatCheck(c checks.Check) *yaml.Node {
	g := group{}
	unit := c.Measure.Unit()
	g.text("measure", string(c.Measure))
	g.put("limit", formatLimit(c.Limit, unit))
	g.span("every", c.Every)
	g.span("fresh_for", c.FreshFor)
	g.span("hold", c.Hold)
	g.figure("hysteresis"+unit.KeySuffix, c.Hysteresis)
	g.span("settle", c.Settle)
	if c.Against != (checks.Reference{}) {
		against := group{}
		against.words("test_point", string(c.Against.TestPoint))
		against.words("measure", string(c.Against.Measure))
		if c.Against.Baseline {
			against.put("baseline", plain("true"))
			against.span("baseline_for", c.Against.BaselineFor)
		}
		g.put("against", against.node())
	}
	if c.Drift != nil {
		drift := group{}
		drift.span("warm_up", c.Drift.WarmUp)
		drift.span("baseline", c.Drift.Baseline)
		drift.figure("smallest_shift"+unit.KeySuffix, c.Drift.SmallestShift)
		g.put("drift", drift.node())
	}
	return g.node()
}

// formatLimit leaves out an open end and a nominal figure that is not there.
func formatLimit(l checks.Limit, unit device.Unit) *yaml.Node {
	g, guard := group{}, group{}
	g.figure("low"+unit.KeySuffix, l.Low)
	g.figure("high"+unit.KeySuffix, l.High)
	g.figure("nominal"+unit.KeySuffix, l.Nominal)
	g.text("source", l.Source)
	guard.text("rule", string(l.Guard.Rule))
	guard.figure("ratio", l.Guard.Ratio)
	guard.figure("width"+unit.KeySuffix, l.Guard.Width)
	g.put("guard", guard.node())
	return g.node()
}

// percent spells a share so that reading it back, divided by 100, gives the same
// share: the product is at times one step off, then a neighbour is right.
func percent(share float64) string {
	p := share * 100
	for _, near := range []float64{p, math.Nextafter(p, 0), math.Nextafter(p, math.Inf(1))} {
		if near/100 == share {
			p = near
			break
		}
	}
	return strconv.FormatFloat(p, 'g', -1, 64)
}

// group is a mapping that is being written.
type group struct{ content []*yaml.Node }

func (g *group) node() *yaml.Node { return &yaml.Node{Kind: yaml.MappingNode, Content: g.content} }

func (g *group) put(key string, value *yaml.Node) { g.content = append(g.content, plain(key), value) }

// plain is a word or number that needs no quotes.
func plain(text string) *yaml.Node { return &yaml.Node{Kind: yaml.ScalarNode, Value: text} }

// text is quoted where a reader would take it for a number or a truth value.
func (g *group) text(key, text string) {
	n := &yaml.Node{}
	n.SetString(text)
	g.put(key, n)
}

// words is text for a key that is left out when there is none.
func (g *group) words(key, text string) {
	if text != "" {
		g.text(key, text)
	}
}

func (g *group) span(key string, d time.Duration) { g.put(key, plain(d.String())) }

// known is figure for a key that is 0 where it is left out.
func (g *group) known(key string, f float64) {
	if f != 0 {
		g.figure(key, f)
	}
}

// figure leaves out what is open or not given.
func (g *group) figure(key string, f float64) {
	if !math.IsNaN(f) && !math.IsInf(f, 0) {
		g.put(key, plain(strconv.FormatFloat(f, 'g', -1, 64)))
	}
}
