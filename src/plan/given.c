/* SPDX-License-Identifier: GPL-3.0-or-later */
/* After the round: what a feeder wrote beside the lines, as rows of the log, and what those rows come to. */
#include "neap/calc.h"
#include "neap/figures.h"
#include "neap/log.h"
#include "neap/replan.h"
#include "neap/response.h"
#include "neap/plan.h"

#include <ctype.h>

void round_log_free(struct round_log *log)
{
    arena_free(&log->arena);
    *log = (struct round_log){0};
}

const struct line *round_line(const struct round *r, long number)
{
    bool there = number >= 1 && (size_t)number <= r->n_lines; /* lines are numbered from 1, without gaps */
    return there ? &r->lines[number - 1] : NULL;
}

const struct given *log_find(const struct round_log *log, long line)
{
    size_t low = 0, high = log->n_givens;
    while (low < high) {
        size_t mid = low + (high - low) / 2;
        if (log->givens[mid].line == line)
            return &log->givens[mid];
        if (log->givens[mid].line < line)
            low = mid + 1;
        else
            high = mid;
    }
    return NULL;
}

const struct mixed *log_find_mixed(const struct round_log *log, const char *pot)
{
    for (size_t i = 0; i < log->n_mixes; i++)
        if (strcmp(log->mixes[i].pot, pot) == 0)
            return &log->mixes[i];
    return NULL;
}

/* ---- words ------------------------------------------------------------------------------------------------------ */

/* The next run of digits as a number, or false. */
static bool take_number(const char **s, long *n)
{
    char digits[8];
    size_t len = strspn(*s, "0123456789");
    if (len == 0 || len >= sizeof digits)
        return false;
    memcpy(digits, *s, len);
    digits[len] = '\0';
    *s += len;
    return count_parse(digits, n);
}

bool log_word_is(const char *word)
{
    size_t digits = strspn(word, "0123456789");
    return digits > 0 && (word[digits] == '\0' || strchr("=-,", word[digits]) != NULL);
}

static bool parse_spans(const char **s, struct log_word *w)
{
    for (;;) {
        long first, last;
        if (w->n_spans == LOG_SPANS_MAX || !take_number(s, &first))
            return false;
        last = first;
        if (**s == '-') {
            ++*s;
            if (!take_number(s, &last))
                return false;
        }
        if (first < 1 || last < first)
            return false;
        w->spans[w->n_spans].first = first;
        w->spans[w->n_spans++].last = last;
        if (**s != ',')
            return true;
        ++*s;
    }
}

static bool parse_code(const char **s, struct log_word *w)
{
    for (int i = OUTCOME_PART; i <= OUTCOME_NOT_GIVEN; i++)
        if (tolower((unsigned char)**s) == outcomes[i].code) {
            w->outcome = i;
            ++*s;
            return true;
        }
    return false;
}

static bool parse_value(const char *s, struct log_word *w)
{
    parse_code(&s, w);
    size_t n = strcspn(s, ":@");
    if (n >= sizeof w->amount || (n > 0 && !isdigit((unsigned char)*s) && *s != '.'))
        return false;
    memcpy(w->amount, s, n);
    w->amount[n] = '\0';
    s += n;
    if (*s == ':') {
        if (s[1] < '0' || s[1] >= '0' + RESPONSES || (s[2] != '\0' && s[2] != '@'))
            return false;
        w->response = s[1] - '0';
        s += 2;
    }
    if (*s == '@') {
        if (!clock_parse(s + 1, &w->at_min))
            return false;
        s += strlen(s);
    }
    return *s == '\0';
}

/* A name may hold an equals sign itself: the last one is meant. */
static bool parse_name(const char **s, struct log_word *w)
{
    const char *equals = strrchr(*s, '=');
    size_t len = equals ? (size_t)(equals - *s) : strlen(*s);
    if (len == 0 || len > NAME_BYTES_MAX)
        return false;
    memcpy(w->name, *s, len);
    w->name[len] = '\0';
    *s += len;
    return true;
}

bool log_word_parse(const char *word, struct log_word *w, struct err *e)
{
    const char *s = word;
    *w = (struct log_word){.outcome = OUTCOME_GIVEN, .response = -1, .at_min = -1};
    bool ok = (log_word_is(word) ? parse_spans(&s, w) : parse_name(&s, w)) && (*s == '\0' || *s == '=');
    w->as_planned = *s == '\0';
    if (ok && *s == '=') {
        w->take_back = strcmp(s + 1, "-") == 0;
        ok = s[1] != '\0' && (w->take_back || parse_value(s + 1, w));
    }
    char quoted[EXCERPT_TEXT];
    return ok || err_set(e, ERR_MISUSE, NULL,
                         "\"%s\" is not understood; expected lines and what became of them, such as 14=1.5, 14=r:0, "
                         "15-18=:4, 20-24=n, 14=l@09:40, D1-002=r, D1=n",
                         text_excerpt(word, quoted));
}

