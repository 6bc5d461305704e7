-- Version 3: verdicts and excursions in a hash chain, so that a later change to one
-- of them shows. Filled from what is there (see chainfill.go).

-- One row per link, positions without a hole. kind and record name the row that the
-- link is about, digest is the SHA-256 of its canonical text (see chaintext.go), and
-- hash the SHA-256 of the link itself, the hash of the link before included. A
-- record that is brought up to date gets a further link; the latest one must fit.
-- origin says which book a record came from; empty for this one.
CREATE TABLE chain (
  position INTEGER PRIMARY KEY,
  at_us    INTEGER NOT NULL,
  kind     TEXT NOT NULL,
  record   TEXT NOT NULL,
  origin   TEXT NOT NULL,
  digest   TEXT NOT NULL,     -- hex
  hash     TEXT NOT NULL      -- hex
) STRICT;
CREATE INDEX chain_by_record ON chain (kind, record, position);
