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

void made_document(const struct facility *f, const struct round *r, const struct rescaled *m, struct document *d)
{
    document_heading(d, document_format(d, "POT %s of round %ld, revision %ld: %.0f mL were made instead of %.0f mL",
                                        m->pot->pot, r->head.number, r->head.revision, m->made_ml, m->pot->made_ml));
    document_text(
        d,
        "All that was weighed is in it, so each coral gets its food out of more or less water. Lines that are logged "
        "already are left as they were given; the ceilings hold with what is still to give.");
    document_table(d, tank_columns, COUNT_OF(tank_columns));
    for (size_t i = 0; i < m->n_tanks; i++) {
        const struct made_tank *t = &m->tanks[i];
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
