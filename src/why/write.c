/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An explanation is written here, step by step, each number with its origin. */
#include "neap/why.h"
#include "why/why.h"

const char *why_format(struct why *y, const char *fmt, ...)
{
    char text[NOTE_BYTES_MAX * 2];
    va_list ap;
    va_start(ap, fmt);
    vsnprintf(text, sizeof text, fmt, ap);
    va_end(ap);
    utf8_cut_whole(text);
    const char *s = arena_text(y->a, text);
    y->failed = y->failed || !s;
    return s ? s : "";
}

const char *why_number_words(struct why *y, double v, const char *unit)
{
    char digits[64];
    number_short(v, 5, digits);
    return why_format(y, "%s%s%s", digits, *unit ? " " : "", unit);
}

/* ---- steps and rows --------------------------------------------------------------------------------------------- */

/* One more in an array of the arena, which doubles as it grows; NULL: no memory. */
static void *more(struct why *y, void *array, size_t n, size_t *room, size_t size)
{
    if (n < *room)
        return array;
    size_t larger = *room ? *room * 2 : 8;
    void *moved = arena_alloc(y->a, larger, size);
    if (!moved) {
        y->failed = true;
        return NULL;
    }
    if (n > 0)
        memcpy(moved, array, n * size);
    *room = larger;
    return moved;
}

void why_step(struct why *y, const char *title, const char *formula)
{
    struct explanation *x = y->x;
    struct why_step *steps = more(y, x->steps, x->n_steps, &x->room_steps, sizeof *steps);
    if (!steps)
        return;
    x->steps = steps;
    x->steps[x->n_steps++] = (struct why_step){.title = title, .formula = formula};
}

static void add_row(struct why *y, const struct why_row *row)
{
    if (y->failed || y->x->n_steps == 0)
        return;
    struct why_step *s = &y->x->steps[y->x->n_steps - 1];
    struct why_row *rows = more(y, s->rows, s->n_rows, &s->room, sizeof *rows);
    if (!rows)
        return;
    s->rows = rows;
    s->rows[s->n_rows++] = *row;
}

void why_number(struct why *y, const char *what, double value, const char *unit, const char *origin)
{
    add_row(y, &(struct why_row){WHY_NUMBER, what, value, unit, "", origin});
}

void why_words(struct why *y, const char *what, const char *words, const char *origin)
{
    add_row(y, &(struct why_row){WHY_WORDS, what, NAN, "", words, origin});
}

void why_clock(struct why *y, const char *what, int minute, const char *origin)
{
    why_number(y, what, minute, "clock", origin);
}

void why_result(struct why *y, const char *what, double value, const char *unit)
{
    add_row(y, &(struct why_row){WHY_RESULT, what, value, unit, "", ""});
}

void why_verdict(struct why *y, const char *what, const char *words)
{
    add_row(y, &(struct why_row){WHY_RESULT, what, NAN, "", words, ""});
}

void why_note(struct why *y, const char *words)
{
    add_row(y, &(struct why_row){WHY_NOTE, "", NAN, "", words, ""});
}

/* Once each; an empty source is none. */
static void why_source(struct why *y, const char *of, const char *source)
{
    struct explanation *x = y->x;
    if (!*source)
        return;
    const char *text = why_format(y, "%s: %s", of, source);
    for (size_t i = 0; i < x->n_sources; i++)
        if (strcmp(x->sources[i], text) == 0)
            return;
    const char **sources = more(y, x->sources, x->n_sources, &x->room_sources, sizeof *sources);
    if (!sources)
        return;
    x->sources = sources;
    x->sources[x->n_sources++] = text;
}

void why_answer(struct why *y, double answer, const char *unit, const char *says)
{
    y->x->answer = answer;
    y->x->unit = unit;
    y->x->says = says;
}

/* ---- origins ---------------------------------------------------------------------------------------------------- */

/* A setting that still has its delivered value is said to be a default: nobody at this house has weighed it yet. */
const char *origin_setting(struct why *y, const char *name)
{
    const struct reg *r = settings_reg();
    const struct field *field = &r->fields[reg_field(r, name)];
    struct cell *cells = arena_alloc(y->a, FIELDS_MAX, sizeof *cells), delivered;
    struct err e;
    if (!cells || !row_read(r, &y->w->f->settings, y->w->f, cells, y->a, &e) ||
        !cell_parse(field, field->fallback, y->a, &delivered, &e)) { /* each has one, of its own field's kind */
        y->failed = true;
        return "";
    }
    return why_format(y, "setting %s (%s)", name,
                      cell_same(&cells[field - r->fields], &delivered) ? "default" : "the house's");
}

const char *origin_kind(struct why *y, size_t kind)
{
    const char *name = why_format(y, "kind %s", y->w->f->kinds[kind].name);
    why_source(y, name, y->w->f->kinds[kind].source);
    return name;
}

const char *origin_food(struct why *y, size_t food)
{
    const char *name = why_format(y, "food %s", y->w->f->foods[food].name);
    why_source(y, name, y->w->f->foods[food].source);
    return name;
}

const char *origin_tank(struct why *y, size_t tank)
{
    return why_format(y, "tank %s", y->w->f->tanks[tank].name);
}

const char *origin_colony(struct why *y, size_t colony)
{
    return why_format(y, "colony %s", y->w->f->colonies[colony].code);
}
