package book

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
)

// SheetCopy is a test sheet's file as it was when it was applied, so that a
// verdict can be given again without the file.
type SheetCopy struct {
	Name string
	Text []byte
	// Hash is the SHA-256 of Text in hex. It may be empty on the way in; a hash
	// that does not fit the text is refused.
	Hash string
}

// HashSheet returns the SHA-256 of a sheet's text in hex.
func HashSheet(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// addSheet keeps the text once and returns its hash.
func (b *Book) addSheet(ctx context.Context, tx *sql.Tx, doing string, sheet SheetCopy) (string, error) {
	const insert = `INSERT INTO sheet (hash, name, text) VALUES (?, ?, ?) ON CONFLICT DO NOTHING`
	hash := HashSheet(sheet.Text)
	if sheet.Hash != "" && sheet.Hash != hash {
		return "", b.refuse(doing, ErrInvalid, "sheet %s: hash %s does not fit its text (%s)", sheet.Name, sheet.Hash, hash)
	}
	if len(sheet.Text) == 0 {
		return "", b.refuse(doing, ErrInvalid, "sheet %q has no text", sheet.Name)
	}
	_, err := tx.ExecContext(ctx, insert, hash, sheet.Name, sheet.Text)
	return hash, err
}
