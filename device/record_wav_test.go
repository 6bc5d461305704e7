package device

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"errors"
	"math"
	"strings"
	"testing"
)

// wavFile is a WAV file of given format fields and samples; extensible ones carry
// the kind of samples behind the plain fields.
func wavFile(kind, channels, bits int, rate uint32, extensible bool, samples []byte) []byte {
	format := binary.LittleEndian.AppendUint16(nil, uint16(kind))
	if extensible {
		format = binary.LittleEndian.AppendUint16(nil, wavExtensible)
	}
	format = binary.LittleEndian.AppendUint16(format, uint16(channels))
	format = binary.LittleEndian.AppendUint32(format, rate)
	format = binary.LittleEndian.AppendUint32(format, rate*uint32(channels*bits/8))
	format = binary.LittleEndian.AppendUint16(format, uint16(channels*bits/8))
	format = binary.LittleEndian.AppendUint16(format, uint16(bits))
	if extensible {
		format = append(format, 22, 0, byte(bits), 0, 3, 0, 0, 0, byte(kind), 0)
		format = append(format, make([]byte, 14)...)
	}
	return wavOf(format, samples)
}

// wavOf puts a file together, with a part of titles between that is to be skipped.
func wavOf(format, samples []byte) []byte {
	part := func(id string, body []byte) []byte {
		out := binary.LittleEndian.AppendUint32([]byte(id), uint32(len(body)))
		out = append(out, body...)
		return append(out, make([]byte, len(body)%2)...)
	}
	body := append([]byte("WAVE"), part("fmt ", format)...)
	body = append(body, part("LIST", []byte("INFO?????"))...)
	body = append(body, part("data", samples)...)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(body))), body...)
}

func TestReadWAVDepths(t *testing.T) {
	floats := binary.LittleEndian.AppendUint32(nil, math.Float32bits(0.5))
	floats = binary.LittleEndian.AppendUint32(floats, math.Float32bits(-1.25))
	tests := []struct {
		name        string
		kind, bits  int
		samples     []byte
		first, last float64 // shares of full scale
		step        float64
	}{
		{"8 bits have no sign", wavWhole, 8, []byte{192, 0}, 0.5, -1, 1.0 / 128},
		{"16 bits", wavWhole, 16, []byte{0, 0x40, 0, 0x80}, 0.5, -1, 1.0 / 32768},
		{"24 bits", wavWhole, 24, []byte{0, 0, 0x40, 0, 0, 0x80}, 0.5, -1, math.Ldexp(1, -23)},
		{"32 bits", wavWhole, 32, []byte{0, 0, 0, 0x40, 0, 0, 0, 0x80}, 0.5, -1, math.Ldexp(1, -31)},
		{"floating point", wavFloat, 32, floats, 0.5, -1.25, 0},
	}
	for _, tt := range tests {
		for _, extensible := range []bool{false, true} {
			t.Run(tt.name, func(t *testing.T) {
				file := wavFile(tt.kind, 1, tt.bits, 44100, extensible, tt.samples)
				got, err := ReadWAV(bytes.NewReader(file), "tone.wav", WAVOptions{})
				if err != nil {
					t.Fatal(err)
				}
				c := got.Channels[0]
				if len(got.Channels) != 1 || got.FullScaleVolts != 0 || got.Bits != tt.bits || len(c.Volts) != 2 {
					t.Fatalf("%+v", got)
				}
				if c.Volts[0] != tt.first || c.Volts[1] != tt.last || c.StepVolts != tt.step {
					t.Errorf("%v, step %v, want %v and %v, step %v", c.Volts, c.StepVolts, tt.first, tt.last, tt.step)
				}
				if c.SampleIntervalSeconds != 1.0/44100 {
					t.Errorf("interval %v", c.SampleIntervalSeconds)
				}
				got, err = ReadWAV(bytes.NewReader(file), "tone.wav", WAVOptions{FullScaleVolts: 2})
				if err != nil || got.Channels[0].Volts[0] != 2*tt.first || got.Channels[0].StepVolts != 2*tt.step {
					t.Errorf("2 V full scale: %+v, %v", got, err)
				}
			})
		}
	}
}

