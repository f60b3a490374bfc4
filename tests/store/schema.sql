PRAGMA user_version = 15;
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
CREATE TABLE setting (
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    value TEXT NOT NULL CHECK (length(value) <= 400),
    PRIMARY KEY (name)
) STRICT, WITHOUT ROWID;
CREATE TABLE system (
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    sump_volume_l REAL CHECK (sump_volume_l BETWEEN 0 AND 1000000),
    test_every_d REAL CHECK (test_every_d BETWEEN 1 AND 365),
    quarantine INTEGER CHECK (quarantine IN (0, 1)),
    broadcast_once INTEGER CHECK (broadcast_once IN (0, 1)),
    broadcast_position_m REAL CHECK (broadcast_position_m BETWEEN 0 AND 10000),
    note TEXT CHECK (length(note) <= 400),
    retired INTEGER CHECK (retired IN (0, 1)),
    lights_on_min TEXT CHECK (lights_on_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    lights_off_min TEXT CHECK (lights_off_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    PRIMARY KEY (name)
) STRICT, WITHOUT ROWID;
CREATE TABLE band (
    system TEXT NOT NULL REFERENCES system,
    analyte TEXT NOT NULL CHECK (analyte IN ('no3', 'po4', 'tan', 'no2', 'ph', 'alk', 'ca', 'mg', 'salinity', 'temp')),
    low REAL NOT NULL CHECK (low BETWEEN -2 AND 3000),
    high REAL NOT NULL CHECK (high BETWEEN -2 AND 3000),
    PRIMARY KEY (system, analyte)
) STRICT, WITHOUT ROWID;
CREATE TABLE switch (
    system TEXT NOT NULL REFERENCES system,
    device TEXT NOT NULL CHECK (device IN ('skimmer', 'uv', 'ozone', 'carbon', 'roller', 'dosing', 'return')),
    off_for TEXT CHECK (off_for IN ('broadcast', 'feeding', 'both', 'nothing')),
    on_after_min REAL CHECK (on_after_min BETWEEN 0 AND 720),
    off_limit_min REAL CHECK (off_limit_min BETWEEN 1 AND 1440),
    note TEXT CHECK (length(note) <= 400),
    PRIMARY KEY (system, device)
) STRICT, WITHOUT ROWID;
CREATE TABLE daily_round (
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    start_min TEXT NOT NULL CHECK (start_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    days TEXT CHECK (length(days) <= 400),
    feeders INTEGER CHECK (feeders BETWEEN 0 AND 20),
    note TEXT CHECK (length(note) <= 400),
    retired INTEGER CHECK (retired IN (0, 1)),
    PRIMARY KEY (name)
) STRICT, WITHOUT ROWID;
CREATE TABLE broadcast_day (
    system TEXT NOT NULL REFERENCES system,
    weekday TEXT NOT NULL CHECK (weekday IN ('mon', 'tue', 'wed', 'thu', 'fri', 'sat', 'sun', 'every')),
    round TEXT NOT NULL REFERENCES daily_round,
    part_frac REAL CHECK (part_frac BETWEEN 0 AND 1),
    PRIMARY KEY (system, weekday, round)
) STRICT, WITHOUT ROWID;
CREATE TABLE tank (
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    system TEXT NOT NULL REFERENCES system,
    shape TEXT NOT NULL CHECK (shape IN ('box', 'cylinder', 'half cylinder', 'quarter cylinder', 'bow front', 'prism', 'cut corner', 'stated')),
    length_cm REAL CHECK (length_cm BETWEEN 1 AND 10000),
    width_cm REAL CHECK (width_cm BETWEEN 1 AND 10000),
    water_cm REAL CHECK (water_cm BETWEEN 1 AND 10000),
    diameter_cm REAL CHECK (diameter_cm BETWEEN 1 AND 10000),
    bow_cm REAL CHECK (bow_cm BETWEEN 0.1 AND 10000),
    side_cm REAL CHECK (side_cm BETWEEN 1 AND 10000),
    n_sides INTEGER CHECK (n_sides BETWEEN 0 AND 100),
    cut_length_cm REAL CHECK (cut_length_cm BETWEEN 0.1 AND 10000),
    cut_width_cm REAL CHECK (cut_width_cm BETWEEN 0.1 AND 10000),
    net_volume_l REAL CHECK (net_volume_l BETWEEN 0.1 AND 1000000),
    displacement_frac REAL CHECK (displacement_frac BETWEEN 0 AND 0.9),
    position_m REAL CHECK (position_m BETWEEN 0 AND 10000),
    flow_off_limit_min REAL CHECK (flow_off_limit_min BETWEEN 6 AND 30),
    pump TEXT CHECK (length(pump) <= 60),
    fish INTEGER CHECK (fish IN (0, 1)),
    hold_reason TEXT CHECK (length(hold_reason) <= 400),
    hold_until TEXT CHECK (hold_until GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    note TEXT CHECK (length(note) <= 400),
    retired INTEGER CHECK (retired IN (0, 1)),
    broadcast INTEGER CHECK (broadcast IN (0, 1)),
    lights_on_min TEXT CHECK (lights_on_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    lights_off_min TEXT CHECK (lights_off_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    PRIMARY KEY (name)
) STRICT, WITHOUT ROWID;
CREATE TABLE kind (
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    feeding TEXT NOT NULL CHECK (feeding IN ('target', 'cloud', 'broadcast', 'none')),
    course TEXT CHECK (course IN ('slurry', 'late')),
    max_particle_um REAL CHECK (max_particle_um BETWEEN 0 AND 50000),
    portion_ml REAL CHECK (portion_ml BETWEEN 0 AND 50),
    mouth_rule TEXT CHECK (mouth_rule IN ('all', 'fraction', 'one', 'none')),
    mouth_frac REAL CHECK (mouth_frac BETWEEN 0 AND 1),
    mouth_min INTEGER CHECK (mouth_min BETWEEN 0 AND 1000),
    mouth_max INTEGER CHECK (mouth_max BETWEEN 0 AND 1000),
    interval_d REAL CHECK (interval_d BETWEEN 1 AND 365),
    takes_powder INTEGER CHECK (takes_powder IN (0, 1)),
    takes_pellet INTEGER CHECK (takes_pellet IN (0, 1)),
    takes_frozen INTEGER CHECK (takes_frozen IN (0, 1)),
    flow_off_min REAL CHECK (flow_off_min BETWEEN 0 AND 30),
    colony_s REAL CHECK (colony_s BETWEEN 0 AND 600),
    mouth_s REAL CHECK (mouth_s BETWEEN 0 AND 60),
    hand_safety INTEGER CHECK (hand_safety IN (0, 1)),
    note TEXT CHECK (length(note) <= 400),
    source TEXT CHECK (length(source) <= 400),
    retired INTEGER CHECK (retired IN (0, 1)),
    need TEXT CHECK (need IN ('regular', 'obligate', 'optional')),
    early INTEGER CHECK (early IN (0, 1)),
    fed_in TEXT CHECK (fed_in IN ('any', 'light', 'dark')),
    feeds_per_d INTEGER CHECK (feeds_per_d BETWEEN 1 AND 12),
    PRIMARY KEY (name)
) STRICT, WITHOUT ROWID;
CREATE TABLE colony (
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 60),
    label TEXT CHECK (length(label) <= 400),
    tank TEXT NOT NULL REFERENCES tank,
    kind TEXT NOT NULL REFERENCES kind,
    count INTEGER CHECK (count BETWEEN 1 AND 100000),
    heads INTEGER CHECK (heads BETWEEN 1 AND 100000),
    arrived TEXT CHECK (arrived GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    fed_before TEXT CHECK (fed_before GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    hold_reason TEXT CHECK (length(hold_reason) <= 400),
    hold_until TEXT CHECK (hold_until GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    note TEXT CHECK (length(note) <= 400),
    retired INTEGER CHECK (retired IN (0, 1)),
    PRIMARY KEY (code)
) STRICT, WITHOUT ROWID;
CREATE TABLE food (
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    form TEXT NOT NULL CHECK (form IN ('liquid', 'live', 'powder', 'pellet', 'frozen')),
    unit TEXT NOT NULL CHECK (unit IN ('g', 'ml')),
    density_g_per_ml REAL CHECK (density_g_per_ml BETWEEN 0.01 AND 5),
    solids_frac REAL CHECK (solids_frac BETWEEN 0 AND 1),
    n_mg_per_unit REAL CHECK (n_mg_per_unit BETWEEN 0 AND 1000),
    p_mg_per_unit REAL CHECK (p_mg_per_unit BETWEEN 0 AND 1000),
    no3_effect_mg_per_unit REAL CHECK (no3_effect_mg_per_unit BETWEEN -1000 AND 1000),
    po4_effect_mg_per_unit REAL CHECK (po4_effect_mg_per_unit BETWEEN -1000 AND 1000),
    strips_po4 INTEGER CHECK (strips_po4 IN (0, 1)),
    min_particle_um REAL CHECK (min_particle_um BETWEEN 0 AND 50000),
    max_particle_um REAL CHECK (max_particle_um BETWEEN 0 AND 50000),
    ceiling_units_per_100l REAL NOT NULL CHECK (ceiling_units_per_100l BETWEEN 0.0001 AND 10000),
    broadcast_units_per_100l REAL CHECK (broadcast_units_per_100l BETWEEN 0 AND 10000),
    blend_share_frac REAL CHECK (blend_share_frac BETWEEN 0 AND 1),
    blend_share_min_frac REAL CHECK (blend_share_min_frac BETWEEN 0 AND 1),
    blend_share_max_frac REAL CHECK (blend_share_max_frac BETWEEN 0 AND 1),
    blend_ml_per_100ml REAL CHECK (blend_ml_per_100ml BETWEEN 0 AND 100),
    fish_units_per_100l REAL CHECK (fish_units_per_100l BETWEEN 0 AND 10000),
    scoop_g REAL CHECK (scoop_g BETWEEN 0.01 AND 100),
    opened_life_d REAL CHECK (opened_life_d BETWEEN 1 AND 3650),
    lead_d REAL CHECK (lead_d BETWEEN 0 AND 365),
    pack_units REAL CHECK (pack_units BETWEEN 0.1 AND 1000000),
    price_cents INTEGER CHECK (price_cents BETWEEN 0 AND 100000000),
    prepare TEXT CHECK (length(prepare) <= 400),
    note TEXT CHECK (length(note) <= 400),
    source TEXT CHECK (length(source) <= 400),
    retired INTEGER CHECK (retired IN (0, 1)),
    PRIMARY KEY (name)
) STRICT, WITHOUT ROWID;
CREATE TABLE lot (
    code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 60),
    food TEXT NOT NULL REFERENCES food,
    amount_units REAL NOT NULL CHECK (amount_units BETWEEN 0 AND 10000000),
    received TEXT CHECK (received GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    opened TEXT CHECK (opened GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    use_by TEXT CHECK (use_by GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    price_cents INTEGER CHECK (price_cents BETWEEN 0 AND 100000000),
    note TEXT CHECK (length(note) <= 400),
    retired INTEGER CHECK (retired IN (0, 1)),
    PRIMARY KEY (code)
) STRICT, WITHOUT ROWID;
CREATE TABLE method (
    name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 60),
    analyte TEXT NOT NULL CHECK (analyte IN ('no3', 'po4', 'tan', 'no2', 'ph', 'alk', 'ca', 'mg', 'salinity', 'temp')),
    step REAL CHECK (step BETWEEN 0.0001 AND 100),
    note TEXT CHECK (length(note) <= 400),
    PRIMARY KEY (name, analyte)
) STRICT, WITHOUT ROWID;
CREATE TABLE test (
    system TEXT NOT NULL REFERENCES system,
    taken TEXT NOT NULL CHECK (taken GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]'),
    analyte TEXT NOT NULL CHECK (analyte IN ('no3', 'po4', 'tan', 'no2', 'ph', 'alk', 'ca', 'mg', 'salinity', 'temp')),
    repeat INTEGER NOT NULL CHECK (repeat BETWEEN 1 AND 1000),
    value REAL NOT NULL CHECK (value BETWEEN -2 AND 3000),
    below INTEGER CHECK (below IN (0, 1)),
    method TEXT CHECK (length(method) <= 60),
    sample TEXT CHECK (sample IN ('before', 'after')),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    doubt TEXT CHECK (doubt IN ('none', 'flagged', 'confirmed')),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (system, taken, analyte, repeat, version)
) STRICT;
CREATE TABLE water (
    system TEXT NOT NULL REFERENCES system,
    exchanged TEXT NOT NULL CHECK (exchanged GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]'),
    repeat INTEGER NOT NULL CHECK (repeat BETWEEN 1 AND 1000),
    volume_l REAL NOT NULL CHECK (volume_l BETWEEN 0.1 AND 1000000),
    no3_mg_l REAL CHECK (no3_mg_l BETWEEN 0 AND 500),
    po4_mg_l REAL CHECK (po4_mg_l BETWEEN 0 AND 20),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (system, exchanged, repeat, version)
) STRICT;
CREATE TABLE round (
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    day TEXT NOT NULL CHECK (day GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]'),
    start_min TEXT NOT NULL CHECK (start_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    feeders INTEGER NOT NULL CHECK (feeders BETWEEN 1 AND 99),
    request TEXT CHECK (length(request) <= 400),
    finish_min TEXT NOT NULL CHECK (finish_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    walked_m REAL CHECK (walked_m >= 0),
    bound_min REAL CHECK (bound_min >= 0),
    name TEXT CHECK (length(name) <= 60),
    PRIMARY KEY (number, revision)
) STRICT, WITHOUT ROWID;
CREATE TABLE asked (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 1000000),
    what TEXT NOT NULL CHECK (what IN ('start', 'done-by', 'feeders', 'late', 'pots', 'strength', 'effort', 'first', 'skip', 'from-now')),
    tank TEXT REFERENCES tank,
    feeder INTEGER CHECK (feeder BETWEEN 0 AND 99),
    at_min INTEGER CHECK (at_min BETWEEN -1 AND 5999),
    amount REAL CHECK (amount >= 0),
    FOREIGN KEY (round, revision) REFERENCES round (number, revision),
    PRIMARY KEY (round, revision, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE pot (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    pot TEXT NOT NULL CHECK (length(pot) BETWEEN 1 AND 60),
    systems TEXT CHECK (length(systems) <= 400),
    late INTEGER CHECK (late IN (0, 1)),
    need_ml REAL NOT NULL CHECK (need_ml >= 0),
    made_ml REAL NOT NULL CHECK (made_ml >= 0),
    water_ml REAL NOT NULL CHECK (water_ml >= 0),
    strength_g_per_100ml REAL NOT NULL CHECK (strength_g_per_100ml >= 0),
    factor REAL NOT NULL CHECK (factor >= 0),
    note TEXT CHECK (length(note) <= 400),
    allowed_frac REAL CHECK (allowed_frac >= 0),
    FOREIGN KEY (round, revision) REFERENCES round (number, revision),
    PRIMARY KEY (round, revision, pot)
) STRICT, WITHOUT ROWID;
CREATE TABLE pot_food (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    pot TEXT NOT NULL CHECK (length(pot) BETWEEN 1 AND 60),
    rank INTEGER NOT NULL CHECK (rank BETWEEN 1 AND 1000),
    food TEXT NOT NULL REFERENCES food,
    lot TEXT REFERENCES lot,
    amount_units REAL NOT NULL CHECK (amount_units >= 0),
    premix_units REAL CHECK (premix_units >= 0),
    premix_ml REAL CHECK (premix_ml >= 0),
    premix_take_ml REAL CHECK (premix_take_ml >= 0),
    FOREIGN KEY (round, revision, pot) REFERENCES pot (round, revision, pot),
    PRIMARY KEY (round, revision, pot, rank)
) STRICT, WITHOUT ROWID;
CREATE TABLE line (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 1000000),
    tank TEXT NOT NULL REFERENCES tank,
    action TEXT NOT NULL CHECK (action IN ('broadcast', 'fish', 'flow-off', 'target', 'flow-on')),
    pass INTEGER CHECK (pass >= 0),
    colony TEXT REFERENCES colony,
    food TEXT REFERENCES food,
    lot TEXT REFERENCES lot,
    pot TEXT CHECK (length(pot) <= 60),
    feeder INTEGER CHECK (feeder >= 0),
    start_min TEXT NOT NULL CHECK (start_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    end_min TEXT NOT NULL CHECK (end_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    count INTEGER CHECK (count >= 0),
    mouths INTEGER CHECK (mouths >= 0),
    amount REAL CHECK (amount >= 0),
    note TEXT CHECK (length(note) <= 400),
    shared INTEGER CHECK (shared IN (0, 1)),
    FOREIGN KEY (round, revision) REFERENCES round (number, revision),
    PRIMARY KEY (round, revision, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE waiting (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    colony TEXT NOT NULL REFERENCES colony,
    reason TEXT NOT NULL CHECK (length(reason) <= 400),
    due INTEGER CHECK (due IN (0, 1)),
    since_d REAL CHECK (since_d >= 0),
    interval_d REAL CHECK (interval_d >= 0),
    FOREIGN KEY (round, revision) REFERENCES round (number, revision),
    PRIMARY KEY (round, revision, colony)
) STRICT, WITHOUT ROWID;
CREATE TABLE caution (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    rank INTEGER NOT NULL CHECK (rank >= 0),
    part TEXT NOT NULL CHECK (part IN ('heed', 'before', 'next', 'tank', 'always')),
    tank TEXT REFERENCES tank,
    text TEXT NOT NULL CHECK (length(text) <= 400),
    FOREIGN KEY (round, revision) REFERENCES round (number, revision),
    PRIMARY KEY (round, revision, rank)
) STRICT, WITHOUT ROWID;
CREATE TABLE switching (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    revision INTEGER NOT NULL CHECK (revision BETWEEN 1 AND 1000000),
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 1000000),
    system TEXT NOT NULL REFERENCES system,
    device TEXT NOT NULL CHECK (device IN ('skimmer', 'uv', 'ozone', 'carbon', 'roller', 'dosing', 'return')),
    off_min TEXT NOT NULL CHECK (off_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    on_min TEXT NOT NULL CHECK (on_min GLOB '[0-9][0-9]:[0-5][0-9]'),
    off_feeder INTEGER CHECK (off_feeder >= 0),
    on_feeder INTEGER CHECK (on_feeder >= 0),
    note TEXT CHECK (length(note) <= 400),
    FOREIGN KEY (round, revision) REFERENCES round (number, revision),
    PRIMARY KEY (round, revision, number)
) STRICT, WITHOUT ROWID;
CREATE TABLE given (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    line INTEGER NOT NULL CHECK (line BETWEEN 1 AND 1000000),
    sheet_revision INTEGER NOT NULL CHECK (sheet_revision BETWEEN 1 AND 1000000),
    outcome TEXT NOT NULL CHECK (outcome IN ('given', 'part', 'late', 'refused', 'not-given')),
    amount REAL CHECK (amount BETWEEN 0 AND 1000000),
    response INTEGER CHECK (response BETWEEN -1 AND 4),
    at_min INTEGER CHECK (at_min BETWEEN -1 AND 2879),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (round, line, version)
) STRICT;
CREATE TABLE extra (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 1000000),
    tank TEXT NOT NULL REFERENCES tank,
    food TEXT NOT NULL REFERENCES food,
    lot TEXT REFERENCES lot,
    amount_units REAL NOT NULL CHECK (amount_units BETWEEN 0 AND 1000000),
    at_min INTEGER CHECK (at_min BETWEEN -1 AND 2879),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (round, number, version)
) STRICT;
CREATE TABLE mixed (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    pot TEXT NOT NULL CHECK (length(pot) BETWEEN 1 AND 60),
    made_ml REAL NOT NULL CHECK (made_ml BETWEEN 0 AND 1000000),
    left_ml REAL CHECK (left_ml BETWEEN 0 AND 1000000),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (round, pot, version)
) STRICT;
CREATE TABLE weighed (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    pot TEXT NOT NULL CHECK (length(pot) BETWEEN 1 AND 60),
    rank INTEGER NOT NULL CHECK (rank BETWEEN 1 AND 1000),
    amount_units REAL NOT NULL CHECK (amount_units BETWEEN 0 AND 1000000),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (round, pot, rank, version)
) STRICT;
CREATE TABLE crew (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    feeder INTEGER NOT NULL CHECK (feeder BETWEEN 1 AND 99),
    name TEXT NOT NULL CHECK (length(name) <= 60),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (round, feeder, version)
) STRICT;
CREATE TABLE remark (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    number INTEGER NOT NULL CHECK (number BETWEEN 1 AND 1000000),
    text TEXT NOT NULL CHECK (length(text) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (round, number, version)
) STRICT;
CREATE TABLE switched (
    round INTEGER NOT NULL CHECK (round BETWEEN 1 AND 1000000000),
    system TEXT NOT NULL REFERENCES system,
    device TEXT NOT NULL CHECK (device IN ('skimmer', 'uv', 'ozone', 'carbon', 'roller', 'dosing', 'return')),
    off_min INTEGER CHECK (off_min BETWEEN -1 AND 2879),
    on_min INTEGER CHECK (on_min BETWEEN -1 AND 4319),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (round, system, device, version)
) STRICT;
CREATE TABLE treatment (
    treated TEXT NOT NULL CHECK (treated GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]'),
    repeat INTEGER NOT NULL CHECK (repeat BETWEEN 1 AND 1000),
    tank TEXT NOT NULL REFERENCES tank,
    colony TEXT REFERENCES colony,
    what TEXT NOT NULL CHECK (length(what) <= 400),
    duration_min REAL CHECK (duration_min BETWEEN 0 AND 10080),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (treated, repeat, version)
) STRICT;
CREATE TABLE waste (
    lot TEXT NOT NULL REFERENCES lot,
    wasted TEXT NOT NULL CHECK (wasted GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]'),
    repeat INTEGER NOT NULL CHECK (repeat BETWEEN 1 AND 1000),
    amount_units REAL NOT NULL CHECK (amount_units BETWEEN 0 AND 10000000),
    reason TEXT NOT NULL CHECK (length(reason) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (lot, wasted, repeat, version)
) STRICT;
CREATE TABLE tally (
    colony TEXT NOT NULL REFERENCES colony,
    changed TEXT NOT NULL CHECK (changed GLOB '[12][0-9][0-9][0-9]-[01][0-9]-[0-3][0-9]T[0-2][0-9]:[0-5][0-9]'),
    repeat INTEGER NOT NULL CHECK (repeat BETWEEN 1 AND 1000),
    change INTEGER NOT NULL CHECK (change BETWEEN -100000 AND 100000),
    reason TEXT NOT NULL CHECK (reason IN ('sold', 'died', 'divided', 'found', 'moved', 'split')),
    tank TEXT NOT NULL REFERENCES tank,
    from_tank TEXT REFERENCES tank,
    other TEXT REFERENCES colony,
    from_file TEXT CHECK (length(from_file) <= 400),
    note TEXT CHECK (length(note) <= 400),
    voided INTEGER CHECK (voided IN (0, 1)),
    version INTEGER NOT NULL CHECK (version >= 1),
    PRIMARY KEY (colony, changed, repeat, version)
) STRICT;
CREATE TABLE entry_part (
    entry INTEGER NOT NULL REFERENCES entry (id),
    number INTEGER NOT NULL CHECK (number >= 1), -- in the order in which they were made; taken back in the other
    changes BLOB NOT NULL,                       -- an SQLite changeset
    PRIMARY KEY (entry, number)
) STRICT;
CREATE TRIGGER test_keeps BEFORE UPDATE ON test WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'test is append-only'); END;
CREATE TRIGGER test_stays BEFORE DELETE ON test WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'test is append-only'); END;
CREATE VIEW live_test AS SELECT * FROM test AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM test AS n WHERE n.system = o.system AND n.taken = o.taken AND n.analyte = o.analyte AND n.repeat = o.repeat AND n.version > o.version)
/* live_test(system,taken,analyte,repeat,value,below,method,sample,note,voided,doubt,version) */;
CREATE TRIGGER water_keeps BEFORE UPDATE ON water WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'water is append-only'); END;
CREATE TRIGGER water_stays BEFORE DELETE ON water WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'water is append-only'); END;
CREATE VIEW live_water AS SELECT * FROM water AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM water AS n WHERE n.system = o.system AND n.exchanged = o.exchanged AND n.repeat = o.repeat AND n.version > o.version)
/* live_water(system,exchanged,repeat,volume_l,no3_mg_l,po4_mg_l,note,voided,version) */;
CREATE TRIGGER given_keeps BEFORE UPDATE ON given WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'given is append-only'); END;
CREATE TRIGGER given_stays BEFORE DELETE ON given WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'given is append-only'); END;
CREATE VIEW live_given AS SELECT * FROM given AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM given AS n WHERE n.round = o.round AND n.line = o.line AND n.version > o.version)
/* live_given(round,line,sheet_revision,outcome,amount,response,at_min,note,voided,version) */;
CREATE TRIGGER extra_keeps BEFORE UPDATE ON extra WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'extra is append-only'); END;
CREATE TRIGGER extra_stays BEFORE DELETE ON extra WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'extra is append-only'); END;
CREATE VIEW live_extra AS SELECT * FROM extra AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM extra AS n WHERE n.round = o.round AND n.number = o.number AND n.version > o.version)
/* live_extra(round,number,tank,food,lot,amount_units,at_min,note,voided,version) */;
CREATE TRIGGER mixed_keeps BEFORE UPDATE ON mixed WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'mixed is append-only'); END;
CREATE TRIGGER mixed_stays BEFORE DELETE ON mixed WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'mixed is append-only'); END;
CREATE VIEW live_mixed AS SELECT * FROM mixed AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM mixed AS n WHERE n.round = o.round AND n.pot = o.pot AND n.version > o.version)
/* live_mixed(round,pot,made_ml,left_ml,note,voided,version) */;
CREATE TRIGGER weighed_keeps BEFORE UPDATE ON weighed WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'weighed is append-only'); END;
CREATE TRIGGER weighed_stays BEFORE DELETE ON weighed WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'weighed is append-only'); END;
CREATE VIEW live_weighed AS SELECT * FROM weighed AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM weighed AS n WHERE n.round = o.round AND n.pot = o.pot AND n.rank = o.rank AND n.version > o.version)
/* live_weighed(round,pot,rank,amount_units,note,voided,version) */;
CREATE TRIGGER crew_keeps BEFORE UPDATE ON crew WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'crew is append-only'); END;
CREATE TRIGGER crew_stays BEFORE DELETE ON crew WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'crew is append-only'); END;
CREATE VIEW live_crew AS SELECT * FROM crew AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM crew AS n WHERE n.round = o.round AND n.feeder = o.feeder AND n.version > o.version)
/* live_crew(round,feeder,name,voided,version) */;
CREATE TRIGGER remark_keeps BEFORE UPDATE ON remark WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'remark is append-only'); END;
CREATE TRIGGER remark_stays BEFORE DELETE ON remark WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'remark is append-only'); END;
CREATE VIEW live_remark AS SELECT * FROM remark AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM remark AS n WHERE n.round = o.round AND n.number = o.number AND n.version > o.version)
/* live_remark(round,number,text,voided,version) */;
CREATE TRIGGER switched_keeps BEFORE UPDATE ON switched WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'switched is append-only'); END;
CREATE TRIGGER switched_stays BEFORE DELETE ON switched WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'switched is append-only'); END;
CREATE VIEW live_switched AS SELECT * FROM switched AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM switched AS n WHERE n.round = o.round AND n.system = o.system AND n.device = o.device AND n.version > o.version)
/* live_switched(round,system,device,off_min,on_min,voided,version) */;
CREATE TRIGGER treatment_keeps BEFORE UPDATE ON treatment WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'treatment is append-only'); END;
CREATE TRIGGER treatment_stays BEFORE DELETE ON treatment WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'treatment is append-only'); END;
CREATE VIEW live_treatment AS SELECT * FROM treatment AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM treatment AS n WHERE n.treated = o.treated AND n.repeat = o.repeat AND n.version > o.version)
/* live_treatment(treated,repeat,tank,colony,what,duration_min,note,voided,version) */;
CREATE TRIGGER waste_keeps BEFORE UPDATE ON waste WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'waste is append-only'); END;
CREATE TRIGGER waste_stays BEFORE DELETE ON waste WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'waste is append-only'); END;
CREATE VIEW live_waste AS SELECT * FROM waste AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM waste AS n WHERE n.lot = o.lot AND n.wasted = o.wasted AND n.repeat = o.repeat AND n.version > o.version)
/* live_waste(lot,wasted,repeat,amount_units,reason,voided,version) */;
CREATE TRIGGER tally_keeps BEFORE UPDATE ON tally WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'tally is append-only'); END;
CREATE TRIGGER tally_stays BEFORE DELETE ON tally WHEN (SELECT undoing FROM gate) = 0
BEGIN SELECT RAISE(ABORT, 'tally is append-only'); END;
CREATE VIEW live_tally AS SELECT * FROM tally AS o WHERE coalesce(voided, 0) = 0
    AND NOT EXISTS (SELECT 1 FROM tally AS n WHERE n.colony = o.colony AND n.changed = o.changed AND n.repeat = o.repeat AND n.version > o.version)
