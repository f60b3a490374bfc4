/* SPDX-License-Identifier: GPL-3.0-or-later */
/* neap stock: what is on the shelf, what to order, what it costs. */
#include "cli.h"

#include "neap/calc.h"
#include "neap/drawing.h"
#include "neap/naming.h"
#include "neap/print.h"
#include "neap/stock.h"

/* What the shelf is shown from. */
struct stock_page {
    struct context *c;
    struct facility f;
    struct stock *foods;
    int window_d;
    struct arena arena;
};

static const char *unit_of(const struct facility *f, size_t food)
{
    return food_unit_name(&f->foods[food]);
}

/* ---- the page --------------------------------------------------------------------------------------------------- */

static const struct column shelf_columns[] = {
    {"food, lot", 0, false}, {"left", 10, true}, {"opened", 10, false}, {"use by", 10, false},
    {"a day", 7, true},      {"days", 5, true},  {"order", 7, true},
};

static const char *day_words(struct document *d, int day)
{
    char text[DAY_TEXT];
    if (day == DAY_NONE || day == INT_MAX)
        return "";
    day_format(day, text);
    return document_format(d, "%s", text);
}

static const char *units_words(struct document *d, double units, const char *unit)
{
    return document_format(d, "%.*f %s", fabs(units) < 100 ? 1 : 0, units, unit);
}

static const char *const state_words[] = {[LOT_KEEPS] = "",
                                          [LOT_DISCARD] = "DISCARD",
                                          [LOT_OVERDRAWN] = "OVER",
                                          [LOT_USED_UP] = "used up",
                                          [LOT_COMING] = "coming"};

static void put_lots(struct stock_page *s, size_t food, struct document *d)
{
    for (size_t i = 0; i < s->f.n_lots; i++) {
        const struct lot *l = &s->f.lots[i];
        if (l->food != food || l->retired)
            continue;
        const char *cells[] = {document_format(d, "  %s", l->code),
                               units_words(d, lot_left(l), unit_of(&s->f, food)),
                               day_words(d, l->opened),
                               day_words(d, lot_last_day(&s->f, l)),
                               "",
                               "",
                               state_words[lot_state(&s->f, l, s->c->today)]};
        document_row(d, cells);
    }
}

static bool is_shown(const struct stock_page *s, size_t food)
{
    bool any = s->foods[food].use_per_day > 0 || s->foods[food].out;
    for (size_t i = 0; i < s->f.n_lots && !any; i++)
        any = s->f.lots[i].food == food && !s->f.lots[i].retired;
    return any && !s->f.foods[food].retired;
}

static void put_foods(struct stock_page *s, struct document *d)
{
    document_table(d, shelf_columns, COUNT_OF(shelf_columns));
    for (size_t i = 0; i < s->f.n_foods; i++) {
        const struct stock *st = &s->foods[i];
        if (!is_shown(s, i))
            continue;
        const char *cells[] = {s->f.foods[i].name,
                               units_words(d, st->usable_units, unit_of(&s->f, i)),
                               "",
                               "",
                               st->use_per_day > 0 ? document_format(d, "%.1f", st->use_per_day) : "",
                               isnan(st->days_left) ? "" : document_format(d, "%.0f", floor(st->days_left + 1e-9)),
                               st->order_packs > 0
                                   ? document_format(d, "%ld pack%s", st->order_packs, st->order_packs == 1 ? "" : "s")
                               : st->out ? "NONE"
                                         : ""};
        document_row(d, cells);
        put_lots(s, i, d);
    }
}

static void put_discards(struct stock_page *s, struct document *d)
{
    bool headed = false;
    for (size_t i = 0; i < s->f.n_lots; i++) {
        const struct lot *l = &s->f.lots[i];
        if (!lot_discard(&s->f, l, s->c->today))
            continue;
        if (!headed) {
            document_space(d);
            document_heading(d, "DISCARD, then note it: neap stock --waste LOT=AMOUNT --reason \"out of date\"");
        }
        headed = true;
        document_item(d, "[ ]",
                      document_format(d, "%s, %s: %s; its last day was %s", l->code, s->f.foods[l->food].name,
                                      units_words(d, lot_left(l), unit_of(&s->f, l->food)),
                                      day_words(d, lot_last_day(&s->f, l))));
    }
}

