/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A log that speaks against what is declared of a food is told in plain words, in the weekly report and in why. */
#include "delivered.h"
#include "log_sim.h"

#include "neap/figures.h"
#include "neap/plan.h"
#include "neap/week.h"
#include "neap/why.h"
#include "neap/print.h"

enum { LAST_DAY = 20784 };

/* Powder brings so much nitrate a gram, and is declared to; what else happens keeps the level where it is. */
static struct facility house_of(double brings, double declared)
{
    const double fed_per_d = 3.0 / 7 * 25 * (brings - 60) / 1000;
    const struct sim s = {
        .n_systems = 2,
        .days = 168,
        .last_day = LAST_DAY,
        .volume_l = 1000,
        .change_frac = 0.1,
        .no3_start = {12, 9},
        .po4_start = {0.1, 0.08},
        .no3_drift_per_d = {-0.5 - fed_per_d, -0.4 - fed_per_d},
        .po4_drift_per_d = {-0.012, -0.01},
        .no3_effect = {brings, 40, 0},
        .po4_effect = {1.0, 0.6, 0},
        .no3_declared = {declared, 40, 20},
        .po4_declared = {1.0, 0.6, 0.2},
        .amount_g = {25, 15, 0},
        .noise = 0.3,
        .seed = 7,
    };
    struct facility f = sim_facility(&s);
    assert_true(settings_deliver(&f.settings));
    f.settings.effect_sd_frac = 1.2; /* unsure enough of the label for the log to overrule it */
    return f;
}

static void report_words(const struct facility *f, struct text *out)
{
    struct trend_report r;
    struct document d = {0};
    struct log_week week = {0};
    struct err e = {0};
    if (!plan_report(f, &(struct trend_request){.now_min = (LAST_DAY + 1) * MIN_PER_DAY, .system = REF_NONE}, &r, &e) ||
        !report_document(f, &r, &week, false, CHARTS_ASCII, &d, &e))
        fail_msg("%s", e.text);
    d.text_width = 0; /* each sentence on one line */
    if (!render_text(&d, 400, 0, out, &e))
        fail_msg("%s", e.text);
    document_free(&d);
    trend_report_free(&r);
}

/* The notes under the room of system one. */
static void why_words_of(const struct facility *f, struct text *out)
{
    const char *const subject = "system one";
    struct explanation x;
    struct plan_question q = {&subject, 1, &x};
    const struct plan_request request = {.day = LAST_DAY + 1, .start_min = -1, .effort = 0.005};
    struct round kept, round;
    struct document d = {0};
    struct err e = {0};
    if (!plan_round(f, &request, &kept, &e) || !plan_explain(f, &request, &kept, &q, &round, &e))
        fail_msg("%s", e.text);
    why_document(&x, false, &d);
    if (!render_text(&d, 400, 0, out, &e))
        fail_msg("%s", e.text);
    document_free(&d);
    round_free(&round);
    round_free(&kept);
}

static void told(double brings, double declared, const char *report, const char *why)
{
    struct facility f = house_of(brings, declared);
    struct text words = {0};
    report_words(&f, &words);
    assert_true((strstr(words.s, "speaks against") != NULL) == (report != NULL));
    assert_true(!report || strstr(words.s, report));
    text_free(&words);
    words = (struct text){0};
    why_words_of(&f, &words);
    assert_true((strstr(words.s, "speaks against") != NULL) == (why != NULL));
    assert_true(!why || strstr(words.s, why));
    text_free(&words);
    facility_free(&f);
}

static void a_log_against_the_declared_sign_is_told_with_both_numbers(void **state)
{
    (void)state;
    told(60, -60, "the log speaks against the declared -60 mg per g of powder",
         "powder: the log speaks against the declared -60 mg");
    told(60, -60, "Until then it counts as neither raising nor lowering.", "The plan counts nothing either way.");
    told(-60, 60, "the log speaks against the declared +60 mg per g of powder", "The plan counts what is declared.");
}

static void a_log_that_bears_the_label_out_is_not_remarked_on(void **state)
{
    (void)state;
    told(60, 60, NULL, NULL);
}

SUITE(effect_words)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_log_against_the_declared_sign_is_told_with_both_numbers),
        cmocka_unit_test(a_log_that_bears_the_label_out_is_not_remarked_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
