package audio

import (
	"fmt"
	"math"
	"sync"

	"soakline/checks"
)

// analysis is what is known while one record is looked at.
type analysis struct {
	record  Record
	options Options
	result  Result
}

// channelAnalysis is the same of one of its channels.
type channelAnalysis struct {
	channel   Channel
	dt        float64
	options   Options
	mean      float64 // of the samples
	low, high float64 // their ends
	spectrum  Spectrum
	tone      line
	humLines  []line
	result    ChannelResult
}

// leastSamples is the least that a spectrum is made of.
const leastSamples = 64

// Analyse measures a record and says what the figures mean. It returns an error, in
// which is ErrRecord, only for a record that can't be looked at: empty, one sample,
// not a number, no interval, channels of different length. A record of silence is no
// error: a finding says so.
func Analyse(record Record, options Options) (Result, error) {
	if err := record.check(); err != nil {
		return Result{}, fmt.Errorf("analyse audio: %w", err)
	}
	if err := options.check(); err != nil {
		return Result{}, fmt.Errorf("analyse audio: %w", err)
	}
	samples := len(record.Channels[0].Volts)
	a := analysis{record: record, options: options, result: Result{
		Channels: make([]ChannelResult, len(record.Channels)), Balance: newBalance(),
		SampleHertz: 1 / record.SampleIntervalSeconds, Seconds: float64(samples) * record.SampleIntervalSeconds,
		NoiseBandHertz: math.NaN(), Relative: record.Relative, State: checks.Within,
	}}
	var all sync.WaitGroup
	for i, channel := range record.Channels {
		all.Go(func() { a.result.Channels[i] = a.analyseChannel(channel) })
	}
	all.Wait()
	if samples >= leastSamples {
		c := channelAnalysis{dt: record.SampleIntervalSeconds}
		a.result.NoiseBandHertz = c.top()
	}
	a.measureBalance()
	a.diagnose()
	return a.result, nil
}

// analyseChannel fills in all figures of one channel.
func (a *analysis) analyseChannel(channel Channel) ChannelResult {
	c := channelAnalysis{channel: channel, dt: a.record.SampleIntervalSeconds, options: a.options, result: newChannelResult(channel.Name)}
	c.result.StepVolts = channel.StepVolts
	c.measureLevel()
	c.countClipped()
	if len(channel.Volts) < leastSamples || c.high == c.low {
		return c.result
	}
	c.spectrum = newSpectrum(channel.Volts, c.mean, c.dt)
	c.result.Spectrum = c.spectrum
	c.findHum()
	c.findTone()
	c.measureHum()
	c.measureNoise()
	c.measureDistortion()
	c.findDisturbances()
	return c.result
}