func TestReadWAVChannels(t *testing.T) {
	got, err := ReadWAV(bytes.NewReader(wavFile(wavWhole, 2, 8, 8000, false, []byte{128, 0, 192, 64, 64, 192})), "s.wav", WAVOptions{})
	if err != nil || len(got.Channels) != 2 {
		t.Fatalf("%+v, %v", got, err)
	}
	for i, want := range [][]float64{{0, 0.5, -0.5}, {-1, -0.5, 0.5}} {
		for k, v := range got.Channels[i].Volts {
			if v != want[k] {
				t.Errorf("channel %d: %v, want %v", i+1, got.Channels[i].Volts, want)
			}
		}
	}
}

func TestReadWAVRefuses(t *testing.T) {
	good := wavFile(wavWhole, 2, 16, 48000, false, make([]byte, 400))
	patch := func(at int, b ...byte) []byte {
		out := bytes.Clone(good)
		copy(out[at:], b)
		return out
	}
	tests := []struct {
		name string
		file []byte
		opts WAVOptions
		want string
	}{
		{"empty", nil, WAVOptions{}, "no WAV file"},
		{"text", []byte("time_s,value\n0,1\n1,2\n"), WAVOptions{}, "no WAV file"},
		{"head only", good[:12], WAVOptions{}, "breaks off before it says how"},
		{"in the format", good[:24], WAVOptions{}, `breaks off in its part "fmt "`},
		{"before the samples", good[:54], WAVOptions{}, "breaks off"},
		{"in the samples", good[:len(good)-201], WAVOptions{}, "the file breaks off after 49 of 100 samples"},
		{"one sample", wavFile(wavWhole, 1, 16, 48000, false, []byte{0, 0}), WAVOptions{}, "1 samples: a record has two"},
		{"no samples", wavFile(wavWhole, 1, 16, 48000, false, nil), WAVOptions{}, "0 samples"},
		{"half a sample", wavFile(wavWhole, 2, 16, 48000, false, make([]byte, 10)), WAVOptions{}, "within a sample, after 2 whole ones"},
		{"compressed", wavFile(0x55, 1, 16, 48000, false, make([]byte, 8)), WAVOptions{}, "compressed (format 0x55)"},
		{"64 bit floats", wavFile(wavFloat, 1, 64, 48000, false, make([]byte, 32)), WAVOptions{}, "samples of 64 bits floating point"},
		{"12 bits", wavFile(wavWhole, 1, 12, 48000, false, make([]byte, 8)), WAVOptions{}, "samples of 12 bits: wanted"},
		{"no channels", patch(22, 0, 0), WAVOptions{}, "0 channels"},
		{"too many channels", patch(22, 255, 255), WAVOptions{}, "65535 channels"},
		{"no rate", patch(24, 0, 0, 0, 0), WAVOptions{}, "the sample rate is 0"},
		{"mono that says stereo", patch(32, 2, 0), WAVOptions{}, "2 bytes for a sample of every channel, but 2 channels of 16 bits take 4"},
		{"huge format", patch(16, 255, 255, 255, 255), WAVOptions{}, "breaks off in its part"},
		{"not a number", wavFile(wavFloat, 1, 32, 48000, false, []byte{0, 0, 0xc0, 0x7f, 0, 0, 0, 0}), WAVOptions{}, "channel 1, sample 1 is not a finite number"},
		{"bad full scale", good, WAVOptions{FullScaleVolts: math.NaN()}, "full scale NaN V"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := ReadWAV(bytes.NewReader(tt.file), "tone.wav", tt.opts)
			if err == nil {
				t.Fatalf("read as %d channels", len(got.Channels))
			}
			if !strings.Contains(err.Error(), tt.want) || !strings.HasPrefix(err.Error(), "tone.wav") {
				t.Errorf("%q does not say %q", err, tt.want)
			}
			if _, ok := errors.AsType[*RecordError](err); !ok {
				t.Errorf("%T is no RecordError", err)
			}
		})
	}
}