int minute_beside(int planned_min, int clock_min)
{
    enum { HALF_DAY_MIN = 12 * 60 };
    bool after = clock_min >= 0 && planned_min - clock_min > HALF_DAY_MIN;
    return after ? clock_min + (int)MIN_PER_DAY : clock_min;
}

/* ---- lines ------------------------------------------------------------------------------------------------------ */

const char *line_unit(const struct facility *f, const struct line *l)
{
    if (isnan(l->amount))
        return "";
    return l->food == REF_NONE ? "mL" : food_unit_name(&f->foods[l->food]);
}

void line_words(const struct facility *f, const struct line *l, struct text *out)
{
    switch (l->action) {
    case ACTION_BROADCAST: text_addf(out, "broadcast %s", f->foods[l->food].name); return;
    case ACTION_FISH: text_addf(out, "fish: %s", f->foods[l->food].name); return;
    case ACTION_FLOW_OFF: text_add(out, "FLOW OFF"); return;
    case ACTION_FLOW_ON: text_add(out, "FLOW ON"); return;
    default: break;
    }
    const struct colony *c = &f->colonies[l->colony];
    text_addf(out, "%s %s", c->code, *c->label ? c->label : f->kinds[c->kind].name);
}

void log_given_words(const struct facility *f, const struct line *l, const struct given *g, struct text *out)
{
    char clock[CLOCK_TEXT];
    bool other = !isnan(g->amount) && fabs(g->amount - l->amount) > 1e-9;
    text_add(out, g->outcome == OUTCOME_GIVEN && other ? "given" : outcomes[g->outcome].title);
    if (other && g->outcome != OUTCOME_NOT_GIVEN)
        text_addf(out, ", %.10g %s", round_near_to(g->amount, 0.01), line_unit(f, l));
    if (g->response >= 0)
        text_addf(out, ", %ld %s", g->response, response_titles[g->response]);
    if (g->at_min >= 0) {
        clock_format((int)g->at_min, clock);
        text_addf(out, ", at %s", clock);
    }
    if (*g->note)
        text_addf(out, "; %s", g->note);
}

bool log_is_more(const struct line *l, const struct given *g)
{
    return !isnan(l->amount) && !isnan(g->amount) && g->amount > l->amount * (1 + MORE_ASKED_FRAC) + 1e-9;
}

static bool refuse_word(const struct line *l, struct err *e, const char *why)
{
    return err_set(e, ERR_INPUT, NULL, "line %ld: %s", l->number, why);
}

static bool apply_amount(const struct log_word *w, const struct facility *f, const struct line *l, struct given *g,
                         struct err *e)
{
    struct err why;
    const char *unit = line_unit(f, l);
    if (!(l->food != REF_NONE ? food_amount_read(&f->foods[l->food], w->amount, &g->amount, &why)
                              : quantity_read(w->amount, unit, &g->amount, &why)))
        return err_set(e, ERR_INPUT, NULL, "line %ld: %s", l->number, why.text);
    if (g->amount <= 0)
        return refuse_word(l, e, "0 is no amount; expected n (not given), r (refused) or what was given");
    if (g->amount > 3 * l->amount + 1e-9)
        return err_set(
            e, ERR_INPUT, NULL,
            "line %ld: %.10g %s is more than three times the plan, %.10g %s; expected less (--extra takes what "
            "was given beside the plan)",
            l->number, g->amount, unit, l->amount, unit);
    bool less = g->amount < l->amount - 1e-9;
    if (g->outcome == OUTCOME_GIVEN && less)
        g->outcome = OUTCOME_PART;
    return g->outcome != OUTCOME_PART || less ||
           err_set(e, ERR_INPUT, NULL, "line %ld: p is for less than the plan, %.10g %s", l->number, l->amount, unit);
}