/* ", 12.50 EUR in all"; nothing where no price was entered. */
static const char *order_price(const struct stock_page *s, size_t food, struct document *d)
{
    long cents = s->foods[food].order_packs * s->f.foods[food].price_cents;
    return cents == 0 ? ""
                      : document_format(d, ", %.2f%s in all", (double)cents / 100, money_in(&s->f.settings, " ", d));
}

static void put_orders(struct stock_page *s, struct document *d)
{
    bool headed = false;
    for (size_t i = 0; i < s->f.n_foods; i++) {
        const struct stock *st = &s->foods[i];
        const struct food *food = &s->f.foods[i];
        if (st->order_packs == 0)
            continue;
        if (!headed) {
            document_space(d);
            document_heading(d, "ORDER");
        }
        headed = true;
        document_item(d, "[ ]",
                      document_format(d, "%s: %ld x %.10g %s%s; delivery takes %g d, what is here lasts %.0f d",
                                      food->name, st->order_packs, food->pack_units, unit_of(&s->f, i),
                                      order_price(s, i, d), food->lead_d, floor(st->days_left + 1e-9)));
    }
}

static void put_expiring(struct stock_page *s, struct document *d)
{
    bool headed = false;
    for (size_t i = 0; i < s->f.n_foods; i++) {
        const struct stock *st = &s->foods[i];
        if (!st->expires)
            continue;
        if (!headed) {
            document_space(d);
            document_heading(d, "GOES OUT OF DATE AT THIS USE");
        }
        headed = true;
        document_item(
            d, "-",
            document_format(d, "%s: %s", s->f.foods[i].name, units_words(d, st->expires_units, unit_of(&s->f, i))));
    }
}

static const struct column cost_columns[] = {
    {"round of", 12, false},
    {"food", 10, true},
    {"given", 10, true},
    {"not given", 10, true},
};
static const struct column system_columns[] = {{"system", 20, false}, {"given", 10, true}, {"a day", 10, true}};

static bool put_costs(struct stock_page *s, struct document *d, struct err *e)
{
    struct day_cost *days;
    size_t n;
    if (!stock_day_costs(&s->f, s->c->today, &s->arena, &days, &n, e))
        return false;
    if (n == 0)
        return true;
    document_space(d);
    document_heading(d, document_format(d, "PRICE OF THE FOOD%s", money_in(&s->f.settings, ", ", d)));
    document_table(d, cost_columns, COUNT_OF(cost_columns));
    for (size_t i = n > 10 ? n - 10 : 0; i < n; i++) {
        const char *cells[] = {day_words(d, days[i].day), document_format(d, "%.2f", days[i].drawn_cents / 100),
                               document_format(d, "%.2f", days[i].given_cents / 100),
                               document_format(d, "%.2f", (days[i].drawn_cents - days[i].given_cents) / 100)};
        document_row(d, cells);
    }
    document_space(d);
    document_table(d, system_columns, COUNT_OF(system_columns));
    for (size_t i = 0; i < s->f.n_systems; i++) {
        double cents = stock_given_cents(&s->f, i, s->c->today);
        const char *cells[] = {s->f.systems[i].name, document_format(d, "%.2f", cents / 100),
                               document_format(d, "%.2f", cents / 100 / s->window_d)};
        if (cents > 0)
            document_row(d, cells);
    }
    return true;
}

static bool show_page(struct stock_page *s, struct err *e)
{
    struct document d = {0};
    char day[DAY_TEXT];
    day_format(s->c->today, day);
    document_heading(&d, s->window_d == 1
                             ? document_format(&d, "STOCK on %s; use of one day", day)
                             : document_format(&d, "STOCK on %s; use of the last %d days", day, s->window_d));
    put_foods(s, &d);
    put_discards(s, &d);
    put_orders(s, &d);
    put_expiring(s, &d);
    bool ok = put_costs(s, &d, e);
    ok = ok && (d.failed ? err_memory(e) : render_text(&d, 80, 0, s->c->out, e));
    document_free(&d);
    return ok;
}

/* ---- JSON ------------------------------------------------------------------------------------------------------- */

