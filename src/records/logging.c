/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A round that is logged: what was given, judged and put. */
#include "neap/logging.h"
#include "neap/calc.h"
#include "neap/drawing.h"
#include "neap/figures.h"
#include "neap/log.h"
#include "neap/naming.h"
#include "neap/replan.h"
#include "neap/rescale.h"
#include "neap/response.h"
#include "neap/stock.h"
#include "neap/todays.h"

/* ---- opening ---------------------------------------------------------------------------------------------------- */

/* How many revisions up to the one in force differ in their times only: a line is the same on all these sheets. */
static bool resets_of(const struct logging *lg, long *n_resets, struct err *e)
{
    struct arena a = {0};
    struct plan_request request;
    bool ok = request_read(&lg->f, &lg->r, &a, &request, e);
    if (ok)
        *n_resets = request.n_resets;
    arena_free(&a);
    return ok;
}

/* Lines of two revisions are not the same lines, so a sheet that is not in force must not be logged. */
static bool revision_holds(const struct logging *lg, struct err *e)
{
    const struct round_head *h = &lg->r.head;
    long in_hand = lg->in_hand > 0 ? lg->in_hand : 1, n_resets;
    if (lg->in_hand == 0 && lg->only_shown)
        return true;
    if (!resets_of(lg, &n_resets, e))
        return false;
    if (lg->in_hand == 0 && h->revision - n_resets > 1)
        return err_set(e, ERR_MISUSE, NULL,
                       "round %ld was planned %ld times; expected --revision %ld, if that stands on the sheet in hand",
                       h->number, h->revision, h->revision);
    if (in_hand <= h->revision && in_hand >= h->revision - n_resets)
        return true;
    err_set(e, ERR_INPUT, NULL,
            "the sheet in hand is revision %ld of round %ld, but revision %ld is in force, and its lines are other "
            "lines; expected what was given, written onto that one",
            in_hand, h->number, h->revision);
    char round[24];
    snprintf(round, sizeof round, "%ld", h->number);
    return err_help(e, HELP_SHEET, round);
}

bool logging_open(struct logging *lg, long number, struct err *e)
{
    if (!store_load_round(lg->s, &lg->f, number, &lg->r, e))
        return false;
    if (revision_holds(lg, e) && store_load_log(lg->s, &lg->f, lg->r.head.number, &lg->log, e))
        return true;
    round_free(&lg->r);
    return false;
}

void logging_close(struct logging *lg)
{
    round_log_free(&lg->log);
    round_free(&lg->r);
    text_free(&lg->told);
}

/* The log as it stands now; the round too, where it was planned again meanwhile. Others wait for this: it is short. */
bool logging_reread(struct logging *lg, struct err *e)
{
    long number = lg->r.head.number, revision;
    if (!store_round_revision(lg->s, number, &revision, e))
        return false;
    round_log_free(&lg->log);
    if (revision == lg->r.head.revision)
        return store_load_log(lg->s, &lg->f, number, &lg->log, e);
    round_free(&lg->r);
    return logging_open(lg, number, e);
}

/* Which lots the round and its log name. NULL: no memory; the caller's to free. */
static bool *lots_named(const struct logging *lg)
{
    bool *named = calloc(lg->f.n_lots + 1, sizeof *named);
    for (size_t i = 0; named && i < lg->r.n_lines; i++)
        if (lg->r.lines[i].lot != REF_NONE)
            named[lg->r.lines[i].lot] = true;
    for (size_t i = 0; named && i < lg->r.n_pot_foods; i++)
        if (lg->r.pot_foods[i].lot != REF_NONE)
            named[lg->r.pot_foods[i].lot] = true;
    for (size_t i = 0; named && i < lg->log.n_extras; i++)
        if (lg->log.extras[i].lot != REF_NONE)
            named[lg->log.extras[i].lot] = true;
    return named;
}

bool logging_begin(struct logging *lg, struct err *e)
{
    memset(lg->put, 0, sizeof lg->put);
    lg->same = lg->taken_back = lg->others = 0;
    lg->over = lg->flows = false;
    text_free(&lg->told);
    if (!store_begin(lg->s, e))
        return false;
    if (logging_reread(lg, e))
        return true;
    store_rollback(lg->s);
    return false;
}

/* ---- lots that were used for the first time ---------------------------------------------------------------------- */