/* live_tally(colony,changed,repeat,change,reason,tank,from_tank,other,from_file,note,voided,version) */;
CREATE INDEX colony_by_tank ON colony (tank);
CREATE INDEX tank_by_system ON tank (system);
CREATE INDEX line_by_colony ON line (colony) WHERE colony IS NOT NULL;
CREATE INDEX line_by_lot ON line (lot) WHERE lot IS NOT NULL;
CREATE INDEX line_broadcast ON line (tank) WHERE action = 'broadcast';
CREATE INDEX pot_food_by_lot ON pot_food (lot) WHERE lot IS NOT NULL;
CREATE INDEX given_poor ON given (round, line) WHERE outcome = 'refused' OR response BETWEEN 0 AND 1;
CREATE INDEX round_by_day ON round (day);
CREATE INDEX test_by_analyte ON test (system, analyte, taken);
CREATE VIEW round_in_force AS
    SELECT * FROM round AS r WHERE revision = (SELECT max(revision) FROM round AS o WHERE o.number = r.number)
/* round_in_force(number,revision,day,start_min,feeders,request,finish_min,walked_m,bound_min,name) */;
CREATE VIEW offered_line AS
    SELECT g.outcome, g.amount AS given_amount, g.response, line.*, round.day
    FROM live_given AS g
    JOIN round_in_force AS round ON round.number = g.round
    JOIN line ON line.round = g.round AND line.revision = round.revision AND line.number = g.line
    WHERE g.outcome <> 'not-given'
