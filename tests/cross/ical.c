/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes calendars of random rounds, each after a line "CALENDAR n_flows" and with a NUL behind it. For ical.py. */
#include "neap/exchange.h"

#include "facility_random.h"

enum { ROUNDS = 60 };

int main(void)
{
    static const char *const houses[] = {"House", "A; b, c \\ d",
                                         "Grüne Straße, the long name of a house that has to be folded somewhere",
                                         "珊瑚の家 \"quoted\""};
    static struct random_facility here;
    for (uint64_t seed = 0; seed < ROUNDS; seed++) {
        struct round r;
        struct text out = {0};
        struct err e;
        size_t flows = 0;
        facility_random(&here, seed);
        here.f.settings.facility = houses[seed % COUNT_OF(houses)];
        const struct plan_request request = {
            .day = RANDOM_DAY, .start_min = seed % 5 == 0 ? 1400 : 600, .effort = 0.005};
        if (!plan_round(&here.f, &request, &r, &e)) {
            fprintf(stderr, "%s\n", e.text);
            return 1;
        }
        r.head.number = 1 + (long)seed;
        r.head.revision = 2;
        for (size_t i = 0; i < r.n_lines; i++)
            flows += r.lines[i].action == ACTION_FLOW_ON;
        ical_write(&here.f, &r, (long)RANDOM_DAY * MIN_PER_DAY + 300, &out);
        printf("CALENDAR %zu %d %d %s\n", flows, r.head.start_min, r.head.finish_min, here.f.settings.facility);
        fwrite(text_str(&out), 1, out.len, stdout);
        putchar('\0');
        text_free(&out);
        round_free(&r);
    }
    return 0;
}
