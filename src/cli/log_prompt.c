/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The round asked for at a terminal: a few lines at a time in the order of the sheet, Enter for as planned. Whatever is
 * entered with Enter is in the store before the next question, so stopping, a broken line or a lost terminal costs
 * nothing.
 */
#include "sitting.h"

#include "neap/figures.h"
#include "neap/log.h"
#include "neap/replan.h"

#include <histedit.h>

struct prompt {
    struct context *c;
    struct logging *lg;
    EditLine *el;
    struct text question;
    bool asks_extra; /* what Tab offers */
    bool *mine;      /* per line: entered in this sitting, and so free to be typed again */
    size_t from, to; /* the lines asked about, by their places: from up to before to */
};

/* ---- the line editor -------------------------------------------------------------------------------------------- */

static struct prompt *prompt_of(EditLine *el)
{
    void *p = NULL;
    el_get(el, EL_CLIENTDATA, &p);
    return p;
}

static char *question(EditLine *el)
{
    static char none[] = "> ";
    struct prompt *p = prompt_of(el);
    return p->question.s ? p->question.s : none;
}

static unsigned char key_stop(EditLine *el, int key)
{
    (void)el, (void)key;
    return CC_EOF;
}

/* Of the names that begin with what stands before the cursor: how many, and what they all go on with. */
struct matches {
    const char *first;
    size_t n, common;
};

static void match(struct matches *m, const char *name, const char *typed, size_t len)
{
    if (strncmp(name, typed, len) != 0)
        return;
    if (m->n++ == 0) {
        m->first = name;
        m->common = strlen(name);
        return;
    }
    size_t same = 0;
    while (same < m->common && m->first[same] == name[same])
        same++;
    m->common = same;
}

static struct matches match_all(const struct prompt *p, bool food, const char *typed, size_t len)
{
    const struct facility *f = &p->lg->f;
    struct matches m = {0};
    for (size_t i = 0; food && i < f->n_foods; i++)
        match(&m, f->foods[i].name, typed, len);
    for (size_t i = 0; !food && i < f->n_tanks; i++)
        match(&m, f->tanks[i].name, typed, len);
    return m;
}

static void list_matches(const struct prompt *p, bool food, const char *typed, size_t len)
{
    const struct facility *f = &p->lg->f;
    size_t n = food ? f->n_foods : f->n_tanks;
    printf("\n");
    for (size_t i = 0; i < n; i++) {
        const char *name = food ? f->foods[i].name : f->tanks[i].name;
        if (strncmp(name, typed, len) == 0)
            printf("  %s\n", name);
    }
}

static void list_codes(void)
{
    printf("\n  ");
    for (int i = OUTCOME_PART; i <= OUTCOME_NOT_GIVEN; i++)
        printf("%c %s, ", outcomes[i].code, outcomes[i].title);
    for (int i = 0; i < RESPONSES; i++)
        printf(":%d %s%s", i, response_titles[i], i + 1 < RESPONSES ? ", " : "\n");
}

static unsigned char key_complete(EditLine *el, int key)
{
    (void)key;
    struct prompt *p = prompt_of(el);
    const LineInfo *line = el_line(el);
    if (!p->asks_extra) {
        list_codes();
        return CC_REDISPLAY;
    }
    const char *colon = memchr(line->buffer, ':', (size_t)(line->cursor - line->buffer));
    const char *typed = colon ? colon + 1 : line->buffer;
    while (typed < line->cursor && *typed == ' ')
        typed++;
    size_t len = (size_t)(line->cursor - typed);
    struct matches m = match_all(p, colon != NULL, typed, len);
    char rest[NAME_BYTES_MAX + 2];
    if (m.n == 0)
        return CC_ERROR;
    if (m.n > 1 && m.common <= len) {
        list_matches(p, colon != NULL, typed, len);
        return CC_REDISPLAY;
    }
    snprintf(rest, sizeof rest, "%.*s%s", (int)(m.common - len), m.first + len, m.n > 1 ? "" : colon ? "=" : ":");
    el_insertstr(el, rest);
    return CC_REFRESH;
}

