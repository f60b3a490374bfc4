/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings typed or loaded: judged beside those before, and put. */
#include "neap/readings.h"
#include "neap/log.h"
#include "neap/naming.h"

#include <ctype.h>

/* ---- what was read before ---------------------------------------------------------------------------------------- */

static struct known_list *list_of(const struct history *h, size_t system, int analyte)
{
    return &h->lists[system * N_ANALYTES + (size_t)analyte];
}

/* The first row that is not before a moment and repeat. */
static size_t place_of(const struct known_list *list, long taken, long repeat)
{
    size_t low = 0, high = list->n;
    while (low < high) {
        size_t mid = (low + high) / 2;
        const struct known_reading *k = &list->rows[mid];
        if (k->past.taken < taken || (k->past.taken == taken && k->repeat < repeat))
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

static bool is_at(const struct known_list *list, size_t at, long taken, long repeat)
{
    return at < list->n && list->rows[at].past.taken == taken && list->rows[at].repeat == repeat;
}

bool history_add(struct history *h, size_t system, int analyte, const struct known_reading *row, struct err *e)
{
    struct known_list *list = list_of(h, system, analyte);
    size_t at = place_of(list, row->past.taken, row->repeat);
    if (is_at(list, at, row->past.taken, row->repeat)) {
        bool same = list->rows[at].past.value == row->past.value && list->rows[at].past.below == row->past.below;
        bool flagged = row->flagged || (same && list->rows[at].flagged);
        list->rows[at] = *row;
        list->rows[at].flagged = flagged;
        return true;
    }
    struct known_reading *moved = mem_grow(list->rows, &list->room, list->n + 1, sizeof *list->rows);
    if (!moved)
        return err_memory(e);
    list->rows = moved;
    memmove(&list->rows[at + 1], &list->rows[at], (list->n - at) * sizeof *list->rows);
    list->rows[at] = *row;
    list->n++;
    return true;
}

bool history_begin(struct history *h, const struct facility *f, struct err *e)
{
    *h = (struct history){.n_lists = f->n_systems * N_ANALYTES};
    h->lists = calloc(h->n_lists + 1, sizeof *h->lists);
    if (!h->lists)
        return err_memory(e);
    for (size_t i = 0; i < f->n_tests; i++) {
        const struct test *t = &f->tests[i];
        const struct known_reading row = {{t->taken, t->value, t->below}, t->repeat, t->doubt == DOUBT_FLAGGED};
        if (!t->voided && !history_add(h, t->system, t->analyte, &row, e)) {
            history_free(h);
            return false;
        }
    }
    return true;
}

void history_free(struct history *h)
{
    for (size_t i = 0; h->lists && i < h->n_lists; i++)
        free(h->lists[i].rows);
    free(h->lists);
    *h = (struct history){0};
}

bool history_jump(const struct history *h, size_t system, const struct measured *r, long taken, long repeat,
                  struct past_reading *last)
{
    const struct known_list *list = list_of(h, system, r->analyte);
    size_t at = place_of(list, taken, repeat);
    if (is_at(list, at, taken, repeat) && list->rows[at].past.value == r->value &&
        list->rows[at].past.below == r->below)
        return false;
    while (at > 0) {
        const struct known_reading *before = &list->rows[--at];
        *last = before->past;
        if (!measured_is_jump(last, r, taken))
            return false;
        if (!before->flagged)
            return true;
    }
    return false;
}

void jump_words(const struct past_reading *last, struct text *out)
{
    char value[32], day[DAY_TEXT];
    number_format(last->value, value);
    day_format(moment_day(last->taken), day);
    text_addf(out, "far from %s%s on %s", last->below ? "below " : "", value, day);
}

/* ---- what was typed ---------------------------------------------------------------------------------------------- */

void typed_free(struct typed_list *list)
{
    arena_free(&list->arena);
    free(list->rows);
    *list = (struct typed_list){0};
}

bool system_named(const struct facility *f, const char *name, size_t *system, struct err *e)
{
    char quoted[EXCERPT_TEXT];
    *system = facility_named(f, REG_SYSTEM, name);
    if (*system == REF_NONE)
        return row_unknown(f, REG_SYSTEM, name, e);
    if (f->systems[*system].retired)
        return err_set(e, ERR_INPUT, NULL, "system \"%s\" is retired; expected one in use", text_excerpt(name, quoted));
    return true;
}

/* A moment has readings of one system and analyte numbered from 1; a refused value never comes this far. */
static bool add_typed(struct typed_list *list, size_t system, const struct measured *r, const char *text, struct err *e)
{
    const struct test t = {.value = r->value, .analyte = r->analyte, .below = r->below};
    size_t field;
    if (!reg_get(REG_TEST)->check(&t, &field, e))
        return false;
    struct typed_reading *moved = mem_grow(list->rows, &list->room, list->n + 1, sizeof *list->rows);
    if (!moved)
        return err_memory(e);
    list->rows = moved;
    struct typed_reading *row = &list->rows[list->n];
    *row = (struct typed_reading){.system = system, .reading = *r, .text = text, .repeat = 1};
    for (size_t i = 0; i < list->n; i++)
        if (list->rows[i].system == system && list->rows[i].reading.analyte == r->analyte)
            row->repeat++;
    list->n++;
    return true;
}

/* Words on their way to readings: arguments, or one line of a list. */
struct words {
    const char *const *word;
    size_t n, at;
    size_t system; /* REF_NONE: none named yet */
};

/* The value may go on in the next words: po4=18 ppb P. A word that names a system never belongs to a value. */
static bool read_with_blanks(struct typed_list *list, const struct facility *f, struct words *w, const char *name,
                             const char **text, struct measured *r, struct err *e)
{
    struct err first = {0};
    bool ok = measured_parse(name, *text, &list->scale, r, &first);
    const char *longer = *text;
    for (size_t i = w->at; i < w->n && i < w->at + 3; i++) {
        struct measured other;
        const char *next = w->word[i];
        if (strchr(next, '=') || facility_find(f, REG_SYSTEM, next) != REF_NONE)
            break;
        longer = arena_format(&list->arena, "%s %s", longer, next);
        if (!longer)
            return err_memory(e);
        if (measured_parse(name, longer, &list->scale, &other, NULL)) {
            *r = other;
            *text = longer;
            w->at = i + 1;
            i = w->at - 1;
            ok = true;
        }
    }
    if (!ok && e) {
        *e = first;
        if (first.code == ERR_INPUT)
            e->code = ERR_MISUSE;
    }
    return ok;
}

static bool take_word(struct typed_list *list, const struct facility *f, struct words *w, struct err *e)
{
    char name[NAME_BYTES_MAX + 1];
    const char *word = w->word[w->at++], *text;
    struct measured r;
    if (!strchr(word, '='))
        return system_named(f, word, &w->system, e);
    if (!split_assignment(word, name, &text, e))
        return false;
    if (w->system == REF_NONE)
        return err_set(e, ERR_MISUSE, NULL, "\"%.60s\" stands before any system; expected SYSTEM ANALYTE=VALUE …",
                       word);
    return read_with_blanks(list, f, w, name, &text, &r, e) && add_typed(list, w->system, &r, text, e);
}

static bool is_quiet_system(const struct words *w, size_t from)
{
    return !strchr(w->word[from], '=') && (w->at == w->n || !strchr(w->word[w->at], '='));
}

bool typed_words(struct typed_list *list, const struct facility *f, const char *const *words, size_t n, struct err *e)
{
    struct words w = {.word = words, .n = n, .system = REF_NONE};
    while (w.at < n) {
        size_t from = w.at;
        if (!take_word(list, f, &w, e))
            return false;
        if (is_quiet_system(&w, from))
            return err_set(e, ERR_MISUSE, NULL,
                           "no reading stands behind \"%.60s\"; expected ANALYTE=VALUE, such as no3=8.5", words[from]);
    }
    return true;
}

/* ---- a list of lines --------------------------------------------------------------------------------------------- */

enum { LINE_WORDS_MAX = 64, FAULTS_SHOWN = 12 };

struct line_words {
    const char *word[LINE_WORDS_MAX];
    long column[LINE_WORDS_MAX];
    size_t n;
};

/* Blanks part words; a pair of quotes keeps them within one. A line of more words than any analytes is cut: *more. */
static bool split_line(struct typed_list *list, const char *s, size_t len, struct line_words *out, bool *more,
                       struct err *e)
{
    size_t i = 0;
    long column = 1;
    out->n = 0;
    *more = false;
    while (i < len) {
        struct text word = {0};
        bool quoted = false;
        long begins = column;
        size_t from = i;
        for (; i < len && (quoted || !isspace((unsigned char)s[i])); i++) {
            if (s[i] == '"')
                quoted = !quoted;
            else
                text_add_char(&word, s[i], 1);
            column += ((unsigned char)s[i] & 0xC0) != 0x80;
        }
        if (i > from && out->n < LINE_WORDS_MAX) {
            out->column[out->n] = begins;
            out->word[out->n++] = arena_text(&list->arena, text_str(&word));
        } else if (i > from) {
            *more = true;
        }
        bool failed = word.failed || (out->n > 0 && !out->word[out->n - 1]);
        text_free(&word);
        if (failed)
            return err_memory(e);
        for (; i < len && isspace((unsigned char)s[i]); i++)
            column++;
    }
    return true;
}

struct fault_list {
    struct text lines;
    size_t n;
};

static void fault(struct fault_list *faults, const char *name, long line, long column, const char *what)
{
    struct err said;
    const struct place at = {name, line, column};
    if (faults->n++ >= FAULTS_SHOWN)
        return;
    err_set(&said, ERR_INPUT, &at, "%s", what);
    text_addf(&faults->lines, "%s%s", faults->n > 1 ? "\n" : "", said.text);
}

static bool is_fault(const struct err *e)
{
    return e->code == ERR_INPUT || e->code == ERR_NOT_FOUND || e->code == ERR_MISUSE;
}

static bool take_line(struct typed_list *list, const struct facility *f, const char *name, long line,
                      const struct line_words *words, struct fault_list *faults, struct err *e)
{
    struct words w = {.word = words->word, .n = words->n, .system = REF_NONE};
    while (w.at < w.n) {
        struct err why = {0};
        size_t from = w.at;
        if (take_word(list, f, &w, &why)) {
            if (is_quiet_system(&w, from))
                fault(faults, name, line, words->column[from],
                      "no reading stands behind the system; expected ANALYTE=VALUE");
            continue;
        }
        if (!is_fault(&why)) {
            *e = why;
            return false;
        }
        fault(faults, name, line, words->column[from], why.text);
        if (w.system == REF_NONE) /* what follows an unknown system is no fault of its own */
            return true;
    }
    return true;
}

static bool report(struct fault_list *faults, struct err *e)
{
    if (faults->n > FAULTS_SHOWN)
        text_addf(&faults->lines, "\n… and %zu more", faults->n - FAULTS_SHOWN);
    bool ok = faults->n == 0 || err_set(e, ERR_INPUT, NULL, "nothing was stored, %zu fault%s:\n%s", faults->n,
                                        faults->n > 1 ? "s" : "", text_str(&faults->lines));
    text_free(&faults->lines);
    return ok;
}

bool typed_lines(struct typed_list *list, const struct facility *f, const char *name, const char *bytes, size_t len,
                 struct err *e)
{
    struct fault_list faults = {0};
    size_t bad;
    if (!utf8_valid(bytes, len, &bad) || memchr(bytes, 0, len))
        return err_set(e, ERR_INPUT, NULL, "%s: is not text; expected UTF-8", name);
    long line = 1;
    for (size_t i = 0; i < len; line++) {
        struct line_words words;
        bool more;
        const char *end = memchr(bytes + i, '\n', len - i);
        size_t n = end ? (size_t)(end - bytes) - i : len - i;
        if (!split_line(list, bytes + i, n, &words, &more, e) ||
            (words.n > 0 && !take_line(list, f, name, line, &words, &faults, e))) {
            text_free(&faults.lines);
            return false;
        }
        if (more)
            fault(&faults, name, line, 1, "has too many words; expected one system and its readings");
        i += n + 1;
    }
    return report(&faults, e);
}
