/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Counts, moves and parts of colonies, as they are entered. */
#include "neap/colonies.h"
#include "neap/replan.h"

static size_t at(enum reg_id id, const char *field)
{
    return reg_field(reg_get(id), field);
}

static struct cell text_cell(const char *text)
{
    return text ? (struct cell){.kind = CELL_TEXT, .text = text} : (struct cell){0};
}

static struct cell whole_cell(long n)
{
    return (struct cell){.kind = CELL_WHOLE, .whole = n};
}

const char *tally_reason_name(enum tally_reason reason)
{
    return reg_get(REG_TALLY)->fields[at(REG_TALLY, "reason")].choices[reason];
}

bool colony_get(struct store *s, const char *code, struct cell *cells, struct arena *a, struct err *e)
{
    struct err why;
    cells[0] = text_cell(code);
    return store_get(s, reg_get(REG_COLONY), cells, cells, a, &why) ||
           err_set(e, why.code, NULL, why.code == ERR_NOT_FOUND ? "colony %s" : "%s", why.text);
}

long colony_count(const struct cell *cells)
{
    const struct cell *count = &cells[at(REG_COLONY, "count")], *retired = &cells[at(REG_COLONY, "retired")];
    if (retired->kind == CELL_WHOLE && retired->whole != 0)
        return 0;
    return count->kind == CELL_WHOLE ? count->whole : 1;
}

const char *colony_tank(const struct cell *cells)
{
    return cells[at(REG_COLONY, "tank")].text;
}

/* code: the colony's as it is; it may have been typed in another case. */
static bool put_tally(struct store *s, const struct count_change *ch, const char *code, const char *was_in,
                      const char *is_in, struct err *e)
{
    const struct reg *r = reg_get(REG_TALLY);
    struct cell cells[FIELDS_MAX] = {{0}};
    bool present[FIELDS_MAX];
    char moment[MOMENT_TEXT];
    enum put outcome;
    size_t field;
    for (size_t i = 0; i < r->n_fields; i++)
        present[i] = true;
    moment_format(ch->moment, moment);
    cells[at(REG_TALLY, "colony")] = text_cell(code);
    cells[at(REG_TALLY, "changed")] = text_cell(moment);
    cells[at(REG_TALLY, "change")] = whole_cell(ch->by);
    cells[at(REG_TALLY, "reason")] = text_cell(tally_reason_name(ch->reason));
    cells[at(REG_TALLY, "tank")] = text_cell(is_in);
    cells[at(REG_TALLY, "from_tank")] = text_cell(strcmp(was_in, is_in) != 0 ? was_in : NULL);
    cells[at(REG_TALLY, "other")] = text_cell(ch->other);
    cells[at(REG_TALLY, "from_file")] = text_cell(ch->from_file);
    return store_next_repeat(s, r, cells, e) && store_put(s, r, cells, present, &outcome, &field, e);
}

bool colony_change(struct store *s, const struct count_change *ch, long *left, struct err *e)
{
    const struct reg *r = reg_get(REG_COLONY);
    struct arena scratch = {0};
    struct cell cells[FIELDS_MAX];
    bool present[FIELDS_MAX] = {false};
    enum put outcome;
    size_t field;
    struct err why;
    bool ok = colony_get(s, ch->colony, cells, &scratch, e);
    if (ok) {
        long count = colony_count(cells);
        const char *was_in = colony_tank(cells), *is_in = ch->tank ? ch->tank : was_in;
        long by = ch->booked ? 0 : ch->by;
        *left = count + by;
        if (*left < 0)
            ok = err_set(e, ERR_INPUT, NULL, "%s: %ld are to go and %ld are there; expected at most that many",
                         ch->colony, -ch->by, count);
        cells[at(REG_COLONY, "count")] = whole_cell(*left > 0 ? *left : 1);
        cells[at(REG_COLONY, "retired")] = whole_cell(*left == 0);
        cells[at(REG_COLONY, "tank")] = text_cell(is_in);
        present[0] = true;
        present[at(REG_COLONY, "count")] = by != 0;
        present[at(REG_COLONY, "retired")] = (*left == 0) != (count == 0);
        present[at(REG_COLONY, "tank")] = ch->tank != NULL;
        if (ok && !store_put(s, r, cells, present, &outcome, &field, &why))
            ok = err_set(e, why.code, NULL, "%s%s%s", field == SIZE_MAX ? "" : r->fields[field].name,
                         field == SIZE_MAX ? "" : " ", why.text);
        ok = ok && put_tally(s, ch, cells[0].text, was_in, is_in, e);
    }
    arena_free(&scratch);
    return ok;
}

