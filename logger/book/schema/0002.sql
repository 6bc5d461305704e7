-- Version 2: readings in blocks. Filled from the rows of version 1 before those
-- are dropped (see blocks.go).

-- One row per reading block, with all that an overview needs. The block itself is
-- in block_data under the same id, which counts up as blocks are written, so that
-- those of one microsecond have an order. late is 1 where the block does not begin
-- after all blocks of its series that were written before: clocks go back.
CREATE TABLE block (
  series   INTEGER NOT NULL REFERENCES series,
  first_us INTEGER NOT NULL,
  id       INTEGER NOT NULL,
  last_us  INTEGER NOT NULL,
  count    INTEGER NOT NULL,
  low      REAL NOT NULL,
  high     REAL NOT NULL,
  sum      REAL NOT NULL,
  late     INTEGER NOT NULL,
  PRIMARY KEY (series, first_us, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX block_late ON block (series, id) WHERE late = 1;

CREATE TABLE block_data (
  id   INTEGER PRIMARY KEY,
  data BLOB NOT NULL
) STRICT;

-- One row per commit: the readings that are in no block yet. batch tells which
-- commit it was, so that one of which the outcome was unclear is not written twice.
CREATE TABLE tail (
  id    INTEGER PRIMARY KEY,
  batch BLOB NOT NULL,
  data  BLOB NOT NULL
) STRICT;
