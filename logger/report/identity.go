package report

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Identity is what the code on a label says: enough to find the record in the book
// and to see whether it is still the one that was printed.
type Identity struct {
	Unit    string
	Outcome string
	// Day is the day on which the verdict was given, by the bench's clock.
	Day time.Time
	// Position and Hash are those of the verdict in the book's chain; of the hash
	// there are the first 16 digits.
	Position int64
	Hash     string
}

// identityHead begins every identity, so that a reader knows what it has read.
const identityHead = "soakline"

// String writes the identity as the code holds it: head, outcome, day, chain and at
// its end the asset number, which alone may have spaces and further bars in it.
func (i Identity) String() string {
	return strings.Join([]string{identityHead, i.Outcome, i.Day.Format(time.DateOnly), chainText(i.Position, i.Hash), i.Unit}, "|")
}

// chainText is a position in the chain and the begin of its hash.
func chainText(position int64, hash string) string {
	return fmt.Sprintf("%d:%s", position, hash[:min(16, len(hash))])
}

// ParseIdentity reads what String writes, as a scanner gives it.
func ParseIdentity(text string) (Identity, error) {
	parts := strings.SplitN(strings.TrimSpace(text), "|", 5)
	if len(parts) != 5 || parts[0] != identityHead {
		return Identity{}, fmt.Errorf("%q is not the code of a soakline label", text)
	}
	day, err := time.Parse(time.DateOnly, parts[2])
	if err != nil {
		return Identity{}, fmt.Errorf("the code of a label has the day %q: %w", parts[2], err)
	}
	number, hash, _ := strings.Cut(parts[3], ":")
	position, err := strconv.ParseInt(number, 10, 64)
	if err != nil || position < 1 || parts[4] == "" {
		return Identity{}, fmt.Errorf("the code of a label has the chain position %q and the asset number %q", parts[3], parts[4])
	}
	return Identity{Outcome: parts[1], Day: day, Position: position, Hash: hash, Unit: parts[4]}, nil
}
