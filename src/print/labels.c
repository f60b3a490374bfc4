/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Labels for tanks, lots of corals, racks and pots: a name to read from afar, what to know there, and the name for a
 * camera.
 */
#include "neap/calc.h"
#include "words.h"

/*
 * Sizes common in the paper trade, from memory: a plain print with --outline held against the sheet shows whether it is
 * yours.
 */
static const struct label_sheet sheets[] = {
    {"3x8", "a4", 3, 8, 70, 37, 0, 0.5, 70, 37},
    {"3x7", "a4", 3, 7, 63.5, 38.1, 7.25, 15.15, 66, 38.1},
    {"3x10", "letter", 3, 10, 66.675, 25.4, 4.7625, 12.7, 69.85, 25.4},
};

const struct label_sheet *label_sheet_find(const char *name)
{
    for (size_t i = 0; i < COUNT_OF(sheets); i++)
        if (strcmp(sheets[i].name, name) == 0)
            return &sheets[i];
    return NULL;
}

size_t label_sheet_places(const struct label_sheet *s)
{
    return (size_t)s->columns * (size_t)s->rows;
}

struct labels {
    const struct facility *f;
    const struct label_request *q;
    struct document *d;
    struct label *list;
    size_t n;
};

static void add_label(struct labels *l, const char *title, const char *text, const char *code)
{
    l->list[l->n++] = (struct label){title, text, code};
}

/* What may hurt comes first: it is not what a small label cuts off. */
static const char *care_words(struct labels *l, bool toxic, bool quarantine)
{
    return document_format(l->d, "%s%s", toxic ? "Palytoxin: gloves, eye cover. " : "",
                           quarantine ? "Quarantine: own tools, last. " : "");
}

/* "Palytoxin: gloves, eye cover. display, 2318 L; feed from the ladder side" */
static void add_tank(struct labels *l, size_t tank)
{
    const struct tank *t = &l->f->tanks[tank];
    const struct system *s = &l->f->systems[t->system];
    add_label(l, t->name,
              document_format(l->d, "%s%s, %s%s%s", care_words(l, tank_may_be_toxic(l->f, tank), s->quarantine),
                              s->name, volume_words(l->d, t->net_l, l->q->us_units), *t->note ? "; " : "", t->note),
              t->name);
}

static void add_colony(struct labels *l, size_t colony)
{
    const struct colony *c = &l->f->colonies[colony];
    const struct kind *k = &l->f->kinds[c->kind];
    add_label(l, c->code,
              document_format(l->d, "%s%s, %ld piece%s; %s", care_words(l, k->hand_safety, false),
                              *c->label ? c->label : k->name, c->count, c->count == 1 ? "" : "s",
                              l->f->tanks[c->tank].name),
              c->code);
}

/* A batch of a pot: what is mixed twice has two labels. */
static void add_batch(struct labels *l, const struct batch *b)
{
    const struct round *r = l->q->r;
    const struct pot *p = &r->pots[b->pot];
    char mix[CLOCK_TEXT], old[CLOCK_TEXT];
    clock_format(b->mix_min, mix);
    clock_format(b->old_min, old);
    add_label(l, document_format(l->d, "POT %s", p->pot),
              document_format(l->d, "%s, %.10g mL. Mixed %s, good until %s%s. Round %ld, %s", p->systems, b->made_ml,
                              mix, old, p->late ? "; stir each time" : "", r->head.number,
                              day_words(l->d, r->head.day)),
              document_format(l->d, "round %ld pot %s", r->head.number, p->pot));
}

static bool is_wanted(const struct labels *l, const char *pot)
{
    for (size_t i = 0; i < l->q->n; i++)
        if (strcmp(l->q->names[i], pot) == 0)
            return true;
    return l->q->n == 0;
}

/* Where the round wants no slurry of a pot, it has no label. */
static bool add_pots(struct labels *l, struct err *e)
{
    struct batch *batches;
    size_t n;
    if (!round_batches(l->f, l->q->r, NULL, &l->d->arena, &batches, &n, e))
        return false;
    l->list = arena_alloc(&l->d->arena, n, sizeof *l->list);
    if (!l->list)
        return err_memory(e);
    for (size_t i = 0; i < n; i++)
        if (is_wanted(l, l->q->r->pots[batches[i].pot].pot))
            add_batch(l, &batches[i]);
    return true;
}

static bool add_rows(struct labels *l, struct err *e)
{
    l->list = arena_alloc(&l->d->arena, l->q->n, sizeof *l->list);
    if (!l->list)
        return err_memory(e);
    for (size_t i = 0; i < l->q->n; i++)
        switch (l->q->kind) {
        case LABEL_TANK: add_tank(l, l->q->rows[i]); break;
        case LABEL_COLONY: add_colony(l, l->q->rows[i]); break;
        case LABEL_RACK: add_label(l, l->q->names[i], l->f->settings.facility, l->q->names[i]); break;
        case LABEL_POT: break;
        }
    return true;
}

bool labels_document(const struct facility *f, const struct label_request *q, struct document *d, struct err *e)
{
    struct labels l = {.f = f, .q = q, .d = d};
    const struct label_sheet *s = q->sheet;
    if (!(q->kind == LABEL_POT ? add_pots(&l, e) : add_rows(&l, e)))
        return false;
    size_t per_sheet = label_sheet_places(s), n_sheets = (q->first + l.n + per_sheet - 1) / per_sheet;
    d->running_left = document_format(d, "%s  labels", f->settings.facility);
    d->day = day_words(d, q->day);
    document_heading(d, document_format(d, "%zu LABEL%s on %zu sheet%s %s, %d across and %d down", l.n,
                                        l.n == 1 ? "" : "S", n_sheets, n_sheets == 1 ? "" : "s",
                                        strcmp(s->paper, "a4") == 0 ? "of A4" : "of US letter", s->columns, s->rows));
    document_labels(d, &(struct label_page){l.list, l.n, s, q->first, q->outlined});
    return d->failed ? err_memory(e) : true;
}