static void day_member(struct json_text *j, const char *key, int day)
{
    char text[DAY_TEXT] = "";
    if (day != DAY_NONE && day != INT_MAX)
        day_format(day, text);
    json_text_member(j, key, text);
}

static void json_lots(struct stock_page *s, size_t food, struct json_text *j)
{
    json_open(j, "lots", '[');
    for (size_t i = 0; i < s->f.n_lots; i++) {
        const struct lot *l = &s->f.lots[i];
        if (l->food != food || l->retired)
            continue;
        json_open(j, NULL, '{');
        json_text_member(j, "lot", l->code);
        json_number_member(j, "left_units", amount_round(lot_left(l)));
        day_member(j, "opened", l->opened);
        day_member(j, "last_day", lot_last_day(&s->f, l));
        json_flag_member(j, "discard", lot_discard(&s->f, l, s->c->today));
        json_close(j);
    }
    json_close(j);
}

static bool show_json(struct stock_page *s, struct err *e)
{
    struct json_text j = {.out = s->c->out};
    struct day_cost *days;
    size_t n;
    if (!stock_day_costs(&s->f, s->c->today, &s->arena, &days, &n, e))
        return false;
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    day_member(&j, "day", s->c->today);
    json_number_member(&j, "window_d", s->window_d);
    json_open(&j, "foods", '[');
    for (size_t i = 0; i < s->f.n_foods; i++) {
        const struct stock *st = &s->foods[i];
        if (!is_shown(s, i))
            continue;
        json_open(&j, NULL, '{');
        json_text_member(&j, "food", s->f.foods[i].name);
        json_text_member(&j, "unit", unit_of(&s->f, i));
        json_number_member(&j, "usable_units", round_near_to(st->usable_units, 1e-6));
        json_number_member(&j, "use_per_day", round_near_to(st->use_per_day, 1e-6));
        json_number_member(&j, "days_left", isnan(st->days_left) ? NAN : round_near_to(st->days_left, 1e-6));
        json_number_member(&j, "expires_units", round_near_to(st->expires_units, 1e-6));
        json_number_member(&j, "order_packs", (double)st->order_packs);
        json_lots(s, i, &j);
        json_close(&j);
    }
    json_close(&j);
    json_open(&j, "days", '[');
    for (size_t i = 0; i < n; i++) {
        json_open(&j, NULL, '{');
        day_member(&j, "day", days[i].day);
        json_number_member(&j, "food_cents", round_near_to(days[i].drawn_cents, 1));
        json_number_member(&j, "given_cents", round_near_to(days[i].given_cents, 1));
        json_close(&j);
    }
    json_close(&j);
    json_open(&j, "systems", '[');
    for (size_t i = 0; i < s->f.n_systems; i++) {
        json_open(&j, NULL, '{');
        json_text_member(&j, "system", s->f.systems[i].name);
        json_number_member(&j, "given_cents", stock_given_cents(&s->f, i, s->c->today));
        json_close(&j);
    }
    json_close(&j);
    json_close(&j);
    return s->c->out->failed ? err_memory(e) : true;
}

/* ---- where a lot went ------------------------------------------------------------------------------------------- */

static const struct column use_columns[] = {
    {"day", 10, false},     {"round", 5, true}, {"tank", 10, false},
    {"colonies", 0, false}, {"as", 9, false},   {"amount", 10, true},
};

static size_t find_lot(const struct facility *f, const char *code, struct err *e)
{
    size_t lot = facility_named(f, REG_LOT, code);
    if (lot == REF_NONE)
        row_unknown(f, REG_LOT, code, e);
    return lot;
}

static const char *const ways[] = {"broadcast", "fish", "", "target", ""}; /* by enum action */

