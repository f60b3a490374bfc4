/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The state of a round's log, as a page. */
#include "neap/log.h"
#include "neap/figures.h"
#include "neap/print.h"
#include "neap/response.h"

struct log_page {
    const struct facility *f;
    const struct round *r;
    const struct round_log *log;
};

static const struct column exception_columns[] = {
    {"line", 4, true}, {"tank", 6, false}, {"what", 0, false}, {"plan", 8, true}, {"became", 29, false},
};

static const char *plan_words(const struct log_page *lg, struct document *d, const struct line *l)
{
    return isnan(l->amount) ? ""
                            : document_format(d, "%.*f %s", l->amount < 10 ? 2 : 1, l->amount, line_unit(lg->f, l));
}

static bool is_exception(const struct line *l, const struct given *g)
{
    return g && (g->outcome != OUTCOME_GIVEN || g->response >= 0 || g->at_min >= 0 || *g->note ||
                 (!isnan(l->amount) && fabs(g->amount - l->amount) > 1e-9));
}

static void show_exceptions(const struct log_page *lg, struct document *d)
{
    bool headed = false;
    for (size_t i = 0; i < lg->r->n_lines; i++) {
        const struct line *l = &lg->r->lines[i];
        const struct given *g = log_find(lg->log, l->number);
        struct text what = {0}, was = {0};
        if (!is_exception(l, g))
            continue;
        if (!headed) {
            document_space(d);
            document_table(d, exception_columns, COUNT_OF(exception_columns));
        }
        headed = true;
        line_words(lg->f, l, &what);
        log_given_words(lg->f, l, g, &was);
        const char *cells[] = {document_format(d, "%ld", l->number), lg->f->tanks[l->tank].name,
                               document_taken(d, &what), plan_words(lg, d, l), document_taken(d, &was)};
        document_row(d, cells);
    }
}

static const struct column pot_columns[] = {
    {"pot", 4, false}, {"planned", 10, true}, {"mixed", 10, true}, {"left over", 10, true}, {"weighed", 0, false},
};

static const char *weighed_words(const struct log_page *lg, struct document *d, const char *pot)
{
    struct text t = {0};
    for (size_t i = 0; i < lg->log->n_weighings; i++) {
        const struct weighed *w = &lg->log->weighings[i];
        for (size_t k = 0; k < lg->r->n_pot_foods && strcmp(w->pot, pot) == 0; k++)
            if (lg->r->pot_foods[k].rank == w->rank && strcmp(lg->r->pot_foods[k].pot, pot) == 0)
                text_addf(&t, "%s%s %.10g", t.len ? "; " : "", lg->f->foods[lg->r->pot_foods[k].food].name,
                          w->amount_units);
    }
    return document_taken(d, &t);
}

static void show_pots(const struct log_page *lg, struct document *d)
{
    if (lg->r->n_pots == 0)
        return;
    document_space(d);
    document_table(d, pot_columns, COUNT_OF(pot_columns));
    for (size_t i = 0; i < lg->r->n_pots; i++) {
        const struct pot *p = &lg->r->pots[i];
        const struct mixed *m = log_find_mixed(lg->log, p->pot);
        const char *cells[] = {
            p->pot, document_format(d, "%.0f mL", p->made_ml), m ? document_format(d, "%.10g mL", m->made_ml) : "",
            m && !isnan(m->left_ml) ? document_format(d, "%.10g mL", m->left_ml) : "", weighed_words(lg, d, p->pot)};
        document_row(d, cells);
    }
}

static void show_extras(const struct log_page *lg, struct document *d)
{
    for (size_t i = 0; i < lg->log->n_extras; i++) {
        const struct extra *x = &lg->log->extras[i];
        const struct food *food = &lg->f->foods[x->food];
        if (i == 0) {
            document_space(d);
            document_text(d, "Given beside the plan:");
        }
        document_item(d, "-",
                      document_format(d, "%s: %s, %.10g %s%s%s", lg->f->tanks[x->tank].name, food->name,
                                      x->amount_units, food_unit_name(food), x->lot == REF_NONE ? "" : ", lot ",
                                      x->lot == REF_NONE ? "" : lg->f->lots[x->lot].code));
    }
}

