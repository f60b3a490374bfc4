/*
 * What a person at the scale reads: the printed pots of random rounds, taken back from the text of the sheet. No step of the
 * planner is used here, only the registers: what stands in the table must add up, be measurable, keep the limits, and say
 * where the pot differs from the house blend.
 */
#include "neap/print.h"

#include "facility_random.h"
#include "tests.h"

#include <ctype.h>
#include <stdlib.h>

enum { ROUNDS = TRIALS_LEAST(300, 40), ROWS = 16, POTS = 12, PREMIXES = 4, NOTES = 24, TEXT = 160 };

struct printed_row {
    size_t food; /* REF_NONE: water */
    bool premix;
    double amount; /* g, or mL */
    bool is_ml;
};

struct printed_pot {
    char name[8], systems[80];
    bool late;
    double made_ml, need_ml;
    struct printed_row rows[ROWS];
    size_t n_rows;
    char notes[NOTES][TEXT];
    size_t n_notes;
};

struct printed_premix {
    size_t food;
    double weigh_g, make_up_ml;
};

static struct random_facility r;
static uint64_t seed_now;
static struct printed_pot pots[POTS];
static size_t n_pots;
static struct printed_premix premixes[PREMIXES];
static size_t n_premixes;
static size_t n_told, n_larger, n_premixed, n_passed; /* so that the test is known to have seen what it is for */

#define HOLDS(is, ...)                                                                                                 \
    do {                                                                                                               \
        if (!(is)) {                                                                                                   \
            print_error("facility of seed %lu: ", (unsigned long)seed_now);                                            \
            print_error(__VA_ARGS__);                                                                                  \
            print_error("\n");                                                                                         \
            _fail(__FILE__, __LINE__);                                                                                 \
        }                                                                                                              \
    } while (0)

/* ---- reading -------------------------------------------------------------------------------------------------------- */

static size_t food_named(const char *text)
{
    for (size_t i = 0; i < r.f.n_foods; i++) {
        size_t len = strlen(r.foods[i].name);
        if (strncmp(text, r.foods[i].name, len) == 0 && (text[len] == ' ' || text[len] == '\0'))
            return i;
    }
    return REF_NONE;
}

/* The number before a unit that stands alone: "  0.48 g " or "  36.0 mL". */
static bool read_amount(const char *line, double *amount, bool *is_ml)
{
    const char *g = strstr(line, " g "), *ml = strstr(line, " mL");
    const char *unit = g && (!ml || g < ml) ? g : ml;
    if (!unit)
        return false;
    const char *at = unit;
    while (at > line && (isdigit((unsigned char)at[-1]) || at[-1] == '.'))
        at--;
    *is_ml = unit == ml;
    *amount = strtod(at, NULL);
    return at < unit;
}

static void read_row(struct printed_pot *p, const char *line)
{
    struct printed_row *row = &p->rows[p->n_rows];
    HOLDS(p->n_rows < ROWS, "more rows than are looked at");
    const char *name = line + 4;
    row->premix = strncmp(name, "premix of ", 10) == 0;
    name += row->premix ? 10 : 0;
    row->food = food_named(name);
    HOLDS(row->food != REF_NONE || strstr(name, "salt water"), "a row of no food: %s", line);
    HOLDS(read_amount(line, &row->amount, &row->is_ml), "a row without an amount: %s", line);
    p->n_rows++;
}

static void read_premix(const char *line)
{
    struct printed_premix *m = &premixes[n_premixes++];
    bool is_ml;
    HOLDS(n_premixes <= PREMIXES, "more premixes than are looked at");
    m->food = food_named(line + 4);
    HOLDS(m->food != REF_NONE && read_amount(line, &m->weigh_g, &is_ml) && !is_ml, "a premix of nothing: %s", line);
    const char *ml = strstr(line, " mL");
    HOLDS(ml != NULL, "a premix made up to nothing: %s", line);
    while (ml[-1] != ' ')
        ml--;
    m->make_up_ml = strtod(ml, NULL);
}