func TestReadWAVCutAndOpenEnded(t *testing.T) {
	good := wavFile(wavWhole, 2, 16, 48000, false, make([]byte, 400))
	got, err := ReadWAV(bytes.NewReader(good[:len(good)-201]), "cut.wav", WAVOptions{LeaveCutEnd: true})
	if err != nil || len(got.Channels[0].Volts) != 49 {
		t.Errorf("cut: %v", err)
	}
	at := bytes.Index(good, []byte("data")) + 4
	copy(good[at:], []byte{0, 0xf0, 0xff, 0x7f}) // as a program that writes into a pipe leaves it
	got, err = ReadWAV(bytes.NewReader(good), "pipe.wav", WAVOptions{})
	if err != nil || len(got.Channels[0].Volts) != 100 {
		t.Errorf("open-ended: %v", err)
	}
}

func TestReadRecordingTellsByContent(t *testing.T) {
	file := wavFile(wavWhole, 2, 16, 48000, false, make([]byte, 400))
	var zipped bytes.Buffer
	w := gzip.NewWriter(&zipped)
	_, _ = w.Write(file)
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	text := "t,left,right\n0,1,10\n1,2,20\n"
	for _, tt := range []struct {
		name     string
		file     string
		columns  []int
		channels int
		last     float64
		full     float64
	}{
		{"WAV", string(file), nil, 2, 0, 0}, {"WAV, gzipped", zipped.String(), nil, 2, 0, 0},
		{"text", text, nil, 1, 2, 1}, {"text of two", text, []int{2, 3}, 2, 20, 1},
	} {
		got, err := ReadRecording(strings.NewReader(tt.file), "x", WAVOptions{}, RecordOptions{}, tt.columns...)
		if err != nil || len(got.Channels) != tt.channels || got.FullScaleVolts != tt.full {
			t.Fatalf("%s: %+v, %v", tt.name, got, err)
		}
		v := got.Channels[tt.channels-1].Volts
		if v[len(v)-1] != tt.last {
			t.Errorf("%s: %v", tt.name, v)
		}
	}
	if _, err := ReadRecording(strings.NewReader(text), "x", WAVOptions{}, RecordOptions{}, 2, 9); err == nil {
		t.Error("a column that is not there was read")
	}
	if _, err := ReadRecording(strings.NewReader("RIFF"), "x", WAVOptions{}, RecordOptions{}); err == nil {
		t.Error("four letters were read")
	}
}

// FuzzReadWAV holds that whatever the file is, reading it ends in channels of equal
// length with finite samples or in a RecordError.
func FuzzReadWAV(f *testing.F) {
	good := wavFile(wavWhole, 2, 16, 48000, false, make([]byte, 40))
	f.Add(good, 0.0, false)
	f.Add(good[:len(good)-3], 1.0, true)
	f.Add(wavFile(wavFloat, 1, 32, 8000, true, make([]byte, 16)), 2.0, false)
	f.Add(wavFile(wavWhole, 1, 24, 1, false, make([]byte, 7)), 0.0, true)
	f.Fuzz(func(t *testing.T, file []byte, full float64, leave bool) {
		got, err := ReadWAV(bytes.NewReader(file), "fuzz.wav", WAVOptions{FullScaleVolts: full, LeaveCutEnd: leave})
		if err != nil {
			if _, ok := errors.AsType[*RecordError](err); !ok {
				t.Fatalf("%T: %v", err, err)
			}
			return
		}
		for _, c := range got.Channels {
			if len(c.Volts) < 2 || len(c.Volts) != len(got.Channels[0].Volts) || !(c.SampleIntervalSeconds > 0) {
				t.Fatalf("%d samples every %v s", len(c.Volts), c.SampleIntervalSeconds)
			}
			for _, v := range c.Volts {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("sample %v", v)
				}
			}
		}
	})
}
