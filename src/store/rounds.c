/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Kept plans: a round's parts are rows of registers, written and read by the field table. */
#include "internal.h"

/* The parts of a round, as rows of a register: where they hang in struct round. */
static const struct round_part {
    enum reg_id reg;
    size_t array_offset, count_offset;
} parts[] = {
    {REG_ASKED, offsetof(struct round, asked), offsetof(struct round, n_asked)},
    {REG_POT, offsetof(struct round, pots), offsetof(struct round, n_pots)},
    {REG_POT_FOOD, offsetof(struct round, pot_foods), offsetof(struct round, n_pot_foods)},
    {REG_LINE, offsetof(struct round, lines), offsetof(struct round, n_lines)},
    {REG_WAITING, offsetof(struct round, waitings), offsetof(struct round, n_waitings)},
    {REG_CAUTION, offsetof(struct round, cautions), offsetof(struct round, n_cautions)},
    {REG_SWITCHING, offsetof(struct round, switchings), offsetof(struct round, n_switchings)},
};

static char *part_rows(const struct round *r, const struct round_part *p)
{
    return *(char *const *)(const void *)((const char *)r + p->array_offset);
}

static size_t part_count(const struct round *r, const struct round_part *p)
{
    return *(const size_t *)(const void *)((const char *)r + p->count_offset);
}

bool store_round_revision(struct store *s, long number, long *revision, struct err *e)
{
    struct text sql = {0};
    text_addf(&sql, "SELECT coalesce(max(revision), 0) FROM round WHERE number = %ld", number);
    bool ok = sql.failed ? err_memory(e) : store_number(s, text_str(&sql), 0, revision, e);
    text_free(&sql);
    return ok && (*revision > 0 || err_set(e, ERR_NOT_FOUND, NULL, "there is no round %ld", number));
}

static bool load_rows(struct store *s, const struct facility *f, enum reg_id id, const struct round_head *head,
                      struct arena *a, void *rows, size_t *n, struct err *e)
{
    char where[80];
    const char *number = reg_get(id)->fields[0].name; /* "number" in the head, "round" in its parts */
    snprintf(where, sizeof where, " WHERE %s = %ld AND revision = %ld", number, head->number, head->revision);
    return store_load_rows(s, f, id, where, a, rows, n, e);
}

/* What all who read a round rely on: where corals are fed the line has a colony, where food is given a food. */
static bool lines_hold(const struct round *r, struct err *e)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        bool fed = l->action == ACTION_TARGET, given = l->action == ACTION_BROADCAST || l->action == ACTION_FISH;
        if ((fed && l->colony == REF_NONE) || (given && l->food == REF_NONE))
            return err_set(e, ERR_STORE, NULL, "the store is damaged: a line whose %s is empty",
                           fed ? "colony" : "food");
    }
    return true;
}

bool store_load_round(struct store *s, const struct facility *f, long number, struct round *r, struct err *e)
{
    struct round_head head = {.number = number}, *kept = NULL;
    size_t n;
    *r = (struct round){0};
    if (!store_round_revision(s, number, &head.revision, e))
        return false;
    bool ok = load_rows(s, f, REG_ROUND, &head, &r->arena, &kept, &n, e);
    if (ok)
        r->head = *kept;
    for (size_t i = 0; ok && i < COUNT_OF(parts); i++)
        ok = load_rows(s, f, parts[i].reg, &head, &r->arena, (char *)r + parts[i].array_offset,
                       (size_t *)(void *)((char *)r + parts[i].count_offset), e);
    ok = ok && lines_hold(r, e);
    if (!ok)
        round_free(r);
    return ok;
}

/* Same rows, whatever number and revision they carry? *same false: not looked at. */
static bool same_rows(const struct reg *r, const char *a, const char *b, size_t n, const struct facility *f, bool *same,
                      struct err *e)
{
    struct arena scratch = {0};
    struct cell left[FIELDS_MAX], right[FIELDS_MAX];
    bool ok = true;
    for (size_t i = 0; ok && *same && i < n; i++) {
        ok = row_read(r, a + i * r->row_size, f, left, &scratch, e) &&
             row_read(r, b + i * r->row_size, f, right, &scratch, e);
        for (size_t k = 2; ok && k < r->n_fields; k++) /* past number and revision */
            *same = *same && cell_same(&left[k], &right[k]);
        arena_free(&scratch);
    }
    return ok;
}