static bool lot_is_used(const struct logging *lg, size_t lot)
{
    for (size_t i = 0; i < lg->log.n_givens; i++) {
        const struct line *l = round_line(&lg->r, lg->log.givens[i].line);
        if (l && l->lot == lot && lg->log.givens[i].outcome != OUTCOME_NOT_GIVEN)
            return true;
    }
    for (size_t i = 0; i < lg->r.n_pot_foods; i++)
        if (lg->r.pot_foods[i].lot == lot && log_pot_used(&lg->r, &lg->log, lg->r.pot_foods[i].pot))
            return true;
    for (size_t i = 0; i < lg->log.n_extras; i++)
        if (lg->log.extras[i].lot == lot)
            return true;
    return false;
}

/* Its life begins: nobody else writes that down. */
static bool open_lot(struct logging *lg, struct lot *lot, struct err *e)
{
    char opened[DAY_TEXT], last[DAY_TEXT];
    enum put outcome;
    lot->opened = lot->received == DAY_NONE ? lg->r.head.day : greater(lg->r.head.day, lot->received);
    day_format(lot->opened, opened);
    day_format(lot_last_day(&lg->f, lot), last);
    text_addf(&lg->told, "lot %s of %s: opened %s; use until %s\n", lot->code, lg->f.foods[lot->food].name, opened,
              last);
    return row_put(lg->s, &lg->f, REG_LOT, lot, &outcome, e);
}

static bool open_lots(struct logging *lg, struct err *e)
{
    for (size_t i = 0; i < lg->f.n_lots; i++)
        if (lg->f.lots[i].opened == DAY_NONE && lot_is_used(lg, i) && !open_lot(lg, &lg->f.lots[i], e))
            return false;
    return true;
}

/* The lines of a pot that are logged as given, for a message: "14-16,18". */
static void add_given_lines(const struct logging *lg, const struct pot *pot, struct text *out)
{
    for (size_t i = 0; i < lg->r.n_lines; i++) {
        const struct line *l = &lg->r.lines[i];
        const struct given *g = log_find(&lg->log, l->number);
        if (l->action == ACTION_TARGET && strcmp(l->pot, pot->pot) == 0 && g && g->outcome != OUTCOME_NOT_GIVEN)
            text_addf(out, "%s%ld", out->len > 0 ? "," : "", l->number);
    }
}

/* Nothing comes out of a pot that was not mixed, nor more than was in it. */
static bool pot_holds(const struct logging *lg, const struct pot *pot, struct err *e)
{
    double mixed_ml = pot_mixed_ml(&lg->log, pot), used_ml = pot_used_ml(&lg->r, &lg->log, pot);
    struct text lines = {0};
    if (used_ml <= mixed_ml + 1e-6)
        return true;
    add_given_lines(lg, pot, &lines);
    if (mixed_ml <= 0)
        err_set(
            e, ERR_INPUT, NULL,
            "pot %s was not mixed, yet %.10g mL of it are logged as given; expected another --made, or its lines as "
            "not given: %.200s=n",
            pot->pot, number_without_dust(used_ml), text_str(&lines));
    else
        err_set(e, ERR_INPUT, NULL,
                "pot %s: %.10g mL given of %.10g mL mixed; expected no more, or what was mixed: --made %s=ML", pot->pot,
                number_without_dust(used_ml), mixed_ml, pot->pot);
    text_free(&lines);
    return false;
}

static bool pots_hold(const struct logging *lg, struct err *e)
{
    for (size_t i = 0; i < lg->r.n_pots; i++)
        if (!pot_holds(lg, &lg->r.pots[i], e))
            return false;
    return true;
}

/* A tub that gave more than it held by the books: it was another tub, the books are wrong, or the amount is a slip. */
static bool lot_gave_more(struct logging *lg, struct lot *l, double over, struct err *e)
{
    const char *unit = food_unit_name(&lg->f.foods[l->food]);
    char note[100];
    enum put outcome;
    lg->over = !lg->more;
    if (!lg->more)
        return err_set(e, ERR_INPUT, NULL,
                       "lot %s, %s: with this it has given %.10g %s more than it held; --more says that it did, "
                       "--weighed \"POT:%s=0\" that it was not in the pot (nothing of this was stored)",
                       l->code, lg->f.foods[l->food].name, over, unit, l->code);
    text_addf(&lg->told, "lot %s: gave %.10g %s more than it held\n", l->code, over, unit);
    snprintf(note, sizeof note, "gave %.10g %s more than was written down", over, unit);
    if (strlen(l->note) + strlen(note) + 2 > NOTE_BYTES_MAX) /* it has a note, then */
        return true;
    l->note = *l->note ? arena_format(&lg->f.arena, "%s; %s", l->note, note) : arena_text(&lg->f.arena, note);
    return l->note ? row_put(lg->s, &lg->f, REG_LOT, l, &outcome, e) : err_memory(e);
}

