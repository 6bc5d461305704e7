-- Version 4: how far the shipping of each target has got.

-- chain is the position in the chain of verdicts and excursions up to which a
-- target has them, refused how many lines it would not take.
CREATE TABLE ship_target (
  name    TEXT PRIMARY KEY,
  chain   INTEGER NOT NULL,
  refused INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

-- One row per target and series that it has readings of: all blocks up to block,
-- and ahead readings that arrived after those. Of these the newest is of newest_us,
-- and same of them are; reach_us is the newest of all that it has. None is set back
-- as long as blocks keep their numbers, which they do but in a book that was saved.
CREATE TABLE ship_place (
  target    TEXT NOT NULL REFERENCES ship_target,
  series    INTEGER NOT NULL REFERENCES series,
  block     INTEGER NOT NULL,
  ahead     INTEGER NOT NULL,
  newest_us INTEGER NOT NULL,
  same      INTEGER NOT NULL,
  reach_us  INTEGER NOT NULL,
  PRIMARY KEY (target, series)
) STRICT, WITHOUT ROWID;

-- Lines that a target would not take, the latest of them.
CREATE TABLE ship_refused (
  id     INTEGER PRIMARY KEY,
  target TEXT NOT NULL REFERENCES ship_target,
  at_us  INTEGER NOT NULL,
  reason TEXT NOT NULL,
  line   TEXT NOT NULL,
  UNIQUE (target, line)
) STRICT;

CREATE INDEX block_by_id ON block (series, id);
