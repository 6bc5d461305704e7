package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"soakline/logger/book"
)

// chainLinkView is the newest link of the chain of verdicts and excursions.
type chainLinkView struct {
	Position int64     `json:"position"`
	Hash     string    `json:"hash"`
	At       time.Time `json:"at"`
}

func viewChainLink(l book.ChainLink) *chainLinkView {
	if l.Position == 0 {
		return nil
	}
	return &chainLinkView{Position: l.Position, Hash: l.Hash, At: l.At}
}

func (v *chainLinkView) inWords() string {
	if v == nil {
		return "; no verdict and no excursion is in it"
	}
	return fmt.Sprintf("; its chain has %d links and ends with %.16s", v.Position, v.Hash)
}

// checkChain returns the newest link, and what is wrong if the book has another
// link than was printed elsewhere (empty for nothing printed).
func checkChain(ctx context.Context, b *book.Book, printed string) (head book.ChainLink, wrong []book.Problem, err error) {
	head, err = b.ChainHead(ctx)
	if err != nil && !errors.Is(err, book.ErrNotFound) {
		return head, nil, err
	}
	if printed == "" {
		return head, nil, nil
	}
	number, hash, _ := strings.Cut(printed, ":")
	position, err := strconv.ParseInt(strings.TrimSpace(number), 10, 64)
	if hash = strings.ToLower(strings.TrimSpace(hash)); err != nil || len(hash) < 8 {
		return head, nil, wrongUsage(fmt.Errorf("--chain %q: give position and hash as a certificate shows them, at least 8 digits of it: 17:3f2a99c0d1e2f304", printed))
	}
	place := fmt.Sprintf("chain position %d", position)
	link, err := b.ChainAt(ctx, position)
	if err != nil && !errors.Is(err, book.ErrNotFound) {
		return head, nil, err
	}
	if !strings.HasPrefix(link.Hash, hash) {
		if found, err := ofAnother(ctx, b, position, hash); found || err != nil {
			return head, nil, err
		}
	}
	switch {
	case errors.Is(err, book.ErrNotFound):
		wrong = append(wrong, book.Problem{Place: place, Text: fmt.Sprintf("the chain has only %d links: it was cut short, or this is another book", head.Position)})
	case !strings.HasPrefix(link.Hash, hash):
		wrong = append(wrong, book.Problem{Place: place, Text: fmt.Sprintf("it has the hash %s, not %s: the chain was made anew, or this is another book", link.ShortHash(), hash)})
	}
	return head, wrong, nil
}

// ofAnother tells whether a book that was taken over has that link: the paper was
// printed at its bench.
func ofAnother(ctx context.Context, b *book.Book, position int64, hash string) (bool, error) {
	others, err := b.OtherBooks(ctx)
	if err != nil {
		return false, err
	}
	for _, other := range others {
		link, err := b.OtherChainAt(ctx, other, position)
		if err != nil && !errors.Is(err, book.ErrNotFound) {
			return false, err
		}
		if err == nil && strings.HasPrefix(link.Hash, hash) {
			return true, nil
		}
	}
	return false, nil
}