/*
 * What a lot had given too much already is no fault of this entry. That is rare, so it is asked only then: of the store
 * as others see it, without what this transaction put.
 */
static bool overdrawn_before(struct logging *lg, const struct lot *l, double *units, struct err *e)
{
    struct store *before;
    if (!store_open(store_path(lg->s), STORE_READ, &before, e))
        return false;
    bool ok = lot_overdrawn(before, l, units, e);
    store_close(before);
    return ok;
}

static bool lot_holds(struct logging *lg, struct lot *l, struct err *e)
{
    double over, before;
    if (!lot_overdrawn(lg->s, l, &over, e))
        return false;
    if (over <= 0)
        return true;
    return overdrawn_before(lg, l, &before, e) && (over <= before + 1e-9 || lot_gave_more(lg, l, over, e));
}

static bool lots_hold(struct logging *lg, struct err *e)
{
    bool *named = lots_named(lg);
    bool ok = named || err_memory(e);
    for (size_t i = 0; ok && i < lg->f.n_lots; i++)
        ok = !named[i] || lot_holds(lg, &lg->f.lots[i], e);
    free(named);
    return ok;
}

bool logging_end(struct logging *lg, bool ok, const char *typed, struct err *e)
{
    struct err none;
    ok = ok && logging_reread(lg, e) && pots_hold(lg, e) && open_lots(lg, e) && lots_hold(lg, e);
    if (!ok || lg->dry_run)
        store_rollback(lg->s);
    else
        lg->stored = (ok = store_commit(lg->s, typed, lg->now, e)) || lg->stored;
    if (!ok)
        logging_reread(lg, &none); /* back to what is kept; the first error stands */
    return ok;
}

/* ---- rows ------------------------------------------------------------------------------------------------------- */

static bool same_number(double a, double b)
{
    return (isnan(a) && isnan(b)) || fabs(a - b) <= 1e-9;
}

/* A row typed without a note says nothing against the one there is. */
static bool same_given(const struct given *was, const struct given *is)
{
    return was->outcome == is->outcome && same_number(was->amount, is->amount) && was->response == is->response &&
           was->at_min == is->at_min && (!*is->note || strcmp(was->note, is->note) == 0);
}

void logging_planned(const struct logging *lg, const struct line *l, struct given *g)
{
    *g = (struct given){.round = lg->r.head.number,
                        .line = l->number,
                        .sheet_revision = lg->r.head.revision,
                        .amount = l->amount,
                        .response = -1,
                        .at_min = -1,
                        .note = ""};
}

static bool logged_already(const struct logging *lg, const struct line *l, const struct given *was, struct err *e)
{
    struct text words = {0};
    log_given_words(&lg->f, l, was, &words);
    err_set(e, ERR_INPUT, NULL, "line %ld is logged already: %s; --again replaces that (nothing of this was stored)",
            l->number, text_str(&words));
    text_free(&words);
    return false;
}

/* "line 14: was part given, 1.5 mL; now refused, 2 mL, 0 (nothing taken)" */
static void tell_replaced(struct logging *lg, const struct line *l, const struct given *was, const struct given *is)
{
    text_addf(&lg->told, "line %ld: was ", l->number);
    log_given_words(&lg->f, l, was, &lg->told);
    text_add(&lg->told, "; now ");
    if (is->voided)
        text_add(&lg->told, "not logged");
    else
        log_given_words(&lg->f, l, is, &lg->told);
    text_add(&lg->told, "\n");
}

bool logging_line(struct logging *lg, const struct given *g, struct err *e)
{
    const struct line *l = round_line(&lg->r, g->line);
    const struct given *was = log_find(&lg->log, g->line);
    enum put outcome;
    if (!l)
        return err_set(e, ERR_NOT_FOUND, NULL, "round %ld has no line %ld; expected 1 to %zu", lg->r.head.number,
                       g->line, lg->r.n_lines);
    if (!was && g->voided)
        return err_set(e, ERR_INPUT, NULL, "line %ld: nothing was logged of it that could be taken back", g->line);
    if (was && !g->voided && same_given(was, g)) {
        lg->same++;
        return true;
    }
    if (was && !lg->again && !g->voided)
        return logged_already(lg, l, was, e);
    if (!g->voided && !lg->more && log_is_more(l, g)) {
        lg->over = true;
        return err_set(e, ERR_INPUT, NULL,
                       "line %ld: %.10g %s is more than the plan, %.10g %s; --more says that it is right (nothing of "
                       "this was stored)",
                       l->number, g->amount, line_unit(&lg->f, l), round_near_to(l->amount, 0.01),
                       line_unit(&lg->f, l));
    }
    if (was)
        tell_replaced(lg, l, was, g);
    lg->flows = lg->flows || l->action == ACTION_FLOW_OFF || l->action == ACTION_FLOW_ON;
    if (g->voided)
        lg->taken_back++;
    else
        lg->put[g->outcome]++;
    return row_put(lg->s, &lg->f, REG_GIVEN, g, &outcome, e);
}