bool log_word_apply(const struct log_word *w, const struct facility *f, const struct round *r, const struct line *l,
                    struct given *g, struct err *e)
{
    *g = (struct given){
        .round = r->head.number,
        .line = l->number,
        .sheet_revision = r->head.revision,
        .outcome = w->outcome,
        .amount = l->amount,
        .response = w->response,
        .at_min = minute_beside(l->start_min, w->at_min),
        .note = "",
        .voided = w->take_back,
    };
    if (w->take_back)
        return true;
    if (isnan(l->amount) && (*w->amount || w->outcome == OUTCOME_PART || w->outcome == OUTCOME_REFUSED))
        return refuse_word(l, e, "flow is off or on, nothing is measured; expected a time (@09:40), l or n");
    if (w->response >= 0 && l->action != ACTION_TARGET)
        return refuse_word(l, e, "only what mouths are fed is scored; expected no :score here");
    if (w->outcome == OUTCOME_NOT_GIVEN) {
        if (*w->amount || w->response >= 0)
            return refuse_word(l, e, "n is not given, so there is no amount and no score");
        g->amount = isnan(l->amount) ? NAN : 0;
        return true;
    }
    if (w->outcome == OUTCOME_REFUSED) {
        if (w->response > 1)
            return refuse_word(l, e, "refused and yet half or more taken; expected a score of 0 or 1 with r");
        g->response = l->action != ACTION_TARGET ? -1 : w->response < 0 ? 0 : w->response;
    }
    if (w->outcome == OUTCOME_PART && !*w->amount)
        return refuse_word(l, e, "p needs how much was given, such as p1.5");
    return !*w->amount || apply_amount(w, f, l, g, e);
}

/* ---- lines that nobody logged ------------------------------------------------------------------------------------ */

/* " 1-14,16": of one tank. */
static bool add_spans(const struct round *r, const struct round_log *log, size_t tank, struct text *out)
{
    bool any = false;
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *l = &r->lines[i];
        if (l->tank != tank || log_find(log, l->number))
            continue;
        size_t last = i;
        while (last + 1 < r->n_lines && r->lines[last + 1].tank == tank && !log_find(log, r->lines[last + 1].number))
            last++;
        text_addf(out, "%s%ld", any ? "," : " ", l->number);
        if (last > i)
            text_addf(out, "-%ld", r->lines[last].number);
        any = true;
        i = last;
    }
    return any;
}

void log_open_lines(const struct facility *f, const struct round *r, const struct round_log *log, struct text *out)
{
    for (size_t i = 0; i < r->n_lines; i++) {
        size_t tank = r->lines[i].tank;
        struct text spans = {0};
        bool seen = false;
        for (size_t k = 0; k < i && !seen; k++)
            seen = r->lines[k].tank == tank;
        if (!seen && add_spans(r, log, tank, &spans))
            text_addf(out, "%s%s%s", out->len ? "; " : "", f->tanks[tank].name, text_str(&spans));
        out->failed = out->failed || spans.failed;
        text_free(&spans);
    }
}

/* ---- figures ---------------------------------------------------------------------------------------------------- */

double log_wasted_ml(const struct log_figures *g)
{
    return fmax(0, g->mixed_ml - g->given_ml - g->refused_ml);
}

bool log_figures_begin(const struct facility *f, struct arena *a, struct log_figures *g, struct err *e)
{
    *g = (struct log_figures){.foods = arena_alloc(a, f->n_foods, sizeof *g->foods)};
    return g->foods ? true : err_memory(e);
}

static void count_foods(const struct round *r, const struct line *l, bool refused, struct log_figures *g)
{
    for (size_t i = 0; i < r->n_pot_foods; i++) {
        const struct pot_food *pf = &r->pot_foods[i];
        bool again = i > 0 && r->pot_foods[i - 1].food == pf->food && strcmp(r->pot_foods[i - 1].pot, pf->pot) == 0;
        if (again || strcmp(pf->pot, l->pot) != 0) /* a food from two lots is one food */
            continue;
        g->foods[pf->food].offered++;
        g->foods[pf->food].refused += refused;
    }
}

static void count_line(const struct round *r, const struct line *l, const struct given *given, struct log_figures *g)
{
    g->lines++;
    if (l->action == ACTION_TARGET)
        g->planned_ml += l->amount;
    if (!given) {
        g->unaccounted++;
        return;
    }
    g->outcomes[given->outcome]++;
    bool done = given->outcome == OUTCOME_GIVEN || given->outcome == OUTCOME_PART;
    g->on_time += done && (given->at_min < 0 || given->at_min <= l->end_min + ON_TIME_MIN);
    if (l->action != ACTION_TARGET || given->outcome == OUTCOME_NOT_GIVEN)
        return;
    bool refused = given->outcome == OUTCOME_REFUSED;
    *(refused ? &g->refused_ml : &g->given_ml) += given->amount;
    if (given->response >= 0) {
        g->judged++;
        g->score_sum += given->response;
    }
    count_foods(r, l, refused, g);
}