bool colony_free_code(struct store *s, const char *code, struct arena *a, const char **found, struct err *e)
{
    struct cell cells[FIELDS_MAX];
    struct err why = {0};
    for (int n = 2; n < 1000; n++) {
        *found = arena_format(a, "%s/%d", code, n);
        if (!*found)
            return err_memory(e);
        if (colony_get(s, *found, cells, a, &why))
            continue;
        if (strlen(*found) > NAME_BYTES_MAX)
            return err_set(e, ERR_INPUT, NULL, "\"%s\" is longer than a code may be; expected --as CODE", *found);
        return why.code == ERR_NOT_FOUND || err_set(e, why.code, NULL, "%s", why.text);
    }
    return err_set(e, ERR_INPUT, NULL, "%s was divided too often for a code of its own; expected --as CODE", code);
}

static bool put_row(struct store *s, const struct cell *cells, const bool *present, struct err *e)
{
    const struct reg *r = reg_get(REG_COLONY);
    enum put outcome;
    size_t field;
    struct err why;
    return store_put(s, r, cells, present, &outcome, &field, &why) ||
           err_set(e, why.code, NULL, "%s %s", field == SIZE_MAX ? "it" : r->fields[field].name, why.text);
}

bool colony_put_part(struct store *s, const struct facility *f, const struct colony_part *part, struct err *e)
{
    const struct reg *r = reg_get(REG_COLONY);
    struct arena scratch = {0};
    struct cell cells[FIELDS_MAX], key[FIELDS_MAX];
    bool present[FIELDS_MAX];
    size_t old = facility_named(f, REG_COLONY, part->of);
    char fed[DAY_TEXT];
    bool taken = false, ok = colony_get(s, part->of, cells, &scratch, e);
    for (size_t i = 0; i < r->n_fields; i++)
        present[i] = true;
    key[0] = text_cell(part->code);
    ok = ok && store_find(s, r, key, key, &taken, &scratch, e);
    if (ok && taken)
        ok = err_set(e, ERR_INPUT, NULL, "there is a colony \"%s\" already; expected a new code", part->code);
    cells[0] = text_cell(part->code);
    cells[at(REG_COLONY, "count")] = whole_cell(part->count);
    if (part->tank)
        cells[at(REG_COLONY, "tank")] = text_cell(part->tank);
    if (part->heads > 0)
        cells[at(REG_COLONY, "heads")] = whole_cell(part->heads);
    if (old != REF_NONE && f->colonies[old].last_fed != DAY_NONE) {
        day_format(f->colonies[old].last_fed, fed);
        cells[at(REG_COLONY, "fed_before")] = text_cell(fed);
    }
    ok = ok && put_row(s, cells, present, e);
    arena_free(&scratch);
    return ok;
}

bool colony_hold(struct store *s, const char *code, const char *reason, int until, struct err *e)
{
    struct cell cells[FIELDS_MAX] = {{0}};
    bool present[FIELDS_MAX] = {false};
    char day[DAY_TEXT];
    day_format(until, day);
    cells[0] = text_cell(code);
    cells[at(REG_COLONY, "hold_reason")] = text_cell(reason);
    cells[at(REG_COLONY, "hold_until")] = text_cell(day);
    present[0] = present[at(REG_COLONY, "hold_reason")] = present[at(REG_COLONY, "hold_until")] = true;
    return put_row(s, cells, present, e);
}

static bool planned_in(struct store *s, const struct facility *f, long number, size_t colony, struct text *out,
                       struct err *e)
{
    struct round r;
    char words[ROUND_WORDS];
    if (!store_load_round(s, f, number, &r, e))
        return false;
    for (size_t i = 0; i < r.n_lines; i++)
        if (r.lines[i].colony == colony) {
            text_addf(out, "%s of today has %s in %s, line %ld; plan again, or watch for it at the tank\n",
                      round_words(&r.head, words), f->colonies[colony].code, f->tanks[r.lines[i].tank].name,
                      r.lines[i].number);
            break;
        }
    round_free(&r);
    return true;
}

bool colony_planned(struct store *s, int today, const struct facility *f, const char *code, struct text *out,
                    struct err *e)
{
    struct arena a = {0};
    struct kept_round *kept;
    size_t n, colony = facility_find(f, REG_COLONY, code);
    bool ok = store_rounds(s, today, today, &a, &kept, &n, e);
    for (size_t i = 0; ok && colony != REF_NONE && i < n; i++)
        ok = planned_in(s, f, kept[i].number, colony, out, e);
    arena_free(&a);
    return ok && (!out->failed || err_memory(e));
}
