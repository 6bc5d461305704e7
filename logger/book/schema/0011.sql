-- Version 11: how a pause came about.

-- '' is as the sheet plans it, 'interrupted' by a program that
-- stopped or was away, 'not-followed' where the unit stayed on.
ALTER TABLE pause ADD COLUMN kind TEXT NOT NULL DEFAULT '';