static void show_people(const struct log_page *lg, struct document *d)
{
    struct text names = {0};
    for (size_t i = 0; i < lg->log->n_crews; i++)
        text_addf(&names, "%s%ld %s", i ? ", " : "Fed by: ", lg->log->crews[i].feeder, lg->log->crews[i].name);
    if (names.len > 0)
        text_add(&names, ".");
    const char *all = document_taken(d, &names);
    if (*all)
        document_text(d, all);
}

static void show_faults(const struct log_page *lg, const struct log_faults *faults, struct document *d)
{
    for (size_t i = 0; i < faults->n_stops; i++) {
        struct text words = {0};
        long_stop_words(&faults->stops[i], &words);
        document_item(
            d, "!", document_format(d, "%s: %s.", lg->f->tanks[faults->stops[i].tank].name, document_taken(d, &words)));
    }
    for (size_t i = 0; i < faults->n_switches; i++) {
        const struct switch_fault *w = &faults->switches[i];
        struct text words = {0};
        switch_fault_words(w, &words);
        document_item(d, "!", document_format(d, "%s: %s.", lg->f->systems[w->system].name, document_taken(d, &words)));
    }
}

static void show_switches(const struct log_page *lg, struct document *d)
{
    struct text open = {0};
    for (size_t i = 0; i < lg->r->n_switchings; i++) {
        const struct switching *s = &lg->r->switchings[i];
        const struct switched *w = log_find_switched(lg->log, s->system, s->device);
        struct text name = {0}, was = {0};
        if (i == 0) {
            document_space(d);
            document_text(d, "Switches:");
        }
        if (!w)
            continue;
        switching_words(lg->f, s, &name);
        switched_words(w, &was);
        document_item(d, "-", document_format(d, "%s: %s", document_taken(d, &name), document_taken(d, &was)));
    }
    log_open_switches(lg->r, lg->log, &open);
    const char *not_yet = document_taken(d, &open);
    if (*not_yet)
        document_item(d, "-", document_format(d, "not accounted for: %s", not_yet));
}

static void show_remarks(const struct log_page *lg, struct document *d)
{
    for (size_t i = 0; i < lg->log->n_remarks; i++) {
        if (i == 0) {
            document_space(d);
            document_text(d, "Noted of the round:");
        }
        document_item(d, "-", lg->log->remarks[i].text);
    }
}

static void show_figures(const struct log_page *lg, const struct log_figures *g, struct document *d)
{
    struct text counts = {0}, open = {0};
    text_addf(&counts, "%ld line%s", g->lines, g->lines == 1 ? "" : "s");
    for (size_t i = 0; i < COUNT_OF(g->outcomes); i++)
        if (g->outcomes[i] > 0)
            text_addf(&counts, ", %ld %s", g->outcomes[i], outcomes[i].title);
    text_addf(&counts, "; %ld on time.", g->on_time);
    document_text(d, document_taken(d, &counts));
    document_text(d, document_format(d, "Slurry: %.1f mL planned, %.1f mL mixed, %.1f mL given, %.1f mL refused.",
                                     g->planned_ml, g->mixed_ml, g->given_ml, g->refused_ml));
    if (g->judged > 0)
        document_text(d, document_format(d, "%ld line%s judged, mean response %.1f of 4.", g->judged,
                                         g->judged == 1 ? "" : "s", (double)g->score_sum / (double)g->judged));
    log_open_lines(lg->f, lg->r, lg->log, &open);
    const char *lines = document_taken(d, &open);
    document_text(d,
                  document_format(d, "%s%s.", *lines ? "Not accounted for: " : "All lines are accounted for", lines));
}

/* ---- as data ---------------------------------------------------------------------------------------------------- */