/* offered_line(outcome,given_amount,response,round,revision,number,tank,"action",pass,colony,food,lot,pot,feeder,start_min,end_min,count,mouths,amount,note,shared,day) */;
CREATE VIEW given_line AS SELECT * FROM offered_line WHERE outcome <> 'refused'
/* given_line(outcome,given_amount,response,round,revision,number,tank,"action",pass,colony,food,lot,pot,feeder,start_min,end_min,count,mouths,amount,note,shared,day) */;
CREATE VIEW pot_mix AS
    SELECT round, revision, pot, rank, food, lot, mixed_ml,
        CASE WHEN premix > 0 THEN planned * ratio * coalesce(scale / premix, 1) ELSE coalesce(scale, planned * ratio) END
            AS in_pot_units,
        CASE WHEN ratio = 0 THEN 0.0 WHEN premix > 0 THEN coalesce(scale, premix) ELSE coalesce(scale, planned * ratio) END
            AS drawn_units,
        used, allowed_frac
    FROM (
        SELECT pf.round, pf.revision, pf.pot, pf.rank, pf.food, pf.lot,
            coalesce(m.made_ml, pot.made_ml) AS mixed_ml,
            CASE WHEN coalesce(pot.late, 0) = 0 THEN coalesce(pot.allowed_frac, pot.factor) END AS allowed_frac,
            CASE WHEN pot.made_ml > 0 THEN coalesce(m.made_ml, pot.made_ml) / pot.made_ml ELSE 1.0 END AS ratio,
            pf.amount_units AS planned, coalesce(pf.premix_units, 0) AS premix, w.amount_units AS scale,
            m.made_ml IS NOT NULL OR EXISTS (
                SELECT 1 FROM line CROSS JOIN live_given AS g ON g.round = line.round AND g.line = line.number
                WHERE line.round = pf.round AND line.revision = pf.revision AND line.pot = pf.pot
                    AND g.outcome <> 'not-given') AS used
        FROM pot_food AS pf
        JOIN pot ON pot.round = pf.round AND pot.revision = pf.revision AND pot.pot = pf.pot
        LEFT JOIN live_mixed AS m ON m.round = pf.round AND m.pot = pf.pot
        LEFT JOIN live_weighed AS w ON w.round = pf.round AND w.pot = pf.pot AND w.rank = pf.rank)
