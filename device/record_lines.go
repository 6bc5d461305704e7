package device

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
)

// recordText undoes gzip, told by its first two bytes, and a UTF-8 byte order
// mark, and refuses UTF-16.
func recordText(r io.Reader) (io.Reader, error) {
	text := bufio.NewReader(r)
	if head, _ := text.Peek(2); bytes.Equal(head, []byte{0x1f, 0x8b}) {
		unzipped, err := gzip.NewReader(text)
		if err != nil {
			return nil, fmt.Errorf("starts like a gzip file: %w", err)
		}
		text = bufio.NewReader(unzipped)
	}
	// A short file gives fewer bytes and an error that the first read gives again.
	head, _ := text.Peek(3)
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}), bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return nil, errors.New("the text is UTF-16: save it again as UTF-8 or plain CSV")
	case bytes.HasPrefix(head, []byte{0xef, 0xbb, 0xbf}):
		if _, err := text.Discard(3); err != nil {
			return nil, err
		}
	}
	return text, nil
}

// recordLine is one line of a record's text, without its ending.
type recordLine struct {
	text   []byte
	number int
	// ended tells that a line ending followed; a last line may lack it.
	ended bool
}

// maxRecordLine is the longest line taken; what is longer is no table.
const maxRecordLine = 64 << 10

// recordLines cuts text into lines that end in CR, LF or CR LF.
type recordLines struct {
	from     io.Reader
	buffer   []byte // filled from start to end
	start    int
	end      int
	lf, cr   int // where the next one is; -1 not looked for, end none in the buffer
	afterCR  bool
	finished error // what ended the reading
	number   int   // of the line last returned
}

func newRecordLines(from io.Reader) *recordLines {
	return &recordLines{from: from, buffer: make([]byte, 4*maxRecordLine), lf: -1, cr: -1}
}

// next returns the next line, blank ones included; its text is good until the next
// call. io.EOF when there is none.
func (l *recordLines) next() (recordLine, error) {
	for {
		if l.afterCR && l.start < l.end {
			l.afterCR = false
			if l.buffer[l.start] == '\n' {
				l.start++
			}
		}
		if at := l.ending(); at < l.end {
			l.afterCR = l.buffer[at] == '\r'
			return l.cut(at, at+1, true)
		}
		if l.finished != nil {
			if l.finished == io.EOF && l.start < l.end {
				return l.cut(l.end, l.end, false)
			}
			return recordLine{}, l.finished
		}
		if l.end-l.start > maxRecordLine {
			l.number++
			return recordLine{}, fmt.Errorf("longer than %d bytes: this is no table", maxRecordLine)
		}
		l.fill()
	}
}

// cut returns the line up to at and goes on behind it.
func (l *recordLines) cut(at, behind int, ended bool) (recordLine, error) {
	l.number++
	line := recordLine{l.buffer[l.start:at], l.number, ended}
	l.start = behind
	if bytes.IndexByte(line.text, 0) >= 0 {
		return recordLine{}, errors.New("holds a zero byte: the file is binary or UTF-16, not plain text")
	}
	return line, nil
}

// ending is where the next CR or LF is, or end. Each is looked for once per
// buffer, so that a file without the one costs no more than one without the other.
func (l *recordLines) ending() int {
	find := func(known int, what byte) int {
		if known >= l.start {
			return known
		}
		if i := bytes.IndexByte(l.buffer[l.start:l.end], what); i >= 0 {
			return l.start + i
		}
		return l.end
	}
	l.lf, l.cr = find(l.lf, '\n'), find(l.cr, '\r')
	return min(l.lf, l.cr)
}

// fill moves the open line to the front of the buffer and reads more behind it.
func (l *recordLines) fill() {
	l.end = copy(l.buffer, l.buffer[l.start:l.end])
	l.start, l.lf, l.cr = 0, -1, -1
	for range 100 {
		n, err := l.from.Read(l.buffer[l.end:])
		l.end += n
		l.finished = err
		if n > 0 || err != nil {
			return
		}
	}
	l.finished = io.ErrNoProgress
}

// The probe is what the layout of the table is found in.
const (
	probeLines = 400
	probeBytes = 64 << 10
)

// probeRecord reads the first lines, blank ones left out, and keeps their text.
func probeRecord(lines *recordLines) ([]recordLine, error) {
	var probe []recordLine
	for size := 0; len(probe) < probeLines && size < probeBytes; {
		line, err := lines.next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if len(bytes.TrimSpace(line.text)) == 0 {
			continue
		}
		size += len(line.text)
		line.text = bytes.Clone(line.text)
		probe = append(probe, line)
	}
	if len(probe) == 0 {
		return nil, &errAtLine{err: errors.New("the file is empty")}
	}
	return probe, nil
}
