/* What was asked of a plan, as the options of the command line: kept with the round, and read back to plan it again. */
#include "neap/plan.h"

static void write_option(struct text *out, const char *name, const char *value)
{
    text_addf(out, "%s--%s %s", out->len > 0 ? " " : "", name, value);
}

void request_write(const struct plan_request *request, struct text *out)
{
    char value[CLOCK_TEXT > 32 ? CLOCK_TEXT : 32];
    if (request->start_min >= 0) {
        clock_format(request->start_min, value);
        write_option(out, "start", value);
    }
    if (request->done_by_min > 0) {
        clock_format(request->done_by_min, value);
        write_option(out, "done-by", value);
    }
    if (request->feeders > 0) {
        snprintf(value, sizeof value, "%ld", request->feeders);
        write_option(out, "feeders", value);
    }
    for (size_t i = 0; i < request->n_lates; i++) {
        char clock[CLOCK_TEXT], late[CLOCK_TEXT + 24];
        clock_format(request->lates[i].from_min, clock);
        snprintf(late, sizeof late, "%ld=%s", request->lates[i].feeder, clock);
        write_option(out, "late", late);
    }
    if (request->max_pots > 0) {
        snprintf(value, sizeof value, "%zu", request->max_pots);
        write_option(out, "pots", value);
    }
    if (request->factor_max > 0) {
        number_format(request->factor_max, value);
        write_option(out, "strength", value);
    }
    if (request->effort > 0) {
        number_format(request->effort, value);
        write_option(out, "effort", value);
    }
    for (size_t i = 0; i < request->n_first_tanks; i++)
        write_option(out, "first", request->first_tanks[i]);
    for (size_t i = 0; i < request->n_skip_tanks; i++)
        write_option(out, "skip", request->skip_tanks[i]);
}

/* Where the repeated options of a request go; each has room for all that the text can hold. */
struct repeats {
    const char **skips, **firsts;
    struct late_feeder *lates;
};

static bool take_late(char *value, struct plan_request *r, const struct repeats *to)
{
    struct late_feeder *late = &to->lates[r->n_lates];
    char *equals = strchr(value, '=');
    if (!equals)
        return false;
    *equals = '\0';
    bool ok = count_parse(value, &late->feeder) && late->feeder > 0 && clock_parse(equals + 1, &late->from_min);
    *equals = '=';
    r->n_lates += ok;
    return ok;
}

static bool take_option(const char *name, char *value, struct plan_request *r, const struct repeats *to)
{
    long n = 0;
    if (strcmp(name, "start") == 0)
        return clock_parse(value, &r->start_min);
    if (strcmp(name, "done-by") == 0)
        return clock_parse(value, &r->done_by_min);
    if (strcmp(name, "strength") == 0)
        return number_parse(value, &r->factor_max);
    if (strcmp(name, "effort") == 0)
        return number_parse(value, &r->effort);
    if (strcmp(name, "from-now") == 0)
        return clock_parse(value, &(int){0}) && ++r->n_resets > 0;
    if (strcmp(name, "late") == 0)
        return take_late(value, r, to);
    if (strcmp(name, "first") == 0) {
        to->firsts[r->n_first_tanks++] = value;
        return true;
    }
    if (strcmp(name, "skip") == 0) {
        to->skips[r->n_skip_tanks++] = value;
        return true;
    }
    if (!count_parse(value, &n) || n < 1)
        return false;
    if (strcmp(name, "feeders") == 0)
        r->feeders = n;
    else if (strcmp(name, "pots") == 0)
        r->max_pots = (size_t)n;
    else
        return false;
    return true;
}

/* Cuts "--name value" off the text; a value goes on to the next " --", for a tank's name may hold blanks. */
static bool next_option(char **at, char **name, char **value)
{
    if (strncmp(*at, "--", 2) != 0)
        return false;
    *name = *at + 2;
    *value = strchr(*name, ' ');
    if (!*value)
        return false;
    *(*value)++ = '\0';
    char *end = strstr(*value, " --");
    *at = end ? end + 1 : *value + strlen(*value);
    if (end)
        *end = '\0';
    return true;
}

bool request_read(const char *text, int day, struct arena *a, struct plan_request *request, struct err *e)
{
    char *copy = arena_text(a, text), *at = copy, *name, *value;
    size_t room = strlen(text) / 3 + 1; /* each option is longer than that */
    struct repeats to = {arena_alloc(a, room, sizeof *to.skips), arena_alloc(a, room, sizeof *to.firsts),
                         arena_alloc(a, room, sizeof *to.lates)};
    *request = (struct plan_request){
        .day = day, .start_min = -1, .skip_tanks = to.skips, .first_tanks = to.firsts, .lates = to.lates};
    if (!copy || !to.skips || !to.firsts || !to.lates)
        return err_memory(e);
    while (*at)
        if (!next_option(&at, &name, &value) || !take_option(name, value, request, &to))
            return err_set(e, ERR_INPUT, NULL, "the round was kept with \"%.60s\", which is no request this neap knows",
                           text);
    return true;
}