/* pot_mix(round,revision,pot,rank,food,lot,mixed_ml,in_pot_units,drawn_units,used,allowed_frac) */;
CREATE VIEW pot_content AS
    SELECT pot_mix.*, round.day FROM pot_mix
    JOIN round_in_force AS round ON round.number = pot_mix.round AND round.revision = pot_mix.revision
/* pot_content(round,revision,pot,rank,food,lot,mixed_ml,in_pot_units,drawn_units,used,allowed_frac,day) */;
CREATE VIEW plain_use AS
    SELECT lot, food, round, day, tank, action, colony, given_amount AS units, outcome = 'refused' AS refused
    FROM offered_line WHERE food IS NOT NULL
    UNION ALL
    SELECT x.lot, x.food, x.round, round.day, x.tank,
        CASE WHEN food.form IN ('liquid', 'live') THEN 'broadcast' ELSE 'target' END, NULL, x.amount_units, 0
    FROM live_extra AS x
    JOIN food ON food.name = x.food
    JOIN round_in_force AS round ON round.number = x.round
/* plain_use(lot,food,round,day,tank,"action",colony,units,refused) */;
CREATE VIEW lot_use AS
    SELECT * FROM plain_use
    UNION ALL
    SELECT pc.lot, pc.food, ol.round, ol.day, ol.tank, 'target', ol.colony,
        ol.given_amount * pc.in_pot_units / pc.mixed_ml, ol.outcome = 'refused'
    FROM offered_line AS ol
    CROSS JOIN pot_mix AS pc ON pc.round = ol.round AND pc.revision = ol.revision AND pc.pot = ol.pot
    WHERE ol.action = 'target' AND pc.mixed_ml > 0