/* A note may be wrapped: the second line goes on where the first ends. */
static void read_note(struct printed_pot *p, const char *line)
{
    if (strncmp(line, "-   ", 4) == 0) {
        HOLDS(p->n_notes < NOTES, "more notes than are looked at");
        snprintf(p->notes[p->n_notes++], TEXT, "%s", line + 4);
    } else if (strncmp(line, "    ", 4) == 0 && line[4] != ' ' && p->n_notes > 0) {
        char *note = p->notes[p->n_notes - 1];
        snprintf(note + strlen(note), TEXT - strlen(note), " %s", line + 4);
    }
}

static void read_head(const char *line)
{
    struct printed_pot *p = &pots[n_pots++];
    HOLDS(n_pots <= POTS, "more pots than are looked at");
    *p = (struct printed_pot){.late = strstr(line, "(late") != NULL};
    sscanf(line, "POT %7s", p->name);
    const char *systems = strstr(line, " for ") + 5;
    snprintf(p->systems, sizeof p->systems, "%.*s", (int)strcspn(systems, ":"), systems);
}

/* "Make up to 36 mL: 26.6 mL for the corals, …" */
static void read_volume(struct printed_pot *p, const char *line)
{
    HOLDS(sscanf(line, "    Make up to %lf mL: %lf mL", &p->made_ml, &p->need_ml) == 2, "no volume: %s", line);
}

static void read_sheet(char *text)
{
    enum { ELSEWHERE, IN_PREMIXES, IN_POT } where = ELSEWHERE;
    n_pots = n_premixes = 0;
    for (char *line = text, *end; *line; line = end) {
        end = line + strcspn(line, "\n");
        if (*end)
            *end++ = '\0';
        if (strncmp(line, "POT ", 4) == 0) {
            where = IN_POT;
            read_head(line);
        } else if (strncmp(line, "PREMIXES", 8) == 0) {
            where = IN_PREMIXES;
        } else if (isupper((unsigned char)line[0]) && isupper((unsigned char)line[1])) {
            where = ELSEWHERE;
        } else if (where == IN_PREMIXES && strncmp(line, "[ ]", 3) == 0) {
            read_premix(line);
        } else if (where == IN_POT && strncmp(line, "    Make up to", 14) == 0) {
            read_volume(&pots[n_pots - 1], line);
        } else if (where == IN_POT && strncmp(line, "[ ]", 3) == 0) {
            read_row(&pots[n_pots - 1], line);
        } else if (where == IN_POT) {
            read_note(&pots[n_pots - 1], line);
        }
    }
}

/* ---- what must hold -------------------------------------------------------------------------------------------------- */

static bool says(const struct printed_pot *p, const char *words)
{
    for (size_t i = 0; i < p->n_notes; i++)
        if (strstr(p->notes[i], words))
            return true;
    return false;
}

static double step_of(size_t food)
{
    const struct settings *s = &r.f.settings;
    return r.foods[food].unit == UNIT_G ? s->scale_step_g : s->liquid_step_ml;
}

/* g or mL of a food in a pot: what is weighed in, and what comes with a premix. */
static double held(const struct printed_pot *p, size_t food)
{
    double units = 0;
    for (size_t i = 0; i < p->n_rows; i++) {
        const struct printed_row *row = &p->rows[i];
        if (row->food != food)
            continue;
        for (size_t m = 0; row->premix && m < n_premixes; m++)
            if (premixes[m].food == food)
                units += premixes[m].weigh_g * row->amount / premixes[m].make_up_ml;
        units += row->premix ? 0 : row->amount;
    }
    return units;
}

static void volumes_add_up(const struct printed_pot *p)
{
    double ml = 0;
    for (size_t i = 0; i < p->n_rows; i++)
        ml += p->rows[i].is_ml ? p->rows[i].amount : 0;
    HOLDS(fabs(ml - p->made_ml) < 1e-6, "pot %s: its rows hold %.10g mL, it is made up to %.10g", p->name, ml,
          p->made_ml);
    HOLDS(p->need_ml <= p->made_ml, "pot %s: the corals get more than is made", p->name);
    HOLDS(p->rows[0].food == REF_NONE, "pot %s: water goes in first", p->name);
}