static bool prompt_open(struct prompt *p, struct sitting *in, struct err *e)
{
    struct logging *lg = &in->lg;
    *p = (struct prompt){.c = in->c, .lg = lg, .mine = calloc(lg->r.n_lines + 1, sizeof *p->mine)};
    p->el = p->mine ? el_init("neap", stdin, stdout, stderr) : NULL;
    if (!p->el) {
        free(p->mine);
        return err_memory(e);
    }
    el_set(p->el, EL_CLIENTDATA, p);
    el_set(p->el, EL_PROMPT, question);
    el_set(p->el, EL_EDITOR, "emacs");
    el_set(p->el, EL_SIGNAL, 1);                  /* a kill leaves the terminal as it was */
    el_set(p->el, EL_SETTY, "-d", "-isig", NULL); /* Ctrl-C is a key here: it stops and keeps */
    /* wide: of narrow names libedit keeps copies that it never frees */
    el_wset(p->el, EL_ADDFN, L"round-stop", L"stop and keep", key_stop);
    el_wset(p->el, EL_ADDFN, L"round-complete", L"complete tanks, foods, codes", key_complete);
    el_set(p->el, EL_BIND, "^C", "round-stop", NULL);
    el_set(p->el, EL_BIND, "^I", "round-complete", NULL);
    return true;
}

static void prompt_close(struct prompt *p)
{
    el_end(p->el);
    text_free(&p->question);
    free(p->mine);
}

/* One answer, trimmed, in answer; false: no more of them (stop, end of input). */
static bool ask(struct prompt *p, struct text *answer)
{
    int n = 0;
    fflush(stdout);
    el_set(p->el, EL_PREP_TERM,
           1); /* before the question is seen: el_gets does so after it, and a quick Ctrl-C would kill */
    const char *line = el_gets(p->el, &n);
    text_free(answer);
    if (!line || n <= 0) {
        printf("\n");
        return false;
    }
    size_t len = strcspn(line, "\r\n");
    while (len > 0 && line[len - 1] == ' ')
        len--;
    size_t blank = strspn(line, " ");
    text_add_n(answer, line + blank, len > blank ? len - blank : 0);
    return strcmp(text_str(answer), "s") != 0;
}

static void set_question(struct prompt *p, const struct text *words)
{
    text_free(&p->question);
    text_addf(&p->question, "%s> ", text_str(words));
}

/* ---- a few lines ------------------------------------------------------------------------------------------------ */

/* A question is about no fewer lines than that, where the feeder has them. */
enum { ASKED_LEAST = 10 };

/* Where the lines asked about end: at the next tank once there are enough, and where another feeder's list begins. */
static size_t asked_end(const struct round *r, size_t from)
{
    size_t to = from + 1;
    while (to < r->n_lines && (r->lines[to].tank == r->lines[to - 1].tank ||
                               (to - from < ASKED_LEAST && r->lines[to].feeder == r->lines[to - 1].feeder)))
        to++;
    return to;
}

/* "1-4,7-14": those that nobody logged yet. */
static bool open_spans(const struct prompt *p, struct text *out)
{
    const struct logging *lg = p->lg;
    bool any = false;
    for (size_t i = p->from; i < p->to; i++) {
        if (log_find(&lg->log, lg->r.lines[i].number))
            continue;
        size_t last = i;
        while (last + 1 < p->to && !log_find(&lg->log, lg->r.lines[last + 1].number))
            last++;
        text_addf(out, "%s%ld", any ? "," : "", lg->r.lines[i].number);
        if (last > i)
            text_addf(out, "-%ld", lg->r.lines[last].number);
        any = true;
        i = last;
    }
    return any;
}