/* lot_use(lot,food,round,day,tank,"action",colony,units,refused) */;
CREATE VIEW pot_given AS
    SELECT tank.system AS system, ol.round AS round, ol.revision AS revision, ol.pot AS pot, ol.day AS day,
        sum(ol.given_amount) AS given_ml
    FROM offered_line AS ol JOIN tank ON tank.name = ol.tank
    WHERE ol.action = 'target' AND ol.pot IS NOT NULL GROUP BY 1, 2, 3, 4, 5
/* pot_given(system,round,revision,pot,day,given_ml) */;
CREATE VIEW fed AS
    SELECT tank.system AS system, u.food AS food, u.lot AS lot, u.round AS round, u.day AS day,
        CASE WHEN u.action = 'target' AND u.colony IS NULL THEN 'extra' ELSE u.action END AS action,
        u.units AS units, NULL AS allowed_frac
    FROM plain_use AS u JOIN tank ON tank.name = u.tank
    UNION ALL
    SELECT pg.system, pc.food, pc.lot, pg.round, pg.day, 'target', pg.given_ml * pc.in_pot_units / pc.mixed_ml, pc.allowed_frac
    FROM pot_given AS pg
    CROSS JOIN pot_mix AS pc ON pc.round = pg.round AND pc.revision = pg.revision AND pc.pot = pg.pot
    WHERE pc.mixed_ml > 0
