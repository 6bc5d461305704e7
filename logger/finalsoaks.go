package logger

import (
	"context"
	"errors"
	"sync"

	"soakline/checks"
	"soakline/logger/book"
)

// soakJudge gives the verdict of a sheet on a soak of a book.
type soakJudge func(ctx context.Context, from *book.Book, id book.SoakID, sheet checks.Sheet) (checks.Verdict, error)

// judgeForFinal is the verdict of a sheet on a soak that a final test relies on. One
// that was thinned cannot be judged again: by its own sheet it is the verdict that was
// given.
func judgeForFinal(ctx context.Context, from *book.Book, id book.SoakID, sheet checks.Sheet) (checks.Verdict, error) {
	verdict, err := JudgeFromBook(ctx, from, id, sheet)
	if !errors.Is(err, book.ErrThinned) {
		return verdict, err
	}
	given, none := from.Verdict(ctx, id)
	if none != nil || given.SheetHash != sheet.Hash {
		return checks.Verdict{}, err
	}
	return given.Verdict, nil
}

// judgedSoaks keeps verdicts on soaks for as long as what they rest on stays, so that
// a day's readings are not judged at each step of a final test. It is for one book.
type judgedSoaks struct {
	anew soakJudge // judgeForFinal where it is nil
	mu   sync.Mutex
	kept map[judgedBy]judgedSoak
}

// judgedBy is a soak and the sheet that it was judged by.
type judgedBy struct {
	soak      book.SoakID
	sheetHash string
}

// judgedSoak is a verdict, and the mark of what it rests on.
type judgedSoak struct {
	mark    string
	verdict checks.Verdict
}

// mostJudged bounds how many verdicts are kept; a bench has few places.
const mostJudged = 32

// judge is a soakJudge.
func (j *judgedSoaks) judge(ctx context.Context, from *book.Book, id book.SoakID, sheet checks.Sheet) (checks.Verdict, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	// The mark is taken first: what comes in meanwhile makes it another.
	mark, err := from.SoakMark(ctx, id)
	if err != nil {
		return checks.Verdict{}, err
	}
	by := judgedBy{id, sheet.Hash}
	if known, ok := j.kept[by]; ok && known.mark == mark {
		return known.verdict, nil
	}
	anew := j.anew
	if anew == nil {
		anew = judgeForFinal
	}
	verdict, err := anew(ctx, from, id, sheet)
	if err != nil {
		return verdict, err
	}
	if j.kept == nil || len(j.kept) >= mostJudged {
		j.kept = map[judgedBy]judgedSoak{}
	}
	j.kept[by] = judgedSoak{mark, verdict}
	return verdict, nil
}