static void count_weighing(const struct round *r, const struct round_log *log, const struct weighed *w,
                           struct log_figures *g)
{
    for (size_t i = 0; i < r->n_pot_foods; i++) {
        const struct pot_food *pf = &r->pot_foods[i];
        if (pf->rank != w->rank || strcmp(pf->pot, w->pot) != 0)
            continue;
        double wanted = pf->premix_units > 0 ? pf->premix_units : pf->amount_units;
        const struct mixed *m = log_find_mixed(log, w->pot);
        for (size_t p = 0; m && pf->premix_units <= 0 && p < r->n_pots; p++)
            if (strcmp(r->pots[p].pot, w->pot) == 0 && r->pots[p].made_ml > 0)
                wanted *= m->made_ml / r->pots[p].made_ml;
        if (wanted <= 0)
            return;
        struct food_figures *food = &g->foods[pf->food];
        double off = fabs(w->amount_units - wanted) / wanted;
        food->weighings++;
        food->off_frac_sum += off;
        food->off_frac_worst = fmax(food->off_frac_worst, off);
    }
}

bool log_pot_used(const struct round *r, const struct round_log *log, const char *pot)
{
    const struct mixed *m = log_find_mixed(log, pot);
    if (m)
        return m->made_ml > 0;
    for (size_t i = 0; i < log->n_givens; i++) {
        const struct line *l = round_line(r, log->givens[i].line);
        if (l && log->givens[i].outcome != OUTCOME_NOT_GIVEN && strcmp(l->pot, pot) == 0)
            return true;
    }
    return false;
}

void log_figures_add(const struct round *r, const struct round_log *log, struct log_figures *g)
{
    g->rounds++;
    g->extras += (long)log->n_extras;
    for (size_t i = 0; i < r->n_lines; i++)
        count_line(r, &r->lines[i], log_find(log, r->lines[i].number), g);
    for (size_t i = 0; i < r->n_pots; i++) {
        const struct mixed *m = log_find_mixed(log, r->pots[i].pot);
        if (m)
            g->mixed_ml += m->made_ml;
        else if (log_pot_used(r, log, r->pots[i].pot))
            g->mixed_ml += r->pots[i].made_ml;
        if (m && !isnan(m->left_ml))
            g->left_ml += m->left_ml;
    }
    for (size_t i = 0; i < log->n_weighings; i++)
        count_weighing(r, log, &log->weighings[i], g);
}

/* ---- flows that were off too long -------------------------------------------------------------------------------- */

static int logged_min(const struct given *g, int planned_min)
{
    return g && g->at_min >= 0 ? (int)g->at_min : planned_min;
}

static bool was_done(const struct given *g)
{
    return g && g->outcome != OUTCOME_NOT_GIVEN;
}

bool log_long_stops(const struct facility *f, const struct round *r, const struct round_log *log, struct arena *a,
                    struct long_stop **stops, size_t *n, struct err *e)
{
    *n = 0;
    *stops = arena_alloc(a, r->n_lines, sizeof **stops);
    if (!*stops)
        return err_memory(e);
    for (size_t i = 0; i < r->n_lines; i++) {
        const struct line *on = &r->lines[i], *off;
        const struct given *given_on = log_find(log, on->number), *given_off;
        if (on->action != ACTION_FLOW_ON || !given_on || !(off = flow_off_of(f, r, on)))
            continue;
        given_off = log_find(log, off->number);
        int off_min = logged_min(given_off, off->start_min);
        struct long_stop s = {r->head.number,
                              r->head.day,
                              on->tank,
                              off_min,
                              was_done(given_on) ? logged_min(given_on, on->start_min) : INT_MAX,
                              off_limit_min(f, on->tank, off_min)};
        if (was_done(given_off) && (s.on_min == INT_MAX || s.on_min - s.off_min > s.limit_min))
            (*stops)[(*n)++] = s;
    }
    return true;
}

void long_stop_words(const struct long_stop *s, struct text *out)
{
    if (s->on_min == INT_MAX)
        text_addf(out, "the flow was turned off and, by the log, not on again");
    else
        text_addf(out, "the flow was off for %d min, %.10g at most", s->on_min - s->off_min, s->limit_min);
}
