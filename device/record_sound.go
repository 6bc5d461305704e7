package device

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
)

// ReadRecording reads a record of one channel or more, told by content: a WAV file,
// gzipped or not, as ReadWAV takes it, or text as ReadRecord takes it. Text is read
// once for every column in columns, each of which is a channel; without any it is
// the one that text.ValueColumn or text.ValueName says. What a text holds is volts:
// its FullScaleVolts is 1.
func ReadRecording(r io.Reader, name string, sound WAVOptions, text RecordOptions, columns ...int) (Recording, error) {
	plain, err := recordText(r)
	if err != nil {
		return Recording{}, &RecordError{Name: name, Err: err}
	}
	buffered := bufio.NewReader(plain)
	// A short file gives fewer bytes and an error that the first read gives again.
	if head, _ := buffered.Peek(12); IsWAV(head) {
		return ReadWAV(buffered, name, sound)
	}
	if len(columns) == 0 {
		capture, err := ReadRecord(buffered, name, text)
		if err != nil {
			return Recording{}, err
		}
		return Recording{Channels: []Capture{capture}, FullScaleVolts: 1}, nil
	}
	return readColumns(buffered, name, text, columns)
}

// readColumns reads a text once for every column.
func readColumns(r io.Reader, name string, opts RecordOptions, columns []int) (Recording, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxWAVBytes+1))
	if err != nil {
		return Recording{}, &RecordError{Name: name, Err: err}
	}
	if len(text) > maxWAVBytes {
		return Recording{}, &RecordError{Name: name, Err: fmt.Errorf("larger than %d MiB: cut the record into pieces", maxWAVBytes>>20)}
	}
	recording := Recording{FullScaleVolts: 1}
	opts.ValueName = ""
	for _, column := range columns {
		opts.ValueColumn = column
		capture, err := ReadRecord(bytes.NewReader(text), name, opts)
		if err != nil {
			return Recording{}, err
		}
		recording.Channels = append(recording.Channels, capture)
	}
	return recording, nil
}
