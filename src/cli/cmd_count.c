/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap count: corals sold, died, divided or found. */
#include "files.h"

#include "neap/colonies.h"
#include "neap/replan.h"

#include <inttypes.h>

/* ---- one colony ------------------------------------------------------------------------------------------------- */

static bool parse_reason(const char *word, enum tally_reason *reason, struct err *e)
{
    const char *names[TALLY_MOVED];
    for (int i = 0; i < TALLY_MOVED; i++) {
        names[i] = tally_reason_name((enum tally_reason)i);
        if (strcmp(names[i], word) == 0) {
            *reason = (enum tally_reason)i;
            return true;
        }
    }
    const char *near_by = name_nearest(word, names, TALLY_MOVED);
    return err_set(e, ERR_MISUSE, NULL, "\"%.60s\" is no reason; expected sold, died, divided or found%s%s%s", word,
                   near_by ? " (did you mean \"" : "", near_by ? near_by : "", near_by ? "\"?)" : "");
}

static bool is_fewer(enum tally_reason reason)
{
    return reason == TALLY_SOLD || reason == TALLY_DIED;
}

/* "3": so many fewer or more, by the reason; "=17": so many are there. */
static bool parse_change(struct store *s, const char *word, struct count_change *ch, struct err *e)
{
    struct arena scratch = {0};
    struct cell cells[FIELDS_MAX];
    long n;
    bool exact = word[0] == '=';
    if (!count_parse(word + exact, &n) || n < (exact ? 0 : 1) || n > 100000)
        return err_set(e, ERR_MISUSE, NULL,
                       "\"%.60s\" is no count; expected how many were %s, or =N for how many are there", word,
                       tally_reason_name(ch->reason));
    bool ok = colony_get(s, ch->colony, cells, &scratch, e);
    ch->by = exact ? n - (ok ? colony_count(cells) : 0) : is_fewer(ch->reason) ? -n : n;
    if (ok && ch->by == 0)
        ok = err_set(e, ERR_INPUT, NULL, "%s: %ld are there already; expected another count", ch->colony, n);
    if (ok && (ch->by < 0) != is_fewer(ch->reason))
        ok = err_set(e, ERR_INPUT, NULL, "%s: %ld are there, so =%ld is %s; expected %s", ch->colony,
                     colony_count(cells), n, ch->by < 0 ? "fewer" : "more",
                     ch->by < 0 ? "sold or died" : "divided or found");
    arena_free(&scratch);
    return ok;
}

static bool count_one(struct context *c, struct store *s, struct err *e)
{
    struct count_change ch = {.colony = c->args[0], .moment = c->now};
    long left;
    if (!parse_reason(c->args[2], &ch.reason, e) || !parse_change(s, c->args[1], &ch, e) ||
        !colony_change(s, &ch, &left, e))
        return false;
    text_addf(c->out, "%s: %ld %s, %ld %s\n", ch.colony, labs(ch.by), tally_reason_name(ch.reason), left,
              left == 0             ? "left; it is retired"
              : is_fewer(ch.reason) ? "left"
                                    : "in all");
    return true;
}

/* ---- a till's sales --------------------------------------------------------------------------------------------- */

struct sale {
    size_t colony;
    long sold;
    int day;
};

static const struct field sale_fields[] = {
    {.name = "colony",
     .type = FIELD_REF,
     .flags = FIELD_KEY | FIELD_REQUIRED,
     .offset = offsetof(struct sale, colony),
     .ref = REG_COLONY,
     .help = "code of the colony"},
    {.name = "sold",
     .type = FIELD_COUNT,
     .flags = FIELD_REQUIRED,
     .offset = offsetof(struct sale, sold),
     .min = 1,
     .max = 100000,
     .help = "how many"},
    {.name = "day", .type = FIELD_DAY, .offset = offsetof(struct sale, day), .help = "when; else today"},
};

static const struct reg sale_reg = {"sale", "a till's sales", .fields = sale_fields, .n_fields = COUNT_OF(sale_fields),
                                    .row_size = sizeof(struct sale)};

struct till {
    struct context *c;
    struct store *s;
    const char *from_file;
    long rows, sold, gone; /* gone: colonies of which none are left */
};