static void tank_names(const struct prompt *p, struct text *out)
{
    const struct round *r = &p->lg->r;
    for (size_t i = p->from; i < p->to; i++) {
        bool said = false;
        for (size_t k = p->from; k < i && !said; k++)
            said = r->lines[k].tank == r->lines[i].tank;
        if (!said)
            text_addf(out, "%s%s", i > p->from ? ", " : "", p->lg->f.tanks[r->lines[i].tank].name);
    }
}

static void show_lines(const struct prompt *p)
{
    const struct logging *lg = p->lg;
    for (size_t i = p->from; i < p->to; i++) {
        const struct line *l = &lg->r.lines[i];
        const struct given *g = log_find(&lg->log, l->number);
        struct text what = {0}, was = {0};
        text_addf(&what, "%s: ", lg->f.tanks[l->tank].name);
        line_words(&lg->f, l, &what);
        if (g)
            log_given_words(&lg->f, l, g, &was);
        printf("%5ld  %-44.44s", l->number, text_str(&what));
        if (!isnan(l->amount))
            printf(" %8.2f %s", l->amount, line_unit(&lg->f, l));
        printf("%s%s\n", g ? "  " : "", text_str(&was));
        text_free(&what);
        text_free(&was);
    }
}

static bool ask_more(struct prompt *p, const struct err *why)
{
    struct text answer = {0}, words = {0}, was = p->question;
    p->question = (struct text){0};
    printf("  %.*s.\n", (int)strcspn(why->text, ";"), why->text);
    text_add(&words, "is that right? y, or Enter to type it again");
    set_question(p, &words);
    bool yes = ask(p, &answer) && *text_str(&answer) == 'y';
    text_free(&p->question);
    p->question = was;
    text_free(&words);
    text_free(&answer);
    return yes;
}

typedef bool prompt_put(struct prompt *p, const char *words, struct err *e);

static bool put_entry(struct prompt *p, prompt_put *put, const char *words, const char *typed, struct err *e)
{
    return logging_begin(p->lg, e) && logging_end(p->lg, put(p, words, e), typed, e);
}

/* Keeps what the function puts as one entry; what is wrong is said, and asked again. Only a broken store ends it. */
static bool keep(struct prompt *p, prompt_put *put, const char *words, struct err *e)
{
    struct logging *lg = p->lg;
    struct text typed = {0};
    struct err why = {0};
    text_addf(&typed, "neap log %ld %s", lg->r.head.number, words);
    lg->more = option_given(p->c, "more");
    bool ok = put_entry(p, put, words, text_str(&typed), &why);
    if (!ok && lg->over && ask_more(p, &why)) {
        lg->more = true;
        ok = put_entry(p, put, words, text_str(&typed), &why);
    }
    text_free(&typed);
    if (ok) {
        fputs(text_str(&lg->told), stdout);
        return true;
    }
    if (why.code == ERR_INPUT || why.code == ERR_MISUSE || why.code == ERR_NOT_FOUND) {
        printf("  %s\n", why.text);
        return true;
    }
    return err_set(e, why.code, NULL, "%s", why.text);
}

/* A line of this sitting may be typed again; one that somebody else logged may not. */
static bool put_taken(struct logging *lg, const struct line *l, const struct given *g, bool weak, void *context,
                      struct err *e)
{
    struct prompt *p = context;
    (void)weak;
    lg->again = p->mine[l->number - 1];
    if (!logging_line(lg, g, e))
        return false;
    p->mine[l->number - 1] = true;
    if (g->voided)
        return true;
    text_addf(&lg->told, "  %ld ", l->number);
    line_words(&lg->f, l, &lg->told);
    text_add(&lg->told, ": ");
    log_given_words(&lg->f, l, g, &lg->told);
    text_add(&lg->told, "\n");
    return true;
}

static bool put_words(struct prompt *p, const char *words, struct err *e)
{
    char word[128];
    for (const char *s = words + strspn(words, " "); *s; s += strspn(s, " ")) {
        size_t n = strcspn(s, " ");
        snprintf(word, sizeof word, "%.*s", (int)n, s);
        if (!logging_word(p->lg, word, put_taken, p, e))
            return false;
        s += n;
    }
    return true;
}

