package logger

import (
	"context"
	"errors"
	"slices"

	"soakline/checks"
	"soakline/logger/book"
)

// JudgeFinalFromBook gives the verdict of a sheet on a final test as the book holds
// it: the sheet that the book kept with it, or another.
func JudgeFinalFromBook(ctx context.Context, from *book.Book, id book.FinalID, sheet checks.Sheet) (checks.FinalVerdict, error) {
	kept, err := from.Final(ctx, id)
	if err != nil {
		return checks.FinalVerdict{}, err
	}
	record, err := FinalRecordFromBook(ctx, from, kept, sheet)
	if err != nil {
		return checks.FinalVerdict{}, err
	}
	return checks.JudgeFinal(sheet, record), nil
}

// FinalRecordFromBook is a final test as checks.JudgeFinal takes it; the soaks that
// it relies on are judged from their readings by the same sheet.
func FinalRecordFromBook(ctx context.Context, from *book.Book, kept book.Final, sheet checks.Sheet) (checks.FinalRecord, error) {
	return finalRecord(ctx, from, kept, sheet, judgeForFinal)
}

func finalRecord(ctx context.Context, from *book.Book, kept book.Final, sheet checks.Sheet, judge soakJudge) (checks.FinalRecord, error) {
	record := checks.FinalRecord{Unit: kept.Unit, Begin: kept.Begin, End: kept.End, SheetHash: kept.Sheet.Hash, GivenUp: kept.GivenUp,
		Instruments: kept.Instruments, Results: kept.Results}
	for _, result := range kept.Results {
		known := slices.ContainsFunc(record.Soaks, func(s checks.FinalSoak) bool { return s.Soak == result.Soak })
		if result.Soak == 0 || known {
			continue
		}
		soak, err := finalSoak(ctx, from, kept.ID, result.Soak, sheet, judge)
		if errors.Is(err, book.ErrNotFound) {
			continue // the verdict says that it is missing
		}
		if err != nil {
			return record, err
		}
		record.Soaks = append(record.Soaks, soak)
	}
	return record, nil
}

// finalSoak is a soak as a final test relies on it, under the number by which that
// names it.
func finalSoak(ctx context.Context, from *book.Book, final book.FinalID, number int64, sheet checks.Sheet, judge soakJudge) (checks.FinalSoak, error) {
	id, err := from.SoakOfFinal(ctx, final, book.SoakID(number))
	if err != nil {
		return checks.FinalSoak{}, err
	}
	kept, err := from.Soak(ctx, id)
	if err != nil {
		return checks.FinalSoak{}, err
	}
	soak := checks.FinalSoak{Soak: number, SheetHash: kept.Sheet.Hash, Ended: !kept.End.IsZero()}
	for _, i := range kept.Instruments {
		if !slices.Contains(soak.Instruments, i.Name) {
			soak.Instruments = append(soak.Instruments, i.Name)
		}
	}
	soak.Verdict, err = judge(ctx, from, id, sheet)
	return soak, err
}