/* ---- what a word means ------------------------------------------------------------------------------------------- */

static bool take_spans(struct logging *lg, const struct log_word *w, logging_take *take, void *context, struct err *e)
{
    for (size_t i = 0; i < w->n_spans; i++)
        for (long n = w->spans[i].first; n <= w->spans[i].last; n++) {
            const struct line *l = round_line(&lg->r, n);
            struct given g;
            if (!l)
                return err_set(e, ERR_NOT_FOUND, NULL, "round %ld has no line %ld; expected 1 to %zu",
                               lg->r.head.number, n, lg->r.n_lines);
            if (!log_word_apply(w, &lg->f, &lg->r, l, &g, e) || !take(lg, l, &g, false, context, e))
                return false;
        }
    return true;
}

static bool take_colony(struct logging *lg, const struct log_word *w, size_t colony, logging_take *take, void *context,
                        struct err *e)
{
    size_t n = 0;
    long first = 0;
    struct given g;
    for (size_t i = 0; i < lg->r.n_lines; i++)
        if (lg->r.lines[i].colony == colony && n++ == 0)
            first = lg->r.lines[i].number;
    if (n == 0)
        return err_set(e, ERR_NOT_FOUND, NULL, "%s is not fed in round %ld; expected a colony on its sheet", w->name,
                       lg->r.head.number);
    if (n > 1 && *w->amount)
        return err_set(e, ERR_INPUT, NULL,
                       "%s is fed on %zu lines, from line %ld on; expected the amounts line by line, such as %ld=%s",
                       w->name, n, first, first, w->amount);
    for (size_t i = 0; i < lg->r.n_lines; i++) {
        const struct line *l = &lg->r.lines[i];
        if (l->colony == colony &&
            (!log_word_apply(w, &lg->f, &lg->r, l, &g, e) || !take(lg, l, &g, false, context, e)))
            return false;
    }
    return true;
}

/* r and a score are for what mouths were fed; all else of the tank stays as it is. */
static bool take_tank(struct logging *lg, const struct log_word *w, size_t tank, logging_take *take, void *context,
                      struct err *e)
{
    bool any = false, mouths = w->outcome == OUTCOME_REFUSED || w->response >= 0;
    struct given g;
    if (*w->amount)
        return err_set(e, ERR_INPUT, NULL, "%s=%s: an amount is that of one line; expected its number", w->name,
                       w->amount);
    for (size_t i = 0; i < lg->r.n_lines; i++) {
        const struct line *l = &lg->r.lines[i];
        if (l->tank != tank)
            continue;
        any = true;
        if (w->take_back != (log_find(&lg->log, l->number) != NULL) || (mouths && l->action != ACTION_TARGET))
            continue;
        if (!log_word_apply(w, &lg->f, &lg->r, l, &g, e) || !take(lg, l, &g, true, context, e))
            return false;
    }
    return any || err_set(e, ERR_NOT_FOUND, NULL, "%s has no line in round %ld; expected a tank on its sheet", w->name,
                          lg->r.head.number);
}

bool logging_word(struct logging *lg, const char *word, logging_take *take, void *context, struct err *e)
{
    struct log_word w;
    char quoted[EXCERPT_TEXT];
    if (!log_word_parse(word, &w, e))
        return false;
    if (w.n_spans > 0)
        return take_spans(lg, &w, take, context, e);
    size_t tank = facility_named(&lg->f, REG_TANK, w.name);
    if (tank != REF_NONE)
        return take_tank(lg, &w, tank, take, context, e);
    size_t colony = facility_named(&lg->f, REG_COLONY, w.name);
    if (colony != REF_NONE)
        return take_colony(lg, &w, colony, take, context, e);
    return err_set(e, ERR_MISUSE, NULL,
                   "\"%s\" is no line, tank or colony of round %ld; expected such as 14=1.5, 15-18=:4, D1, D1-002=r",
                   text_excerpt(w.name, quoted), lg->r.head.number);
}

/* ---- notes and names --------------------------------------------------------------------------------------------- */

