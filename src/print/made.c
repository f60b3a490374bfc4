/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The portions of a pot that came out larger or smaller, for the clipboard. */
#include "neap/print.h"
#include "neap/rescale.h"

static const struct column tank_columns[] = {
    {"tank", 0, false},          {"planned", 10, true},  {"given", 10, true},
    {"still to give", 13, true}, {"ceilings", 10, true}, {"", 22, false},
};
static const struct column line_columns[] = {
    {"line", 4, true}, {"what", 0, false}, {"planned", 10, true}, {"now", 10, true}, {"given", 8, true}};

static const struct line *line_of(const struct round *r, long number)
{
    for (size_t i = 0; i < r->n_lines; i++)
        if (r->lines[i].number == number)
            return &r->lines[i];
    return NULL;
}

/* Do the ceilings hold with what is still to give? Said of each water of which they do not. */
static void put_loads(const struct facility *f, const struct rescaled *m, struct document *d)
{
    bool all = true;
    for (size_t i = 0; i < m->n_tanks; i++) {
        size_t system = f->tanks[m->tanks[i].tank].system;
        bool said = m->tanks[i].load_frac <= 1 + 1e-6;
        for (size_t k = 0; k < i && !said; k++)
            said = f->tanks[m->tanks[k].tank].system == system;
        if (said)
            continue;
        all = false;
        document_item(d, "!!",
                      document_format(d,
                                      "%s has got %.0f %% of its ceilings for the day. Nothing more to feed there; "
                                      "watch it, and test its water.",
                                      f->systems[system].name, m->tanks[i].load_frac * 100));
    }
    if (all)
        document_text(d, "The ceilings hold with what is still to give.");
}

void made_document(const struct facility *f, const struct round *r, const struct rescaled *m, struct document *d)
{
    const char *instead = fabs(m->made_ml - m->pot->made_ml) < 1e-6
                              ? "as planned"
                              : document_format(d, "instead of %.10g mL", m->pot->made_ml);
    document_heading(d, document_format(d, "POT %s of round %ld, revision %ld: %.10g mL were made, %s", m->pot->pot,
                                        r->head.number, r->head.revision, m->made_ml, instead));
    document_text(d, "All that was weighed is in it, so each coral gets its food out of more or less of it. Lines that "
                     "are logged already are left as they were given.");
    put_loads(f, m, d);
    document_table(d, tank_columns, COUNT_OF(tank_columns));
    for (size_t i = 0; i < m->n_tanks; i++) {
        const struct rescaled_tank *t = &m->tanks[i];
        const char *cells[] = {f->tanks[t->tank].name,
                               document_format(d, "%.1f mL", t->planned_ml),
                               document_format(d, "%.1f mL", t->given_ml),
                               document_format(d, "%.1f mL", t->left_ml),
                               document_format(d, "%.0f %%", t->load_frac * 100),
                               t->cut ? "less food than planned" : ""};
        document_row(d, cells);
    }
    document_space(d);
    document_table(d, line_columns, COUNT_OF(line_columns));
    for (size_t i = 0; i < m->n_lines; i++) {
        const struct line *l = line_of(r, m->lines[i].number);
        const struct colony *c = &f->colonies[l->colony];
        const char *cells[] = {document_format(d, "%ld", l->number),
                               document_format(d, "%s %s", c->code, *c->label ? c->label : f->kinds[c->kind].name),
                               document_format(d, "%.2f mL", m->lines[i].planned_ml),
                               document_format(d, "%.2f mL", m->lines[i].left_ml), "________"};
        document_row(d, cells);
    }
}
