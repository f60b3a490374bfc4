-- SPDX-License-Identifier: GPL-3.0-or-later
-- What the entries of the journal did. Most have one part; one that changes many rows has more, each of so many rows, so
-- that none need be held in memory whole.

CREATE TABLE entry_part (
    entry INTEGER NOT NULL REFERENCES entry (id),
    number INTEGER NOT NULL CHECK (number >= 1), -- in the order in which they were made; taken back in the other
    changes BLOB NOT NULL,                       -- an SQLite changeset
    PRIMARY KEY (entry, number)
) STRICT;