/* What is still open of the lines asked about, after whatever others did meanwhile. */
static bool put_rest(struct prompt *p, const char *words, struct err *e)
{
    struct logging *lg = p->lg;
    struct given g;
    (void)words;
    for (size_t i = p->from; i < p->to; i++) {
        const struct line *l = &lg->r.lines[i];
        if (log_find(&lg->log, l->number))
            continue;
        logging_planned(lg, l, &g);
        if (!logging_line(lg, &g, e))
            return false;
        p->mine[i] = true;
    }
    return true;
}

static void say_help(void)
{
    printf("  Enter  all as planned, or what is left of these lines\n"
           "  7=r:0 12=p0.5 20-22=:4 31=n 33=l@09:40 7=-   what differs; - takes back\n"
           "  D1-002=r   D1=n                              the same by colony, or the rest of a tank\n"
           "  e      show the lines      l  later: leave these open      s  stop; what was entered is kept\n"
           "  Tab    codes and scores\n");
}

/* *on false: stop. */
static bool ask_lines(struct prompt *p, bool *on, struct err *e)
{
    struct text answer = {0};
    bool ok = true;
    for (;;) {
        struct text spans = {0}, words = {0};
        bool open = open_spans(p, &spans);
        tank_names(p, &words);
        text_addf(&words, " %s", text_str(&spans));
        set_question(p, &words);
        text_free(&words);
        bool answered = open && (*on = ask(p, &answer)) && strcmp(text_str(&answer), "l") != 0;
        if (answered && strcmp(text_str(&answer), "e") == 0)
            show_lines(p);
        else if (answered && strcmp(text_str(&answer), "?") == 0)
            say_help();
        else if (answered)
            ok = answer.len == 0 ? keep(p, put_rest, text_str(&spans), e) : keep(p, put_words, text_str(&answer), e);
        text_free(&spans);
        if (!answered || !ok)
            break;
    }
    text_free(&answer);
    return ok;
}

/* ---- pots and extras -------------------------------------------------------------------------------------------- */

/* "A 118/12": mixed and left; "A 12": left; "A 118/": mixed. */
static bool put_pot(struct prompt *p, const char *words, struct err *e)
{
    const char *blank = strchr(words, ' '), *slash = strchr(words, '/');
    char made[64], left[64];
    int n = (int)(blank - words);
    const char *from = slash ? slash + 1 : blank + 1;
    if (slash) {
        snprintf(made, sizeof made, "%.*s=%.*s", n, words, (int)(slash - blank - 1), blank + 1);
        if (!logging_made(p->lg, made, e))
            return false;
    }
    snprintf(left, sizeof left, "%.*s=%s", n, words, from);
    return !*from || logging_left(p->lg, left, e);
}

static bool ask_pots(struct prompt *p, bool *on, struct err *e)
{
    struct text answer = {0}, words = {0};
    bool ok = true, told = false;
    for (size_t i = 0; ok && *on && i < p->lg->r.n_pots; i++) {
        const struct pot *pot = &p->lg->r.pots[i];
        if (log_find_mixed(&p->lg->log, pot->pot))
            continue;
        if (!told)
            printf("Pots: Enter: mixed as planned. 12: mL left over. 118/12: mixed and left over.\n");
        told = true;
        text_free(&words);
        text_addf(&words, "pot %s %.10g mL", pot->pot, pot->made_ml);
        set_question(p, &words);
        if (!(*on = ask(p, &answer)) || answer.len == 0)
            continue;
        text_free(&words);
        text_addf(&words, "%s %s", pot->pot, text_str(&answer));
        ok = keep(p, put_pot, text_str(&words), e);
        if (ok && !log_find_mixed(&p->lg->log, p->lg->r.pots[i].pot))
            i--; /* not understood: asked again */
    }
    text_free(&answer);
    text_free(&words);
    return ok;
}