static void amounts_can_be_measured(const struct printed_pot *p)
{
    for (size_t i = 1; i < p->n_rows; i++) {
        const struct printed_row *row = &p->rows[i];
        double step = row->premix ? r.f.settings.liquid_step_ml : step_of(row->food);
        HOLDS(row->amount >= step * (1 - 1e-9), "pot %s, %s: %.10g cannot be measured", p->name,
              r.foods[row->food].name, row->amount);
        HOLDS(row->is_ml == (row->premix || r.foods[row->food].unit == UNIT_ML), "pot %s: the wrong unit", p->name);
        HOLDS(!row->premix || r.foods[row->food].form == FORM_POWDER || r.foods[row->food].unit == UNIT_ML,
              "pot %s: a premix of %s", p->name, r.foods[row->food].name);
        if (!row->premix)
            continue;
        size_t n = 0;
        for (size_t m = 0; m < n_premixes; m++)
            n += premixes[m].food == row->food;
        HOLDS(n == 1, "pot %s: %zu premixes of %s", p->name, n, r.foods[row->food].name);
        n_premixed++;
    }
    HOLDS(p->n_rows > 1, "pot %s: plain water", p->name);
}

/* A premix feeds pots that there are, and half of it at least. */
static void premixes_are_used(void)
{
    for (size_t m = 0; m < n_premixes; m++) {
        double ml = 0;
        for (size_t i = 0; i < n_pots; i++)
            for (size_t k = 0; k < pots[i].n_rows; k++)
                ml += pots[i].rows[k].premix && pots[i].rows[k].food == premixes[m].food ? pots[i].rows[k].amount : 0;
        HOLDS(ml <= premixes[m].make_up_ml + 1e-6, "more is taken of a premix than is made");
        HOLDS(ml >= premixes[m].make_up_ml * 0.3, "most of a premix is thrown away: %.10g of %.10g mL taken", ml,
              premixes[m].make_up_ml);
    }
}

static bool is_late(const struct food *food)
{
    return food->form == FORM_PELLET || food->form == FORM_FROZEN;
}

static double dry_g(const struct printed_pot *p, size_t food)
{
    const struct food *fd = &r.foods[food];
    return fd->unit == UNIT_ML ? 0 : held(p, food) * (fd->form == FORM_POWDER ? 1 : fd->solids_frac);
}

/* The largest share entered; else its part of the house's foods that the table shows or that are not said to be out, and 0.15. */
static double largest_share(const struct printed_pot *p, size_t food)
{
    double shares = 0;
    if (!isnan(r.foods[food].blend_share_max_frac))
        return r.foods[food].blend_share_max_frac;
    for (size_t i = 0; i < r.f.n_foods; i++) {
        char gone[80];
        snprintf(gone, sizeof gone, "no %s: ", r.foods[i].name);
        if (r.foods[i].blend_share_frac > 0 && is_late(&r.foods[i]) == p->late && !says(p, gone))
            shares += r.foods[i].blend_share_frac;
    }
    return shares > 0 ? fmin(1, r.foods[food].blend_share_frac / shares + 0.15) : 1;
}

static void shares_hold_or_it_is_said(const struct printed_pot *p)
{
    double all_g = 0;
    for (size_t i = 0; i < r.f.n_foods; i++)
        all_g += dry_g(p, i);
    for (size_t i = 0; all_g > 0 && i < r.f.n_foods; i++) {
        double share = dry_g(p, i) / all_g;
        HOLDS(share <= largest_share(p, i) + 1e-3 || says(p, "largest share"), "pot %s: %s is %.2f of the dry food",
              p->name, r.foods[i].name, share);
    }
}

static void strength_holds(const struct printed_pot *p)
{
    double all_g = 0;
    for (size_t i = 0; i < r.f.n_foods; i++)
        all_g += dry_g(p, i);
    HOLDS(all_g <= r.f.settings.full_frac * r.f.settings.strength_g_per_100ml * p->made_ml / 100 + 1e-6,
          "pot %s: stronger than the strongest", p->name);
}

