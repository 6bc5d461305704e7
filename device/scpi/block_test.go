package scpi

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

// The examples are S-41, derived from IEEE 488.2, 8.7.9, and one of a public
// module's manual (#232).
var blockExamples = []struct {
	message string
	length  int
	rest    string
}{
	{"#15HELLO\n", 5, "\n"},
	{"#3004ABCD,1", 4, ",1"},
	{"#42000" + strings.Repeat("\n", 2000), 2000, ""},
	{"#10", 0, ""},
	{"#232" + strings.Repeat("x", 32), 32, ""},
	{"#9000000001A", 1, ""},
}

func TestBlocks(t *testing.T) {
	for _, c := range blockExamples {
		data, rest, err := ParseBlock([]byte(c.message))
		if err != nil || len(data) != c.length || string(rest) != c.rest {
			t.Errorf("%.12q: %d bytes, rest %q, %v", c.message, len(data), rest, err)
		}
		stream := iotest.OneByteReader(strings.NewReader(c.message))
		read, err := ReadBlock(stream, 2000)
		left, _ := io.ReadAll(stream)
		if err != nil || !bytes.Equal(read, data) || string(left) != c.rest {
			t.Errorf("%.12q from a stream: %d bytes, left %q, %v", c.message, len(read), left, err)
		}
	}
	if data, rest, err := ParseBlock([]byte("#0A\nB")); err != nil || string(data) != "A\nB" || len(rest) != 0 {
		t.Errorf("S-42, indefinite: %q, %q, %v", data, rest, err)
	}
}

func TestBadBlocks(t *testing.T) {
	for _, message := range []string{"", "#", "15HELLO", "#A5HELLO", "#H1F", "#1", "#15HELL", "#2x5HELLO", "#2-5HELLO", "#299"} {
		if _, _, err := ParseBlock([]byte(message)); !errors.Is(err, ErrBadBlock) {
			t.Errorf("%q: %v", message, err)
		}
	}
}

func TestReadBlockFaults(t *testing.T) {
	broken := errors.New("cable")
	for _, c := range []struct {
		name   string
		stream io.Reader
		want   error
	}{
		{"nothing", strings.NewReader(""), io.EOF},
		{"no header", strings.NewReader("+1.5\n"), ErrBadBlock},
		{"non-decimal number", strings.NewReader("#H1F\n"), ErrBadBlock},
		{"no digit", strings.NewReader("#2 5HELLO"), ErrBadBlock},
		{"indefinite, S-43", strings.NewReader("#0HELLO\n"), ErrIndefiniteBlock},
		{"one byte above the limit", strings.NewReader("#3101" + strings.Repeat("x", 101)), ErrBlockTooLong},
		{"a lie of a gigabyte", strings.NewReader("#9999999999"), ErrBlockTooLong},
		{"ends in the length", strings.NewReader("#3"), io.ErrUnexpectedEOF},
		{"ends in the data", strings.NewReader("#15HE"), io.ErrUnexpectedEOF},
		{"ends before the data", strings.NewReader("#15"), io.ErrUnexpectedEOF},
		{"breaks in the data", io.MultiReader(strings.NewReader("#15HE"), iotest.ErrReader(broken)), broken},
	} {
		if data, err := ReadBlock(c.stream, 100); !errors.Is(err, c.want) || data != nil {
			t.Errorf("%s: %q, %v, want %v", c.name, data, err, c.want)
		}
	}
	if data, err := ReadBlock(strings.NewReader("#3100"+strings.Repeat("x", 100)), 100); err != nil || len(data) != 100 {
		t.Errorf("exactly the limit: %d bytes, %v", len(data), err)
	}
}

func FuzzBlock(f *testing.F) {
	for _, c := range blockExamples {
		f.Add([]byte(c.message))
	}
	f.Add([]byte("#0ABC"))
	f.Fuzz(func(t *testing.T, message []byte) {
		data, rest, parseErr := ParseBlock(message)
		read, readErr := ReadBlock(bytes.NewReader(message), 1<<16)
		if readErr == nil && (parseErr != nil || !bytes.Equal(data, read)) {
			t.Fatalf("%q: read %q, parsed %q, %v", message, read, data, parseErr)
		}
		if parseErr == nil && len(data)+len(rest) > len(message)-2 {
			t.Fatalf("%q: %d and %d bytes", message, len(data), len(rest))
		}
	})
}