static void json_lines(const struct log_page *lg, struct json_text *j)
{
    const struct reg *given = reg_get(REG_GIVEN), *line = reg_get(REG_LINE);
    const char *const *became = given->fields[reg_field(given, "outcome")].choices;
    const char *const *actions = line->fields[reg_field(line, "action")].choices;
    json_open(j, "lines", '[');
    for (size_t i = 0; i < lg->r->n_lines; i++) {
        const struct line *l = &lg->r->lines[i];
        const struct given *g = log_find(lg->log, l->number);
        json_open(j, NULL, '{');
        json_number_member(j, "line", (double)l->number);
        json_text_member(j, "tank", lg->f->tanks[l->tank].name);
        json_text_member(j, "action", actions[l->action]);
        if (l->colony != REF_NONE)
            json_text_member(j, "colony", lg->f->colonies[l->colony].code);
        if (l->food != REF_NONE)
            json_text_member(j, "food", lg->f->foods[l->food].name);
        json_text_member(j, "unit", line_unit(lg->f, l));
        json_number_member(j, "planned", l->amount);
        json_text_member(j, "outcome", g ? became[g->outcome] : "");
        json_number_member(j, "amount", g ? g->amount : (double)NAN);
        json_number_member(j, "response", g && g->response >= 0 ? (double)g->response : (double)NAN);
        json_number_member(j, "at_min", g && g->at_min >= 0 ? (double)g->at_min : (double)NAN);
        json_number_member(j, "feeder", (double)l->feeder);
        json_text_member(j, "note", g ? g->note : "");
        json_close(j);
    }
    json_close(j);
}

static void json_weighed(const struct log_page *lg, const char *pot, struct json_text *j)
{
    json_open(j, "weighed", '[');
    for (size_t i = 0; i < lg->log->n_weighings; i++) {
        const struct weighed *w = &lg->log->weighings[i];
        for (size_t k = 0; k < lg->r->n_pot_foods && strcmp(w->pot, pot) == 0; k++) {
            const struct pot_food *pf = &lg->r->pot_foods[k];
            if (pf->rank != w->rank || strcmp(pf->pot, pot) != 0)
                continue;
            json_open(j, NULL, '{');
            json_text_member(j, "food", lg->f->foods[pf->food].name);
            json_number_member(j, "amount_units", w->amount_units);
            json_close(j);
        }
    }
    json_close(j);
}

static void json_pots(const struct log_page *lg, struct json_text *j)
{
    json_open(j, "pots", '[');
    for (size_t i = 0; i < lg->r->n_pots; i++) {
        const struct pot *p = &lg->r->pots[i];
        const struct mixed *m = log_find_mixed(lg->log, p->pot);
        json_open(j, NULL, '{');
        json_text_member(j, "pot", p->pot);
        json_number_member(j, "planned_ml", p->made_ml);
        json_number_member(j, "mixed_ml", m ? m->made_ml : (double)NAN);
        json_number_member(j, "left_ml", m ? m->left_ml : (double)NAN);
        json_weighed(lg, p->pot, j);
        json_close(j);
    }
    json_close(j);
}

static void json_extras(const struct log_page *lg, struct json_text *j)
{
    json_open(j, "extras", '[');
    for (size_t i = 0; i < lg->log->n_extras; i++) {
        const struct extra *x = &lg->log->extras[i];
        json_open(j, NULL, '{');
        json_text_member(j, "tank", lg->f->tanks[x->tank].name);
        json_text_member(j, "food", lg->f->foods[x->food].name);
        json_text_member(j, "lot", x->lot == REF_NONE ? "" : lg->f->lots[x->lot].code);
        json_number_member(j, "amount_units", x->amount_units);
        json_close(j);
    }
    json_close(j);
}

static double minute_or_nan(long minute)
{
    return minute >= 0 ? (double)minute : (double)NAN;
}