static void starved_water_is_not_stripped(const struct printed_pot *p)
{
    for (size_t s = 0; s < r.f.n_systems; s++)
        for (size_t i = 0; r.starved[s] && strstr(p->systems, r.systems[s].name) && i < r.f.n_foods; i++)
            HOLDS(held(p, i) <= 0 || !r.foods[i].strips_po4, "pot %s strips starved water", p->name);
}

/* Every food of the house that is not in the table is on a line of its own, with the reason; so is a larger pot. */
static void departures_are_said(const struct printed_pot *p)
{
    for (size_t i = 0; i < r.f.n_foods; i++) {
        const struct food *fd = &r.foods[i];
        char gone[80];
        bool solid = fd->unit == UNIT_G && fd->blend_share_frac > 0,
             liquid = fd->unit == UNIT_ML && fd->blend_ml_per_100ml > 0;
        snprintf(gone, sizeof gone, "no %s: ", fd->name);
        if (is_late(fd) != p->late || !(solid || liquid))
            continue;
        HOLDS(says(p, gone) == (held(p, i) <= 0) || says(p, "more"), "pot %s: nothing is said of %s", p->name,
              fd->name);
        n_told += says(p, gone);
    }
    for (size_t i = 0; i < p->n_notes; i++) {
        HOLDS(strlen(p->notes[i]) >= 10 && !strstr(p->notes[i], "; "), "pot %s: two notes on a line: %s", p->name,
              p->notes[i]);
        HOLDS(p->notes[i][strlen(p->notes[i]) - 1] != ':', "pot %s: a reason is wanting: %s", p->name, p->notes[i]);
    }
    n_larger += says(p, "made larger");
    size_t n_solids = 0;
    for (size_t i = 0; i < r.f.n_foods; i++)
        n_solids += dry_g(p, i) > 0;
    n_passed += n_solids > 1 && says(p, "largest share, ");
}

/* Several waters in one pot share no tank's water. */
static void shared_pots_are_of_fresh_water(const struct printed_pot *p)
{
    HOLDS(!strchr(p->systems, ',') || says(p, "fresh salt water"), "pot %s: water of which tank?", p->name);
}

static char *print_round(const struct round *round)
{
    const struct sheet_request request = {0};
    struct document d = {0};
    struct text t = {0};
    struct err e;
    assert_true(sheet_document(&r.f, round, &request, &d, &e));
    assert_true(render_text(&d, 80, 0, &t, &e));
    document_free(&d);
    char *text = strdup(text_str(&t));
    text_free(&t);
    return text;
}

static void the_printed_pots_are_those_that_may_be_mixed(void **unused)
{
    (void)unused;
    size_t n = 0;
    for (seed_now = 1; seed_now <= ROUNDS; seed_now++) {
        const struct plan_request request = {.day = RANDOM_DAY, .start_min = -1, .effort = 0.005};
        struct round round;
        struct err e;
        facility_random(&r, seed_now);
        assert_true(plan_round(&r.f, &request, &round, &e));
        char *text = print_round(&round);
        assert_non_null(text);
        read_sheet(text);
        HOLDS(n_pots == round.n_pots, "%zu pots printed of %zu", n_pots, round.n_pots);
        for (size_t i = 0; i < n_pots; i++) {
            volumes_add_up(&pots[i]);
            amounts_can_be_measured(&pots[i]);
            shares_hold_or_it_is_said(&pots[i]);
            strength_holds(&pots[i]);
            starved_water_is_not_stripped(&pots[i]);
            departures_are_said(&pots[i]);
            shared_pots_are_of_fresh_water(&pots[i]);
        }
        premixes_are_used();
        n += n_pots;
        free(text);
        round_free(&round);
    }
    assert_true(n > ROUNDS && n_told > ROUNDS / 2 && n_larger > ROUNDS / 50 && n_premixed >= ROUNDS / 300);
    assert_true(n_passed < n / 30); /* of two foods that can be measured, hardly ever one too much */
}

SUITE(sheet_pots)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_printed_pots_are_those_that_may_be_mixed)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
