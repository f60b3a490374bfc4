-- SPDX-License-Identifier: GPL-3.0-or-later
-- Indexes and views, made again whenever a store is brought up to date. Those of a ledger's latest versions (live_*) are
-- written from the field table, as the tables are.

CREATE INDEX colony_by_tank ON colony (tank);
CREATE INDEX tank_by_system ON tank (system);
CREATE INDEX line_by_colony ON line (colony) WHERE colony IS NOT NULL;
CREATE INDEX line_by_lot ON line (lot) WHERE lot IS NOT NULL;
CREATE INDEX line_broadcast ON line (tank) WHERE action = 'broadcast';
CREATE INDEX pot_food_by_lot ON pot_food (lot) WHERE lot IS NOT NULL;
CREATE INDEX given_poor ON given (round, line) WHERE outcome = 'refused' OR response BETWEEN 0 AND 1;
CREATE INDEX round_by_day ON round (day);
CREATE INDEX test_by_analyte ON test (system, analyte, taken);

-- Logging freezes a round, so the highest revision is the one meant.
CREATE VIEW round_in_force AS
    SELECT * FROM round AS r WHERE revision = (SELECT max(revision) FROM round AS o WHERE o.number = r.number);

-- What was brought to the mouths, beside its line: taken or refused, it is in the water.
CREATE VIEW offered_line AS
    SELECT g.outcome, g.amount AS given_amount, g.response, line.*, round.day
    FROM live_given AS g
    JOIN round_in_force AS round ON round.number = g.round
    JOIN line ON line.round = g.round AND line.revision = round.revision AND line.number = g.line
    WHERE g.outcome <> 'not-given';

CREATE VIEW given_line AS SELECT * FROM offered_line WHERE outcome <> 'refused';

-- What was really in a pot, if its revision is the one in force. Another volume than planned is taken to be of the planned
-- strength (the sheet is rescaled for it), unless the scale said otherwise; nothing of a pot that was not mixed. drawn_units: what
-- that took from the lot, a premix whole. used: it was mixed, or something of it was offered. allowed_frac: the strength that the
-- states allowed, beside the one that ceilings and stock left (of a pot kept before that was noted, only the latter is known); late
-- pots are another matter. CROSS JOIN: SQLite would go through all that was given in the round.
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
        LEFT JOIN live_weighed AS w ON w.round = pf.round AND w.pot = pf.pot AND w.rank = pf.rank);

CREATE VIEW pot_content AS
    SELECT pot_mix.*, round.day FROM pot_mix
    JOIN round_in_force AS round ON round.number = pot_mix.round AND round.revision = pot_mix.revision;

-- What reached a tank beside the pots: lines of one food, and extras.
CREATE VIEW plain_use AS
    SELECT lot, food, round, day, tank, action, colony, given_amount AS units, outcome = 'refused' AS refused
    FROM offered_line WHERE food IS NOT NULL
    UNION ALL
    SELECT x.lot, x.food, x.round, round.day, x.tank,
        CASE WHEN food.form IN ('liquid', 'live') THEN 'broadcast' ELSE 'target' END, NULL, x.amount_units, 0
    FROM live_extra AS x
    JOIN food ON food.name = x.food
    JOIN round_in_force AS round ON round.number = x.round;

-- Which lot reached which tank (and colony) by which round: from pots by their share, broadcasts and extras as given. CROSS JOIN:
-- the lines come first; SQLite would go through all lines of a round for every food of every pot.
CREATE VIEW lot_use AS
    SELECT * FROM plain_use
    UNION ALL
    SELECT pc.lot, pc.food, ol.round, ol.day, ol.tank, 'target', ol.colony,
        ol.given_amount * pc.in_pot_units / pc.mixed_ml, ol.outcome = 'refused'
    FROM offered_line AS ol
    CROSS JOIN pot_mix AS pc ON pc.round = ol.round AND pc.revision = ol.revision AND pc.pot = ol.pot
    WHERE ol.action = 'target' AND pc.mixed_ml > 0;

-- What a system was given of a pot.
CREATE VIEW pot_given AS
    SELECT tank.system AS system, ol.round AS round, ol.revision AS revision, ol.pot AS pot, ol.day AS day,
        sum(ol.given_amount) AS given_ml
    FROM offered_line AS ol JOIN tank ON tank.name = ol.tank
    WHERE ol.action = 'target' AND ol.pot IS NOT NULL GROUP BY 1, 2, 3, 4, 5;

-- The food ledger: what a system got of a food, of which lot, when and how, and which strength was allowed of what came from a pot.
-- It says what lot_use says, but the lines of a pot are summed before they are parted into its foods. A solid given beside the plan
-- is all in the water: nothing more of it was lost beside the mouths, as of a pot's slurry.
CREATE VIEW fed AS
    SELECT tank.system AS system, u.food AS food, u.lot AS lot, u.round AS round, u.day AS day,
        CASE WHEN u.action = 'target' AND u.colony IS NULL THEN 'extra' ELSE u.action END AS action,
        u.units AS units, NULL AS allowed_frac
    FROM plain_use AS u JOIN tank ON tank.name = u.tank
    UNION ALL
    SELECT pg.system, pc.food, pc.lot, pg.round, pg.day, 'target', pg.given_ml * pc.in_pot_units / pc.mixed_ml, pc.allowed_frac
    FROM pot_given AS pg
    CROSS JOIN pot_mix AS pc ON pc.round = pg.round AND pc.revision = pg.revision AND pc.pot = pg.pot
    WHERE pc.mixed_ml > 0;

-- What rounds took from the lots: a pot is used up whole once it was mixed, a broadcast as it was given.
CREATE VIEW drawn_by_round AS
    SELECT lot, round, day, given_amount AS units FROM offered_line WHERE lot IS NOT NULL
    UNION ALL
    SELECT x.lot, x.round, round.day, x.amount_units FROM live_extra AS x
    JOIN round_in_force AS round ON round.number = x.round
    WHERE x.lot IS NOT NULL
    UNION ALL
    SELECT lot, round, day, drawn_units FROM pot_content WHERE lot IS NOT NULL AND used;

-- What left the lots in all.
CREATE VIEW drawn AS
    SELECT lot, sum(units) AS units
    FROM (SELECT lot, units FROM drawn_by_round UNION ALL SELECT lot, amount_units FROM live_waste) GROUP BY lot;

-- The rounds of one day share its ceilings and its stock, so each is planned beside what the others gave or, by their plans, are
-- still to give. Asked for by round and day.
CREATE VIEW open_line AS
    SELECT line.*, round.day, coalesce(round.name, '') AS name
    FROM round_in_force AS round
    CROSS JOIN line ON line.round = round.number AND line.revision = round.revision
    WHERE NOT EXISTS (SELECT 1 FROM live_given AS g WHERE g.round = line.round AND g.line = line.number);

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
    WHERE ol.action = 'target' AND pc.mixed_ml > 0;

CREATE VIEW day_claim AS
    SELECT round, day, name, lot, amount AS units FROM open_line WHERE lot IS NOT NULL
    UNION ALL
    SELECT pc.round, pc.day, coalesce(round.name, ''), pc.lot, pc.drawn_units
    FROM pot_content AS pc
    JOIN round_in_force AS round ON round.number = pc.round
    WHERE pc.lot IS NOT NULL AND NOT pc.used AND EXISTS (
        SELECT 1 FROM open_line AS ol WHERE ol.round = pc.round AND ol.pot = pc.pot);