/* As many rows in both: *same says so. */
static bool same_part(const struct round *a, const struct round *b, const struct round_part *p,
                      const struct facility *f, bool *same, struct err *e)
{
    return same_rows(reg_get(p->reg), part_rows(a, p), part_rows(b, p), part_count(a, p), f, same, e);
}

static bool same_round(const struct round *a, const struct round *b, const struct facility *f, bool *same,
                       struct err *e)
{
    *same = true;
    if (!same_rows(reg_get(REG_ROUND), (const char *)&a->head, (const char *)&b->head, 1, f, same, e))
        return false;
    for (size_t i = 0; *same && i < COUNT_OF(parts); i++) {
        *same = part_count(a, &parts[i]) == part_count(b, &parts[i]);
        if (!same_part(a, b, &parts[i], f, same, e))
            return false;
    }
    return true;
}

static bool keep_rows(struct store *s, const struct facility *f, enum reg_id id, char *rows, size_t n,
                      const struct round_head *head, struct err *e)
{
    const struct reg *r = reg_get(id);
    enum put outcome;
    bool ok = true;
    for (size_t i = 0; ok && i < n; i++) {
        char *row = rows + i * r->row_size;
        *(long *)(void *)(row + r->fields[0].offset) = head->number;
        *(long *)(void *)(row + r->fields[1].offset) = head->revision;
        ok = row_put(s, f, id, row, &outcome, e);
    }
    return ok;
}

/* The lines that are logged, in the order of their numbers; n_lines of room. */
static bool read_logged(struct store *s, long number, bool *logged, size_t n_lines, struct err *e)
{
    sqlite3_stmt *stmt;
    int rc;
    if (!store_prepare(s, "SELECT line FROM live_given WHERE round = ?1", &stmt, e))
        return false;
    sqlite3_bind_int64(stmt, 1, number);
    while ((rc = sqlite3_step(stmt)) == SQLITE_ROW) {
        long line = sqlite3_column_int64(stmt, 0);
        if (line >= 1 && (size_t)line <= n_lines)
            logged[line - 1] = true;
    }
    sqlite3_finalize(stmt);
    return rc == SQLITE_DONE || store_fail(s, e);
}

/* Lines that differ in nothing but time, feeder and lot, and those that are logged not even in them. */
static bool same_but_times(struct store *s, const struct round *r, const struct round *kept, const struct facility *f,
                           bool *same, struct err *e)
{
    struct arena a = {0};
    const struct reg *lines = reg_get(REG_LINE);
    bool *logged = arena_alloc(&a, r->n_lines, sizeof *logged);
    bool ok = logged ? read_logged(s, kept->head.number, logged, r->n_lines, e) : err_memory(e);
    for (size_t i = 0; ok && *same && i < r->n_lines; i++) {
        struct line timed = r->lines[i];
        if (!logged[i]) {
            timed.feeder = kept->lines[i].feeder;
            timed.start_min = kept->lines[i].start_min;
            timed.end_min = kept->lines[i].end_min;
            timed.lot = kept->lines[i].lot;
        }
        ok = same_rows(lines, (const char *)&timed, (const char *)&kept->lines[i], 1, f, same, e);
    }
    arena_free(&a);
    return ok;
}

/* The same foods in the same amounts; a recalled lot may have given way to another. */
static bool same_pot_foods(const struct round *r, const struct round *kept, const struct facility *f, bool *same,
                           struct err *e)
{
    bool ok = true;
    for (size_t i = 0; ok && *same && i < r->n_pot_foods; i++) {
        struct pot_food as_kept = r->pot_foods[i];
        as_kept.lot = kept->pot_foods[i].lot;
        ok = same_rows(reg_get(REG_POT_FOOD), (const char *)&as_kept, (const char *)&kept->pot_foods[i], 1, f, same, e);
    }
    return ok;
}