static bool where_page(struct stock_page *s, const struct lot *l, const struct lot_use *uses, size_t n, struct err *e)
{
    struct document d = {0};
    const struct facility *f = &s->f;
    document_heading(&d, document_format(&d, "LOT %s, %s: WHO GOT IT", l->code, f->foods[l->food].name));
    if (n == 0)
        document_text(&d, "Nobody, by what is logged.");
    else
        document_table(&d, use_columns, COUNT_OF(use_columns));
    for (size_t i = 0; i < n; i++) {
        const struct lot_use *u = &uses[i];
        const struct colony *c = u->colony == REF_NONE ? NULL : &f->colonies[u->colony];
        const char *cells[] = {day_words(&d, u->day),
                               document_format(&d, "%ld", u->round),
                               f->tanks[u->tank].name,
                               c ? document_format(&d, "%s %s", c->code, *c->label ? c->label : f->kinds[c->kind].name)
                                 : "all in the tank",
                               ways[u->action],
                               document_format(&d, "%.3f %s", u->units, unit_of(f, l->food))};
        document_row(&d, cells);
    }
    bool ok = d.failed ? err_memory(e) : render_text(&d, 80, 0, s->c->out, e);
    document_free(&d);
    return ok;
}

/* colony: empty where all that is in the tank got it. */
static bool where_json(struct stock_page *s, const struct lot *l, const struct lot_use *uses, size_t n, struct err *e)
{
    struct json_text j = {.out = s->c->out};
    const struct facility *f = &s->f;
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", JSON_PRINT_SCHEMA);
    json_text_member(&j, "lot", l->code);
    json_text_member(&j, "food", f->foods[l->food].name);
    json_text_member(&j, "unit", unit_of(f, l->food));
    json_open(&j, "uses", '[');
    for (size_t i = 0; i < n; i++) {
        const struct lot_use *u = &uses[i];
        json_open(&j, NULL, '{');
        day_member(&j, "day", u->day);
        json_number_member(&j, "round", (double)u->round);
        json_text_member(&j, "tank", f->tanks[u->tank].name);
        json_text_member(&j, "colony", u->colony == REF_NONE ? "" : f->colonies[u->colony].code);
        json_text_member(&j, "as", ways[u->action]);
        json_number_member(&j, "amount_units", round_near_to(u->units, 1e-6));
        json_close(&j);
    }
    json_close(&j);
    json_close(&j);
    return s->c->out->failed ? err_memory(e) : true;
}

static bool show_where(struct stock_page *s, struct store *store, size_t lot, struct err *e)
{
    struct lot_use *uses;
    size_t n;
    const struct lot *l = &s->f.lots[lot];
    if (!store_lot_uses(store, &s->f, lot, &s->arena, &uses, &n, e))
        return false;
    return s->c->json ? where_json(s, l, uses, n, e) : where_page(s, l, uses, n, e);
}

/* ---- waste and opening ------------------------------------------------------------------------------------------ */

static bool put_opened(struct stock_page *s, struct store *store, const char *code, struct err *e)
{
    const struct reg *r = reg_get(REG_LOT);
    size_t lot = find_lot(&s->f, code, e), at = reg_field(r, "opened"), field;
    struct cell cells[FIELDS_MAX] = {{0}};
    bool present[FIELDS_MAX] = {false};
    enum put outcome;
    char day[DAY_TEXT], last[DAY_TEXT] = "no day known";
    if (lot == REF_NONE)
        return false;
    code = s->f.lots[lot].code;
    int opened = option_given(s->c, "at") ? option_get(s->c, "at")->day : s->c->today;
    day_format(opened, day);
    cells[0] = (struct cell){.kind = CELL_TEXT, .text = code};
    cells[at] = (struct cell){.kind = CELL_TEXT, .text = day};
    present[0] = present[at] = true;
    if (!store_put(store, r, cells, present, &outcome, &field, e))
        return false;
    s->f.lots[lot].opened = opened;
    if (lot_last_day(&s->f, &s->f.lots[lot]) != INT_MAX)
        day_format(lot_last_day(&s->f, &s->f.lots[lot]), last);
    text_addf(s->c->out, "lot %s of %s: opened %s; use until %s\n", code, s->f.foods[s->f.lots[lot].food].name, day,
              last);
    return true;
}