static void json_switches(const struct log_page *lg, struct json_text *j)
{
    const struct reg *r = reg_get(REG_SWITCHED);
    const char *const *devices = r->fields[reg_field(r, "device")].choices;
    json_open(j, "switches", '[');
    for (size_t i = 0; i < lg->r->n_switchings; i++) {
        const struct switching *s = &lg->r->switchings[i];
        const struct switched *w = log_find_switched(lg->log, s->system, s->device);
        json_open(j, NULL, '{');
        json_number_member(j, "switch", (double)s->number);
        json_text_member(j, "system", lg->f->systems[s->system].name);
        json_text_member(j, "device", devices[s->device]);
        json_flag_member(j, "logged", w != NULL);
        json_number_member(j, "planned_off_min", s->off_min);
        json_number_member(j, "planned_on_min", s->on_min);
        json_number_member(j, "off_min", w ? minute_or_nan(w->off_min) : (double)NAN);
        json_number_member(j, "on_min", w ? minute_or_nan(w->on_min) : (double)NAN);
        json_close(j);
    }
    json_close(j);
}

static void json_people(const struct log_page *lg, struct json_text *j)
{
    json_open(j, "crew", '[');
    for (size_t i = 0; i < lg->log->n_crews; i++) {
        json_open(j, NULL, '{');
        json_number_member(j, "feeder", (double)lg->log->crews[i].feeder);
        json_text_member(j, "name", lg->log->crews[i].name);
        json_close(j);
    }
    json_close(j);
    json_open(j, "notes", '[');
    for (size_t i = 0; i < lg->log->n_remarks; i++) {
        json_open(j, NULL, '{');
        json_text_member(j, "text", lg->log->remarks[i].text);
        json_close(j);
    }
    json_close(j);
}

void log_json(const struct facility *f, const struct round *r, const struct round_log *log, const struct log_figures *g,
              struct text *out)
{
    const struct log_page in = {f, r, log}, *lg = &in;
    struct json_text j = {.out = out};
    char day[DAY_TEXT];
    day_format(lg->r->head.day, day);
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_number_member(&j, "round", (double)lg->r->head.number);
    json_number_member(&j, "revision", (double)lg->r->head.revision);
    json_text_member(&j, "name", lg->r->head.name);
    json_text_member(&j, "day", day);
    json_number_member(&j, "n_lines", (double)g->lines);
    json_number_member(&j, "n_unaccounted", (double)g->unaccounted);
    json_number_member(&j, "n_on_time", (double)g->on_time);
    json_number_member(&j, "n_judged", (double)g->judged);
    json_number_member(&j, "mean_response", g->judged > 0 ? (double)g->score_sum / (double)g->judged : (double)NAN);
    json_number_member(&j, "planned_ml", number_without_dust(g->planned_ml));
    json_number_member(&j, "mixed_ml", number_without_dust(g->mixed_ml));
    json_number_member(&j, "given_ml", number_without_dust(g->given_ml));
    json_number_member(&j, "refused_ml", number_without_dust(g->refused_ml));
    json_lines(lg, &j);
    json_pots(lg, &j);
    json_extras(lg, &j);
    json_switches(lg, &j);
    json_people(lg, &j);
    json_close(&j);
}

void log_document(const struct facility *f, const struct round *r, const struct round_log *log,
                  const struct log_figures *g, const struct log_faults *faults, struct document *d)
{
    const struct log_page lg = {f, r, log};
    char day[DAY_TEXT];
    day_format(r->head.day, day);
    document_heading(d, document_format(d, "ROUND %ld, revision %ld, %s %s: WHAT WAS GIVEN", r->head.number,
                                        r->head.revision, weekday_name(day_weekday(r->head.day)), day));
    show_people(&lg, d);
    show_figures(&lg, g, d);
    show_faults(&lg, faults, d);
    show_exceptions(&lg, d);
    show_pots(&lg, d);
    show_extras(&lg, d);
    show_switches(&lg, d);
    show_remarks(&lg, d);
}