/* Is it the kept plan with its clock set anew? What was logged by line and pot then means the same. */
static bool same_work(struct store *s, const struct round *r, const struct round *kept, const struct facility *f,
                      bool *same, struct err *e)
{
    *same = r->n_lines == kept->n_lines;
    for (size_t i = 0; *same && i < COUNT_OF(parts); i++) {
        const struct round_part *p = &parts[i];
        if (p->reg == REG_LINE || p->reg == REG_CAUTION || p->reg == REG_SWITCHING || p->reg == REG_ASKED)
            continue; /* these follow the clock, or say that it was set */
        *same = part_count(r, p) == part_count(kept, p);
        if (!(p->reg == REG_POT_FOOD ? same_pot_foods(r, kept, f, same, e) : same_part(r, kept, p, f, same, e)))
            return false;
    }
    return !*same || same_but_times(s, r, kept, f, same, e);
}

static bool may_replace(struct store *s, const struct round *r, const struct round *kept, long logged,
                        const struct facility *f, struct err *e)
{
    bool same = true;
    if (logged == 0)
        return true;
    if (!same_work(s, r, kept, f, &same, e))
        return false;
    return same || err_set(e, ERR_MISUSE, NULL,
                           "round %ld has %ld %s logged, so its plan stands; plan --from-now goes on from there: it "
                           "sets the clock anew and drops what was held, has died or is skipped",
                           kept->head.number, logged, logged == 1 ? "entry" : "entries");
}

/* The round that is kept of a name for a day; *number 0: none. */
static bool kept_number(struct store *s, const struct round_head *head, long *number, struct err *e)
{
    struct arena a = {0};
    struct kept_round *kept;
    size_t n;
    bool ok = store_rounds(s, head->day, head->day, &a, &kept, &n, e);
    *number = 0;
    for (size_t i = 0; ok && i < n; i++)
        if (strcmp(kept[i].name, head->name) == 0)
            *number = kept[i].number;
    arena_free(&a);
    return ok;
}

/* The number and revision of a new plan for the day's round of its name; *same: the kept one is no different. */
static bool next_revision(struct store *s, const struct facility *f, struct round *r, bool *same, struct err *e)
{
    struct round kept;
    struct text sql = {0};
    long logged = 0, number;
    *same = false;
    if (!kept_number(s, &r->head, &number, e))
        return false;
    if (number == 0) {
        r->head.revision = 1;
        return store_number(s, "SELECT 1 + coalesce(max(number), 0) FROM round", 1, &r->head.number, e);
    }
    if (!store_load_round(s, f, number, &kept, e))
        return false;
    r->head.number = kept.head.number;
    r->head.revision = kept.head.revision;
    static const char *const ledgers[] = {"given", "extra", "mixed", "weighed"};
    for (size_t i = 0; i < COUNT_OF(ledgers); i++)
        text_addf(&sql, "%s(SELECT count(*) FROM live_%s WHERE round = %ld)", i == 0 ? "SELECT " : " + ", ledgers[i],
                  kept.head.number);
    bool ok = (sql.failed ? err_memory(e) : store_number(s, text_str(&sql), 0, &logged, e)) &&
              same_round(r, &kept, f, same, e);
    ok = ok && (*same || may_replace(s, r, &kept, logged, f, e));
    if (ok && !*same)
        r->head.revision++;
    text_free(&sql);
    round_free(&kept);
    return ok;
}

bool store_keep_round(struct store *s, const struct facility *f, struct round *r, bool *same, struct err *e)
{
    if (!next_revision(s, f, r, same, e))
        return false;
    if (*same)
        return true;
    bool ok = keep_rows(s, f, REG_ROUND, (char *)&r->head, 1, &r->head, e);
    for (size_t i = 0; ok && i < COUNT_OF(parts); i++)
        ok = keep_rows(s, f, parts[i].reg, part_rows(r, &parts[i]), part_count(r, &parts[i]), &r->head, e);
    return ok;
}