struct noting {
    const char *note;
    size_t n;
};

static bool note_line(struct logging *lg, const struct line *l, const struct given *none, bool weak, void *context,
                      struct err *e)
{
    struct noting *in = context;
    const struct given *was = log_find(&lg->log, l->number);
    enum put outcome;
    (void)none, (void)weak;
    if (!was)
        return err_set(e, ERR_INPUT, NULL, "line %ld is not logged; expected what became of it beside the note",
                       l->number);
    if (strcmp(was->note, in->note) == 0) {
        lg->same++;
        return true;
    }
    if (*was->note && !lg->again)
        return err_set(e, ERR_INPUT, NULL, "line %ld has a note already: %s; --again replaces that", l->number,
                       was->note);
    struct given noted = *was;
    noted.note = in->note;
    in->n++;
    text_addf(&lg->told, "line %ld: noted\n", l->number);
    return row_put(lg->s, &lg->f, REG_GIVEN, &noted, &outcome, e);
}

static bool note_round(struct logging *lg, const char *text, struct err *e)
{
    enum put outcome;
    long number = 1;
    for (size_t i = 0; i < lg->log.n_remarks; i++) {
        number = lg->log.remarks[i].number + 1;
        if (strcmp(lg->log.remarks[i].text, text) == 0) {
            lg->same++;
            return true;
        }
    }
    const struct remark remark = {.round = lg->r.head.number, .number = number, .text = text};
    lg->others++;
    text_add(&lg->told, "the round: noted\n");
    return row_put(lg->s, &lg->f, REG_REMARK, &remark, &outcome, e);
}

/* Text as a register takes it: what a file may not hold, a note may not either. */
static bool read_note(const char *text, enum reg_id id, const char *field, struct arena *a, const char **out,
                      struct err *e)
{
    const struct field *f = &reg_get(id)->fields[reg_field(reg_get(id), field)];
    struct cell cell;
    struct err why;
    text += strspn(text, " ");
    if (!cell_parse(f, text, a, &cell, &why))
        return err_set(e, why.code, NULL, "the %s %s", field, why.text);
    *out = cell.kind == CELL_TEXT ? cell.text : "";
    return cell.kind == CELL_TEXT || err_set(e, ERR_MISUSE, NULL, "the %s is empty; expected some words", field);
}

bool logging_note(struct logging *lg, const char *text, struct err *e)
{
    const char *equals = strchr(text, '=');
    struct arena a = {0};
    struct noting in = {0};
    char of[NAME_BYTES_MAX + 1] = "";
    if (equals && equals - text <= NAME_BYTES_MAX)
        snprintf(of, sizeof of, "%.*s", (int)(equals - text), text);
    bool named = *of && (log_word_is(of) || facility_named(&lg->f, REG_TANK, of) != REF_NONE ||
                         facility_named(&lg->f, REG_COLONY, of) != REF_NONE);
    bool ok = logging_reread(lg, e) && read_note(named ? equals + 1 : text, REG_GIVEN, "note", &a, &in.note, e);
    if (ok && named && facility_named(&lg->f, REG_TANK, of) != REF_NONE)
        ok = err_set(e, ERR_INPUT, NULL, "%s is a tank; expected a line or colony for a note, or words for the round",
                     of);
    ok = ok && (named ? logging_word(lg, of, note_line, &in, e) : note_round(lg, in.note, e));
    lg->others += (long)in.n;
    ok = ok && logging_reread(lg, e);
    arena_free(&a);
    return ok;
}

bool logging_by(struct logging *lg, const char *text, struct err *e)
{
    struct arena a = {0};
    struct crew crew = {.round = lg->r.head.number, .feeder = 1};
    const char *equals = strchr(text, '='), *name = text;
    char feeder[8] = "";
    enum put outcome;
    if (equals && equals - text < (long)sizeof feeder) {
        snprintf(feeder, sizeof feeder, "%.*s", (int)(equals - text), text);
        name = equals + 1;
    }
    bool ok = *feeder ? count_parse(feeder, &crew.feeder) && crew.feeder >= 1 && crew.feeder <= lg->r.head.feeders
                      : lg->r.head.feeders == 1;
    if (!ok)
        return err_set(e, ERR_MISUSE, NULL, "--by \"%.60s\": round %ld has feeders 1 to %ld; expected such as 1=JK",
                       text, lg->r.head.number, lg->r.head.feeders);
    ok = read_note(name, REG_CREW, "name", &a, &crew.name, e);
    for (size_t i = 0; ok && i < lg->log.n_crews; i++) {
        const struct crew *was = &lg->log.crews[i];
        if (was->feeder == crew.feeder && strcmp(was->name, crew.name) != 0 && !lg->again)
            ok = err_set(e, ERR_INPUT, NULL, "feeder %ld was %s by the log; --again replaces that", crew.feeder,
                         was->name);
    }
    ok = ok && row_put(lg->s, &lg->f, REG_CREW, &crew, &outcome, e);
    if (ok && outcome != PUT_SAME)
        text_addf(&lg->told, "feeder %ld: %s\n", crew.feeder, crew.name);
    lg->others += ok && outcome != PUT_SAME;
    ok = ok && logging_reread(lg, e);
    arena_free(&a);
    return ok;
}

