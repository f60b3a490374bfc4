-- SPDX-License-Identifier: GPL-3.0-or-later
-- What the store of neap has beside its registers, whose tables are written from the field table (tables.c). Registers
-- hold the present; ledgers (test, water, given) are append-only: a later
-- version of a row replaces an earlier one in the live_ views, and nothing is ever updated or deleted, but by undo,
-- whose journal entry keeps what it took back. An empty cell is NULL; defaults belong to the program's field table.

CREATE TABLE entry (                       -- the journal: one row per writing command
    id INTEGER PRIMARY KEY,
    made TEXT NOT NULL CHECK (made GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]'),
    command TEXT NOT NULL,
    undoes INTEGER REFERENCES entry (id),  -- this entry took that one back
    checksum INTEGER NOT NULL              -- of the changes of all its parts in their order: FNV-1a, 64 bits
) STRICT;

CREATE TABLE gate (                        -- opened by undo only, within its transaction
    id INTEGER PRIMARY KEY CHECK (id = 1),
    undoing INTEGER NOT NULL CHECK (undoing IN (0, 1))
) STRICT;
INSERT INTO gate VALUES (1, 0);