static bool take_sale(void *context, const struct exchange_row *row, size_t *field, struct err *e)
{
    struct till *t = context;
    struct sale sale;
    long left;
    if (row->reg != &sale_reg)
        return err_set(e, ERR_INPUT, NULL, "expected a CSV with the headings colony and sold");
    if (!row_fill(&sale_reg, row->cells, &sale, field, e))
        return false;
    struct count_change ch = {.colony = row->cells[0].text,
                              .by = -sale.sold,
                              .reason = TALLY_SOLD,
                              .from_file = t->from_file,
                              .moment = sale.day == DAY_NONE ? t->c->now : sale.day * MIN_PER_DAY + 12 * 60};
    if (!colony_change(t->s, &ch, &left, e))
        return false;
    t->rows++;
    t->sold += sale.sold;
    t->gone += left == 0;
    return true;
}

/* Name and content (64-bit FNV-1a), so that a file is not booked twice by chance, whatever it is called. */
static const char *mark_of(struct arena *a, const char *path, const char *bytes, size_t len)
{
    const char *name = strrchr(path, '/');
    uint64_t hash = 14695981039346656037u;
    for (size_t i = 0; i < len; i++)
        hash = (hash ^ (unsigned char)bytes[i]) * 1099511628211u;
    return arena_format(a, "%.200s %016" PRIx64, name ? name + 1 : path, hash);
}

struct booking {
    const char *mark;
    char booked[MOMENT_TEXT];
};

static bool look_for(void *context, const struct cell *cells, struct err *e)
{
    (void)e;
    struct booking *s = context;
    const struct reg *r = reg_get(REG_TALLY);
    const struct cell *from = &cells[reg_field(r, "from_file")];
    size_t len = from->kind == CELL_TEXT ? strlen(from->text) : 0;
    if (len >= 16 && strcmp(from->text + len - 16, s->mark + strlen(s->mark) - 16) == 0)
        snprintf(s->booked, sizeof s->booked, "%s", cells[reg_field(r, "changed")].text);
    return true;
}

static bool not_booked(struct till *t, struct err *e)
{
    struct booking search = {.mark = t->from_file};
    if (option_given(t->c, "again"))
        return true;
    if (!store_each(t->s, reg_get(REG_TALLY), look_for, &search, e))
        return false;
    return !*search.booked ||
           err_set(e, ERR_INPUT, NULL, "this file was booked before, with a sale of %s; --again books it once more",
                   search.booked);
}

static bool count_file(struct context *c, struct store *s, const char *path, struct err *e)
{
    struct arena a = {0};
    struct csv_form form;
    struct till t = {.c = c, .s = s};
    const struct exchange_sink sink = {take_sale, &t, NULL};
    char *bytes;
    size_t len, rows;
    if (!csv_form_given(c, &form, &a, e) || !file_read(path, &bytes, &len, e)) {
        arena_free(&a);
        return false;
    }
    const struct source source = {.name = path, .bytes = bytes, .len = len, .form = &form};
    t.from_file = mark_of(&a, path, bytes, len);
    bool ok = t.from_file ? not_booked(&t, e) : err_memory(e);
    ok = ok && source_rows(c, &source, &sale_reg, &sink, &rows, e);
    if (ok)
        text_addf(c->out, "read %zu, booked %ld: %ld sold, %ld lot%s with none left retired\n", rows, t.rows, t.sold,
                  t.gone, t.gone == 1 ? "" : "s");
    arena_free(&a);
    free(bytes);
    return ok;
}

static bool count_run(struct context *c, struct err *e)
{
    struct store *s;
    const char *path = option_text(c, "from", NULL);
    if (path ? c->n_args != 0 : c->n_args != 3)
        return err_set(e, ERR_MISUSE, NULL,
                       "expected neap count COLONY N sold|died|divided|found, or neap count --from FILE");
    if (!context_open(c, STORE_WRITE, &s, e))
        return false;
    bool ok = store_begin(s, e) && (path ? count_file(c, s, path, e) : count_one(c, s, e));
    ok = context_end(c, s, ok, e);
    store_close(s);
    return ok;
}

const struct command command_count = {
    .name = "count",
    .place = 310,
    .summary = "corals sold, died, divided or found",
    .also = "sold sale sales died dead divided found",
    .usage = "COLONY N|=N sold|died|divided|found",
    .about =
        "Changes the count of a lot of corals and keeps the reason: N fewer where sold or died, N more where divided "
        "or "
        "found; =N is how many are there now. None left retires the lot. --from reads a till's CSV with the headings "
        "colony and sold (and day), all of it or nothing, and no file twice.",
    .example = "neap count N3-001 2 sold",
    .options = (const struct option_row[]){{"from", OPT_TEXT, "FILE", .help = "a till's sales as CSV"},
                                           {"again", OPT_FLAG, .help = "book a file that was booked before"},
                                           OPTIONS_CSV_FORM,
                                           OPTION_DRY_RUN,
                                           {0}},
    .args_max = 3,
    .run = count_run,
};