/* ---- pots, weighings, extras ------------------------------------------------------------------------------------ */

/* "A=118mL" into the pot and what stands behind the equals sign. */
static const struct pot *pot_named(const struct logging *lg, const char *text, const char *until, struct err *e)
{
    size_t len = (size_t)(until - text);
    for (size_t i = 0; i < lg->r.n_pots; i++)
        if (strlen(lg->r.pots[i].pot) == len && strncmp(lg->r.pots[i].pot, text, len) == 0)
            return &lg->r.pots[i];
    struct text names = {0};
    for (size_t i = 0; i < lg->r.n_pots; i++)
        text_addf(&names, "%s%s", i ? ", " : "", lg->r.pots[i].pot);
    err_set(e, ERR_NOT_FOUND, NULL, "round %ld has no pot \"%.*s\"; expected one of %s", lg->r.head.number,
            (int)(len < 20 ? len : 20), text, text_str(&names));
    text_free(&names);
    return NULL;
}

static bool volume_of_pot(const struct logging *lg, const char *option, const char *text, const struct pot **pot,
                          double *ml, struct err *e)
{
    const char *equals = strchr(text, '=');
    struct err why;
    if (!equals)
        return err_set(e, ERR_MISUSE, NULL, "--%s \"%.60s\"; expected POT=AMOUNT, such as A=118mL", option, text);
    *pot = pot_named(lg, text, equals, e);
    if (!*pot)
        return false;
    if (!quantity_read(equals + 1, "mL", ml, &why))
        return err_set(e, ERR_INPUT, NULL, "--%s, pot %s: %s", option, (*pot)->pot, why.text);
    return *ml <= 3 * (*pot)->made_ml ||
           err_set(e, ERR_INPUT, NULL,
                   "--%s, pot %s: %.10g mL is more than three times the plan, %.10g mL; expected at most that", option,
                   (*pot)->pot, *ml, (*pot)->made_ml);
}

static struct mixed mixed_now(const struct logging *lg, const struct pot *pot)
{
    const struct mixed *was = log_find_mixed(&lg->log, pot->pot);
    return was ? *was
               : (struct mixed){
                     .round = lg->r.head.number, .pot = pot->pot, .made_ml = pot->made_ml, .left_ml = NAN, .note = ""};
}

/* One figure of a pot's row, was the one before. The log is read again: --made and --left of a pot are one row. */
static bool put_mixed(struct logging *lg, const struct mixed *m, const char *what, double was, double is, struct err *e)
{
    enum put outcome;
    if (same_number(was, is)) {
        lg->same++;
        return true;
    }
    if (!isnan(was) && !lg->again)
        return err_set(e, ERR_INPUT, NULL, "pot %s is logged already: %.10g mL %s; --again replaces that", m->pot, was,
                       what);
    if (m->left_ml > m->made_ml)
        return err_set(e, ERR_INPUT, NULL, "pot %s: %.10g mL left over of %.10g mL mixed; expected less", m->pot,
                       m->left_ml, m->made_ml);
    text_addf(&lg->told, "pot %s: %.10g mL %s", m->pot, is, what);
    if (!isnan(was))
        text_addf(&lg->told, " (was %.10g)", was);
    text_add(&lg->told, "\n");
    lg->others++;
    return row_put(lg->s, &lg->f, REG_MIXED, m, &outcome, e) && logging_reread(lg, e);
}

bool logging_made(struct logging *lg, const char *text, struct err *e)
{
    const struct pot *pot;
    double ml;
    if (!volume_of_pot(lg, "made", text, &pot, &ml, e))
        return false;
    struct mixed m = mixed_now(lg, pot);
    double was = log_find_mixed(&lg->log, pot->pot) ? m.made_ml : NAN;
    m.made_ml = ml;
    return put_mixed(lg, &m, "mixed", was, ml, e);
}

