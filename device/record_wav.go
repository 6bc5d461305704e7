package device

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/go-audio/audio"
	"github.com/go-audio/wav"
)

// Recording is a sound card's or recorder's record: one Capture a channel, all of
// the same length and spacing.
type Recording struct {
	Channels []Capture
	// FullScaleVolts is what the converter's highest sample is worth. It is 0
	// where nobody knows: then what the channels hold, Volts and the rest, are
	// shares of full scale, from -1 up to 1.
	FullScaleVolts float64
	// Bits is the depth that the samples were stored with.
	Bits int
}

// IsWAV tells by a file's first 12 bytes whether it is a WAV file.
func IsWAV(head []byte) bool {
	return len(head) >= 12 && string(head[:4]) == "RIFF" && string(head[8:12]) == "WAVE"
}

// WAVOptions says what a WAV file does not say itself.
type WAVOptions struct {
	// FullScaleVolts, if above 0, is what the converter's highest sample is worth.
	FullScaleVolts float64
	// LeaveCutEnd takes the whole samples of a file that breaks off, which
	// otherwise is an error.
	LeaveCutEnd bool
}

// Validate says what is wrong with the options.
func (o WAVOptions) Validate() error {
	if !(o.FullScaleVolts >= 0) || math.IsInf(o.FullScaleVolts, 0) {
		return fmt.Errorf("full scale %v V: wanted above 0, or 0 where it is not known", o.FullScaleVolts)
	}
	return nil
}

// maxWAVBytes bounds the memory that one file can ask for.
const maxWAVBytes = 512 << 20

// ReadWAV reads a WAV file: whole numbers of 8, 16, 24 or 32 bits or floating
// point of 32 bits, any sample rate, up to 32 channels; name stands for the file in
// errors, which are RecordError. A file that was written into a pipe does not know
// its length and goes on to its end. Each channel must have two samples or more.
//
// Full scale is 2^(bits-1) steps, or 1.0 of floating point. Capture.StepVolts is a
// step and LowVolts and HighVolts the converter's ends, but for floating point,
// which has neither.
func ReadWAV(r io.Reader, name string, opts WAVOptions) (Recording, error) {
	recording, err := readWAV(r, opts)
	if err != nil {
		return Recording{}, &RecordError{Name: name, Err: err}
	}
	return recording, nil
}

func readWAV(r io.Reader, opts WAVOptions) (Recording, error) {
	if err := opts.Validate(); err != nil {
		return Recording{}, err
	}
	file, err := io.ReadAll(io.LimitReader(r, maxWAVBytes+1))
	if err != nil {
		return Recording{}, err
	}
	if len(file) > maxWAVBytes {
		return Recording{}, fmt.Errorf("larger than %d MiB: cut the recording into pieces", maxWAVBytes>>20)
	}
	layout, err := newWAVLayout(file, opts.LeaveCutEnd)
	if err != nil {
		return Recording{}, err
	}
	samples, err := layout.decode(file)
	if err != nil {
		return Recording{}, err
	}
	return layout.recording(samples, opts.FullScaleVolts)
}

// decode has the library take the samples out. It is given a file of nothing but
// format and samples, so that broken titles or marks in the original do no harm.
func (l wavLayout) decode(file []byte) ([]int, error) {
	decoder := wav.NewDecoder(bytes.NewReader(l.plainFile(file)))
	if err := decoder.FwdToPCM(); err != nil {
		return nil, fmt.Errorf("find the samples: %w", err)
	}
	buffer := &audio.IntBuffer{Data: make([]int, l.frames*l.channels)}
	n, err := decoder.PCMBuffer(buffer)
	if err != nil {
		return nil, fmt.Errorf("read the samples: %w", err)
	}
	if n != len(buffer.Data) {
		return nil, fmt.Errorf("read the samples: %d of %d", n, len(buffer.Data))
	}
	return buffer.Data, nil
}

// recording parts the samples by channel and scales them.
func (l wavLayout) recording(samples []int, fullScaleVolts float64) (Recording, error) {
	top := 1.0
	if fullScaleVolts > 0 {
		top = fullScaleVolts
	}
	recording := Recording{FullScaleVolts: fullScaleVolts, Bits: l.bits, Channels: make([]Capture, l.channels)}
	for c := range recording.Channels {
		channel := Capture{Volts: make([]float64, l.frames), SampleIntervalSeconds: 1 / float64(l.rate)}
		if !l.float {
			channel.StepVolts = math.Ldexp(top, 1-l.bits)
			channel.LowVolts, channel.HighVolts = -top, top-channel.StepVolts
		}
		for i := range channel.Volts {
			volts := top * l.share(samples[i*l.channels+c])
			if math.IsNaN(volts) || math.IsInf(volts, 0) {
				return Recording{}, fmt.Errorf("channel %d, sample %d is not a finite number", c+1, i+1)
			}
			channel.Volts[i] = volts
		}
		recording.Channels[c] = channel
	}
	return recording, nil
}

// share is a stored sample as a share of full scale. Samples of 8 bits have no sign:
// 128 is nothing.
func (l wavLayout) share(stored int) float64 {
	switch {
	case l.float:
		return float64(math.Float32frombits(uint32(int32(stored))))
	case l.bits == 8:
		return float64(stored-128) / 128
	default:
		return math.Ldexp(float64(stored), 1-l.bits)
	}
}

// errNoWAV is in the error for a file that is something else.
var errNoWAV = errors.New("no WAV file: it does not begin with RIFF and WAVE")