/* claimed: it was refused for what the rounds of the day are still to take. */
static bool put_all(struct stock_page *s, struct store *store, bool unmixed, bool *claimed, struct err *e)
{
    struct wasting w = {.s = store, .f = &s->f, .now = s->c->now, .unmixed = unmixed};
    const struct option_value *waste = option_get(s->c, "waste"), *opened = option_get(s->c, "opened");
    w.reason = option_text(s->c, "reason", "");
    bool ok = waste->n == 0 || *w.reason ||
              err_set(e, ERR_MISUSE, NULL, "--waste needs --reason TEXT: why it was thrown away");
    for (size_t i = 0; ok && i < waste->n; i++)
        ok = waste_put(&w, waste->text[i], e);
    text_add(s->c->out, ok ? text_str(&w.told) : "");
    for (size_t i = 0; ok && i < opened->n; i++)
        ok = put_opened(s, store, opened->text[i], e);
    *claimed = w.claimed;
    text_free(&w.told);
    return ok;
}

static bool write_entry(struct stock_page *s, struct store *store, bool unmixed, bool *claimed, struct err *e)
{
    if (!store_begin(store, e))
        return false;
    /* what is left is judged by what is in the store now */
    facility_free(&s->f);
    bool ok = store_snapshot(store, &(struct look_back){.day = s->c->today}, &s->f, e);
    return context_end(s->c, store, ok && put_all(s, store, unmixed, claimed, e), e);
}

/* Asked while nothing is held open. */
static bool write_asking(struct stock_page *s, struct store *store, struct err *e)
{
    bool claimed = false, yes = false;
    struct err why = {0};
    if (write_entry(s, store, option_given(s->c, "unmixed"), &claimed, &why))
        return true;
    if (claimed && context_may_ask()) {
        char question[sizeof why.text + 40];
        snprintf(question, sizeof question, "%.*s. Was none of it mixed?", (int)strcspn(why.text, "."), why.text);
        context_ask(s->c, question, &yes);
    }
    *e = why;
    return yes && write_entry(s, store, true, &claimed, e);
}

static bool run_as_asked(struct stock_page *s, struct store *store, struct err *e)
{
    struct context *c = s->c;
    if (option_given(c, "waste") || option_given(c, "opened"))
        return write_asking(s, store, e);
    if (option_given(c, "where") != option_given(c, "lot"))
        return err_set(e, ERR_MISUSE, NULL, "--lot LOT and --where go together: neap stock --lot LP-1117 --where");
    if (option_given(c, "where")) {
        size_t lot = find_lot(&s->f, option_text(c, "lot", ""), e);
        return lot != REF_NONE && show_where(s, store, lot, e);
    }
    s->window_d = stock_window_d(&s->f, c->today);
    return stock_state(&s->f, c->today, NULL, &s->arena, &s->foods, e) && (c->json ? show_json(s, e) : show_page(s, e));
}

static bool stock_run(struct context *c, struct err *e)
{
    struct stock_page s = {.c = c};
    struct store *store;
    bool writes = option_given(c, "waste") || option_given(c, "opened");
    if (!context_snapshot(c, writes ? STORE_WRITE : STORE_READ, &store, &s.f, e))
        return false;
    bool ok = run_as_asked(&s, store, e);
    arena_free(&s.arena);
    facility_free(&s.f);
    store_close(store);
    return ok;
}

const struct command command_stock = {
    .name = "stock",
    .place = 240,
    .summary = "what is on the shelf, what to order, what it costs",
    .also = "shelf order buy inventory waste",
    .usage = "",
    .about =
        "Shows each food and its lots: what is left, until when it may be used, use of the days logged (four weeks at "
        "most), days left, "
        "what "
        "to order and what to discard, and what the food of the rounds cost. Also writes down waste and openings, and "
        "tells who got a lot.",
    .example = "neap --on 2026-11-27 stock",
    .options =
        (const struct option_row[]){
            {"waste", OPT_TEXT, "LOT=AMOUNT", .repeats = true, .help = "thrown away, or LOT=rest; needs --reason"},
            {"reason", OPT_TEXT, "TEXT", .help = "why"},
            {"unmixed", OPT_FLAG, .help = "with --waste: what today's rounds are to take of it was not mixed"},
            {"opened", OPT_TEXT, "LOT", .repeats = true, .help = "opened today, or --at DAY"},
            {"at", OPT_DAY, "DAY", .help = "day of opening"},
            {"lot", OPT_TEXT, "LOT", .help = "with --where"},
            {"where", OPT_FLAG, .help = "which rounds, tanks and colonies got the lot"},
            OPTION_DRY_RUN,
            {0}},
    .prints_json = true,
    .run = stock_run,
};