bool logging_left(struct logging *lg, const char *text, struct err *e)
{
    const struct pot *pot;
    double ml;
    if (!volume_of_pot(lg, "left", text, &pot, &ml, e))
        return false;
    struct mixed m = mixed_now(lg, pot);
    double was = m.left_ml;
    m.left_ml = ml;
    return put_mixed(lg, &m, "left over", was, ml, e);
}

/* The row of a pot's table that a food's name or a lot's code means. */
static const struct pot_food *pot_row(const struct logging *lg, const char *pot, const char *name, size_t len,
                                      struct err *e)
{
    const struct pot_food *found = NULL;
    for (size_t i = 0; i < lg->r.n_pot_foods; i++) {
        const struct pot_food *pf = &lg->r.pot_foods[i];
        const char *food = lg->f.foods[pf->food].name, *lot = pf->lot == REF_NONE ? "" : lg->f.lots[pf->lot].code;
        bool by_food = strlen(food) == len && strncmp(food, name, len) == 0;
        bool by_lot = strlen(lot) == len && strncmp(lot, name, len) == 0;
        if (strcmp(pf->pot, pot) != 0 || (!by_food && !by_lot))
            continue;
        if (found) {
            err_set(e, ERR_INPUT, NULL, "pot %s has two rows of \"%.*s\"; expected the lot's code instead", pot,
                    (int)len, name);
            return NULL;
        }
        found = pf;
    }
    if (!found)
        err_set(e, ERR_NOT_FOUND, NULL, "pot %s has no \"%.*s\" in it; expected a food or lot of its table", pot,
                (int)(len < NAME_BYTES_MAX ? len : NAME_BYTES_MAX), name);
    return found;
}

/* Rows of one premix: weighed once for all of them, each has its part of it. */
static bool weighed_together(const struct pot_food *a, const struct pot_food *b)
{
    return a == b || (a->premix_ml > 0 && b->premix_ml > 0 && a->food == b->food);
}

static double to_be_weighed(const struct logging *lg, const struct pot_food *pf)
{
    double units = 0;
    if (pf->premix_ml <= 0)
        return pf->amount_units;
    for (size_t i = 0; i < lg->r.n_pot_foods; i++)
        units += weighed_together(pf, &lg->r.pot_foods[i]) ? lg->r.pot_foods[i].premix_units : 0;
    return units;
}

static bool put_weighed(struct logging *lg, const struct pot_food *pf, double units, struct err *e)
{
    struct weighed w = {
        .round = lg->r.head.number, .pot = pf->pot, .rank = pf->rank, .amount_units = units, .note = ""};
    enum put outcome;
    for (size_t i = 0; i < lg->log.n_weighings; i++) {
        const struct weighed *was = &lg->log.weighings[i];
        if (was->rank == w.rank && strcmp(was->pot, w.pot) == 0 && !lg->again &&
            !same_number(was->amount_units, w.amount_units))
            return err_set(e, ERR_INPUT, NULL, "pot %s, %s is logged already: %.10g; --again replaces that", w.pot,
                           lg->f.foods[pf->food].name, was->amount_units);
    }
    return row_put(lg->s, &lg->f, REG_WEIGHED, &w, &outcome, e);
}

bool logging_weighed(struct logging *lg, const char *text, struct err *e)
{
    const char *colon = strchr(text, ':'), *equals = strrchr(text, '=');
    double units;
    struct err why;
    if (!colon || !equals || equals < colon)
        return err_set(e, ERR_MISUSE, NULL,
                       "--weighed \"%.60s\"; expected POT:FOOD=AMOUNT, such as \"A:rich powder=2.1g\"", text);
    const struct pot *pot = pot_named(lg, text, colon, e);
    const char *name = colon + 1 + strspn(colon + 1, " ");
    const struct pot_food *pf = pot ? pot_row(lg, pot->pot, name, (size_t)(equals - name), e) : NULL;
    if (!pf)
        return false;
    const struct food *food = &lg->f.foods[pf->food];
    if (!food_amount_read(food, equals + 1, &units, &why))
        return err_set(e, ERR_INPUT, NULL, "--weighed, %s: %s", food->name, why.text);
    double wanted = to_be_weighed(lg, pf);
    if (units > 5 * wanted)
        return err_set(e, ERR_INPUT, NULL,
                       "--weighed, %s: %.10g is more than five times the %.10g on the sheet; expected at most that",
                       food->name, units, wanted);
    for (size_t i = 0; i < lg->r.n_pot_foods; i++) {
        const struct pot_food *row = &lg->r.pot_foods[i];
        double part = row->premix_ml > 0 ? row->premix_units / wanted : 1;
        if (weighed_together(pf, row) && !put_weighed(lg, row, units * part, e))
            return false;
    }
    text_addf(&lg->told, "%s%s, %s: %.10g of %.10g %s weighed\n", pf->premix_ml > 0 ? "premix for pot " : "pot ",
              pot->pot, food->name, units, amount_round(wanted), food_unit_name(food));
    lg->others++;
    return true;
}