/* fed(system,food,lot,round,day,"action",units,allowed_frac) */;
CREATE VIEW drawn_by_round AS
    SELECT lot, round, day, given_amount AS units FROM offered_line WHERE lot IS NOT NULL
    UNION ALL
    SELECT x.lot, x.round, round.day, x.amount_units FROM live_extra AS x
    JOIN round_in_force AS round ON round.number = x.round
    WHERE x.lot IS NOT NULL
    UNION ALL
    SELECT lot, round, day, drawn_units FROM pot_content WHERE lot IS NOT NULL AND used
/* drawn_by_round(lot,round,day,units) */;
CREATE VIEW drawn AS
    SELECT lot, sum(units) AS units
    FROM (SELECT lot, units FROM drawn_by_round UNION ALL SELECT lot, amount_units FROM live_waste) GROUP BY lot
/* drawn(lot,units) */;
CREATE VIEW open_line AS
    SELECT line.*, round.day, coalesce(round.name, '') AS name
    FROM round_in_force AS round
    CROSS JOIN line ON line.round = round.number AND line.revision = round.revision
    WHERE NOT EXISTS (SELECT 1 FROM live_given AS g WHERE g.round = line.round AND g.line = line.number)
/* open_line(round,revision,number,tank,"action",pass,colony,food,lot,pot,feeder,start_min,end_min,count,mouths,amount,note,shared,day,name) */;
CREATE VIEW day_use AS
    SELECT u.round, u.day, coalesce(round.name, '') AS name, u.tank, u.colony, u.food, u.action, u.refused, 0 AS planned, u.units
    FROM lot_use AS u
    JOIN round_in_force AS round ON round.number = u.round
    UNION ALL
    SELECT round, day, name, tank, NULL, food, action, 0, 1, amount FROM open_line WHERE food IS NOT NULL
    UNION ALL
    SELECT ol.round, ol.day, ol.name, ol.tank, ol.colony, pc.food, 'target', 0, 1, ol.amount * pc.in_pot_units / pc.mixed_ml
    FROM open_line AS ol
    CROSS JOIN pot_mix AS pc ON pc.round = ol.round AND pc.revision = ol.revision AND pc.pot = ol.pot
    WHERE ol.action = 'target' AND pc.mixed_ml > 0
/* day_use(round,day,name,tank,colony,food,"action",refused,planned,units) */;
CREATE VIEW day_claim AS
    SELECT round, day, name, lot, amount AS units FROM open_line WHERE lot IS NOT NULL
    UNION ALL
    SELECT pc.round, pc.day, coalesce(round.name, ''), pc.lot, pc.drawn_units
    FROM pot_content AS pc
    JOIN round_in_force AS round ON round.number = pc.round
    WHERE pc.lot IS NOT NULL AND NOT pc.used AND EXISTS (
        SELECT 1 FROM open_line AS ol WHERE ol.round = pc.round AND ol.pot = pc.pot)
/* day_claim(round,day,name,lot,units) */;