/* Words that are parted by blanks; a system's name may hold one, so a word without "=" goes with the next. */
static bool put_switch_words(struct prompt *p, const char *words, struct err *e)
{
    struct text word = {0};
    bool ok = true;
    if (!*words)
        return logging_switches_planned(p->lg, e);
    for (const char *at = words; ok && *at;) {
        size_t len = strcspn(at, " ");
        if (word.len > 0)
            text_add(&word, " ");
        text_add_n(&word, at, len);
        at += len + strspn(at + len, " ");
        if (*at && !switch_word_is(&p->lg->f, &p->lg->r, text_str(&word)))
            continue;
        ok = word.failed ? err_memory(e) : logging_switch(p->lg, text_str(&word), e);
        word.len = 0;
    }
    text_free(&word);
    return ok;
}

static bool ask_switches(struct prompt *p, bool *on, struct err *e)
{
    struct text answer = {0}, words = {0}, open = {0};
    bool ok = true;
    log_open_switches(&p->lg->r, &p->lg->log, &open);
    if (open.len > 0) {
        printf("Switches: Enter: all that are to be on by now are. sw1=on@10:40 sw2=off (not on yet) sw3=n.\n");
        text_addf(&words, "switches %s", text_str(&open));
        set_question(p, &words);
        if ((*on = ask(p, &answer)))
            ok = keep(p, put_switch_words, text_str(&answer), e);
    }
    text_free(&answer);
    text_free(&words);
    text_free(&open);
    return ok;
}

static bool put_extra_word(struct prompt *p, const char *words, struct err *e)
{
    return logging_extra(p->lg, words, e);
}

static bool ask_extras(struct prompt *p, bool *on, struct err *e)
{
    struct text answer = {0}, words = {0};
    bool ok = true;
    text_add(&words, "given beside the plan (TANK:FOOD=AMOUNT; Enter: nothing more)");
    p->asks_extra = true;
    set_question(p, &words);
    while (ok && *on && (*on = ask(p, &answer)) && answer.len > 0)
        ok = keep(p, put_extra_word, text_str(&answer), e);
    text_free(&answer);
    text_free(&words);
    return ok;
}

/* ---- the round -------------------------------------------------------------------------------------------------- */

static void say_head(const struct logging *lg)
{
    char day[DAY_TEXT];
    day_format(lg->r.head.day, day);
    printf("Round %ld%s%s, revision %ld, %s %s: %zu of %zu lines are logged.\n", lg->r.head.number,
           *lg->r.head.name ? ", " : "", lg->r.head.name, lg->r.head.revision,
           weekday_name(day_weekday(lg->r.head.day)), day, lg->log.n_givens, lg->r.n_lines);
    printf("Enter: as planned. Else what differs, such as 7=r:0 12=p0.5. s: stop and keep. ?: more.\n");
}

static bool ask_round(struct prompt *p, bool *on, struct err *e)
{
    for (p->from = 0; *on && p->from < p->lg->r.n_lines; p->from = p->to) {
        p->to = asked_end(&p->lg->r, p->from);
        if (!ask_lines(p, on, e))
            return false;
    }
    return true;
}

bool sitting_prompt(struct sitting *in, struct err *e)
{
    struct logging *lg = &in->lg;
    struct prompt p;
    bool on = true, again = lg->again;
    if (!prompt_open(&p, in, e))
        return false;
    say_head(lg);
    bool ok = ask_round(&p, &on, e);
    lg->again = again;
    ok = ok && ask_pots(&p, &on, e) && (!on || ask_switches(&p, &on, e)) && ask_extras(&p, &on, e);
    prompt_close(&p);
    struct text spans = {0};
    log_open_lines(&lg->f, &lg->r, &lg->log, &spans);
    if (ok)
        text_addf(in->c->out, "%s%zu of %zu lines are accounted for%s%s\n",
                  on ? "" : "Stopped; what was entered is kept. ", lg->log.n_givens, lg->r.n_lines,
                  spans.len ? "; not yet: " : "", text_str(&spans));
    text_free(&spans);
    return ok;
}
