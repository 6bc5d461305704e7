-- Version 10: whole books of other benches in this one, see importbook.go.

-- By its identity a book is known again; a copy has the same one.
INSERT INTO about (key, value) VALUES ('identity', lower(hex(randomblob(16))));

-- One row per book that was taken over, at_us when that was first. benches are the
-- names of its benches, for people.
CREATE TABLE other_book (
  id       INTEGER PRIMARY KEY,
  identity TEXT NOT NULL UNIQUE,
  benches  TEXT NOT NULL,
  at_us    INTEGER NOT NULL
) STRICT;

-- Under which number a unit of that book goes here: another one where two units
-- of two benches had the same.
CREATE TABLE other_unit (
  book  INTEGER NOT NULL REFERENCES other_book,
  asset TEXT NOT NULL,
  own   TEXT NOT NULL REFERENCES unit,
  PRIMARY KEY (book, asset)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX other_unit_own ON other_unit (book, own);

-- Which number a record of that book has here. native is 1 where it was written there
-- first, so that numbers in its text are that book's.
CREATE TABLE other_record (
  book   INTEGER NOT NULL REFERENCES other_book,
  kind   TEXT NOT NULL,
  number INTEGER NOT NULL,
  own    INTEGER NOT NULL,
  native INTEGER NOT NULL,
  PRIMARY KEY (book, kind, number)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX other_record_own ON other_record (kind, own, book);

-- The hash chain of that book as it was there, so that it can be verified here, and
-- a paper that was printed there compared with it.
CREATE TABLE other_link (
  book     INTEGER NOT NULL REFERENCES other_book,
  position INTEGER NOT NULL,
  at_us    INTEGER NOT NULL,
  kind     TEXT NOT NULL,
  record   TEXT NOT NULL,
  origin   TEXT NOT NULL,
  digest   TEXT NOT NULL,
  hash     TEXT NOT NULL,
  PRIMARY KEY (book, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX other_link_by_record ON other_link (book, kind, record, position);