static size_t found_row(const struct facility *f, enum reg_id id, const char *name, size_t len)
{
    char key[NAME_BYTES_MAX + 1];
    while (len > 0 && name[len - 1] == ' ')
        len--;
    if (len == 0 || len > NAME_BYTES_MAX)
        return REF_NONE;
    memcpy(key, name, len);
    key[len] = '\0';
    return facility_named(f, id, key);
}

static bool no_such_food(const struct facility *f, const char *name, size_t len, struct err *e)
{
    char key[NAME_BYTES_MAX + 1];
    snprintf(key, sizeof key, "%.*s", (int)(len < NAME_BYTES_MAX ? len : NAME_BYTES_MAX), name);
    return row_unknown(f, REG_FOOD, key, e);
}

/* Food from the lots that must be used first; what no lot has is booked without one. */
static bool put_extra(struct logging *lg, struct extra x, struct err *e)
{
    double units = x.amount_units;
    enum put outcome;
    for (size_t i = 0; i < lg->log.n_extras; i++)
        x.number = lg->log.extras[i].number >= x.number ? lg->log.extras[i].number + 1 : x.number;
    while (units > 1e-9) {
        double left;
        x.lot = stock_first_lot(&lg->f, x.food, lg->r.head.day, &left);
        x.amount_units = x.lot == REF_NONE ? units : fmin(units, round_near_to(left, 1e-9));
        units = round_near_to(units - x.amount_units, 1e-9);
        if (x.lot != REF_NONE)
            lg->f.lots[x.lot].used_units += x.amount_units;
        if (!row_put(lg->s, &lg->f, REG_EXTRA, &x, &outcome, e))
            return false;
        text_addf(&lg->told, "extra: %s, %s %.10g %s%s%s\n", lg->f.tanks[x.tank].name, lg->f.foods[x.food].name,
                  x.amount_units, food_unit_name(&lg->f.foods[x.food]),
                  x.lot == REF_NONE ? ", of no lot in stock" : " from ",
                  x.lot == REF_NONE ? "" : lg->f.lots[x.lot].code);
        lg->others++;
        x.number++;
    }
    return logging_reread(lg, e);
}

bool logging_extra(struct logging *lg, const char *text, struct err *e)
{
    const char *equals = strrchr(text, '='), *colon = NULL;
    struct extra x = {.round = lg->r.head.number, .number = 1, .tank = REF_NONE, .at_min = -1, .note = ""};
    struct err why;
    for (colon = equals ? strchr(text, ':') : NULL; colon && colon < equals; colon = strchr(colon + 1, ':'))
        if ((x.tank = found_row(&lg->f, REG_TANK, text, (size_t)(colon - text))) != REF_NONE)
            break;
    if (x.tank == REF_NONE)
        return err_set(
            e, ERR_MISUSE, NULL,
            "--extra \"%.60s\"; expected TANK:FOOD=AMOUNT with a tank there is, such as \"D1:live phytoplankton=20mL\"",
            text);
    const char *name = colon + 1 + strspn(colon + 1, " ");
    x.food = found_row(&lg->f, REG_FOOD, name, (size_t)(equals - name));
    if (x.food == REF_NONE)
        return no_such_food(&lg->f, name, (size_t)(equals - name), e);
    const struct food *food = &lg->f.foods[x.food];
    if (!food_amount_read(food, equals + 1, &x.amount_units, &why))
        return err_set(e, ERR_INPUT, NULL, "--extra, %s: %s", food->name, why.text);
    if (x.amount_units <= 0)
        return err_set(e, ERR_INPUT, NULL, "--extra, %s: expected more than 0", food->name);
    for (size_t i = 0; !lg->again && i < lg->log.n_extras; i++) {
        const struct extra *was = &lg->log.extras[i];
        if (was->tank == x.tank && was->food == x.food && same_number(was->amount_units, x.amount_units))
            return err_set(e, ERR_INPUT, NULL, "%s, %s %.10g is logged already; --again, if it was given twice",
                           lg->f.tanks[x.tank].name, food->name, x.amount_units);
    }
    return put_extra(lg, x, e);
}
