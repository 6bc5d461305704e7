-- Version 6: overviews. Filled from the table of blocks (see overview.go).

-- One row for so many summaries of blocks that an overview of a month reads few
-- rows. Those of a series have the blocks that are not late, from the first one on
-- without a hole; the latest blocks are in none. until_us is where the last block of
-- the row begins.
CREATE TABLE overview (
  series   INTEGER NOT NULL REFERENCES series,
  first_us INTEGER NOT NULL,
  until_us INTEGER NOT NULL,
  data     BLOB NOT NULL,
  PRIMARY KEY (series, first_us)
) STRICT, WITHOUT ROWID;
