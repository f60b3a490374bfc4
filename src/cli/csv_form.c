/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a CSV is written, as the options say it. */
#include "files.h"

/* The option's word as its place in words, from 1; 0 where it is not given. */
static bool word_given(const struct context *c, const char *option, const char *const *words, int *which, struct err *e)
{
    const char *word = option_text(c, option, NULL);
    struct text list = {0};
    *which = 0;
    for (int i = 0; word && words[i]; i++)
        if (strcmp(word, words[i]) == 0)
            *which = i + 1;
    if (!word || *which)
        return true;
    for (int i = 0; words[i]; i++)
        text_addf(&list, "%s%s", i == 0 ? "" : words[i + 1] ? ", " : " or ", words[i]);
    err_set(e, ERR_MISUSE, NULL, "--%s is \"%.60s\"; expected %s", option, word, text_str(&list));
    text_free(&list);
    return false;
}

static bool aliases_given(const struct context *c, struct csv_form *form, struct arena *a, struct err *e)
{
    const struct option_value *v = option_get(c, "map");
    struct heading_alias *aliases = arena_alloc(a, v->n, sizeof *aliases);
    if (!aliases)
        return err_memory(e);
    for (size_t i = 0; i < v->n; i++) {
        const char *equals = strrchr(v->text[i], '=');
        if (!equals || equals == v->text[i])
            return err_set(e, ERR_MISUSE, NULL, "--map is \"%.60s\"; expected OWN=FIELD, such as --map Label=code",
                           v->text[i]);
        aliases[i].own = arena_format(a, "%.*s", (int)(equals - v->text[i]), v->text[i]);
        aliases[i].field = equals + 1;
        if (!aliases[i].own)
            return err_memory(e);
    }
    form->aliases = aliases;
    form->n_aliases = v->n;
    return true;
}

bool csv_form_given(const struct context *c, struct csv_form *form, struct arena *a, struct err *e)
{
    static const char *const separators[] = {"comma", "semicolon", "tab", NULL};
    static const char *const decimals[] = {"comma", "point", NULL};
    static const char *const encodings[] = {"utf-8", "utf-16", "windows-1252", NULL};
    static const char *const orders[] = {"dmy", "mdy", NULL};
    int separator, decimal, encoding, order;
    *form = (struct csv_form){0};
    if (!word_given(c, "sep", separators, &separator, e) || !word_given(c, "decimal", decimals, &decimal, e) ||
        !word_given(c, "encoding", encodings, &encoding, e) || !word_given(c, "dates", orders, &order, e))
        return false;
    form->separator = "\0,;\t"[separator];
    form->decimal = "\0,."[decimal];
    form->encoding = (enum exchange_encoding)encoding;
    form->dates = (enum day_order)order;
    return aliases_given(c, form, a, e);
}
