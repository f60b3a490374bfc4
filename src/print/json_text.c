/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JSON for commands that print data. Files of registers are written by exchange, which reads them too. */
#include "neap/print.h"

/* Members of the outermost object, and what stands in a list there, have a line of their own. */
static void begin_value(struct json_text *j, const char *key)
{
    if (j->depth > 0) {
        bool own_line = j->depth == 1 || (j->depth == 2 && j->closing[1] == ']');
        text_add(j->out, j->more ? "," : "");
        if (own_line)
            text_add(j->out, "\n");
        else if (j->more)
            text_add(j->out, " ");
    }
    if (key) {
        text_add_json(j->out, key);
        text_add(j->out, ": ");
    }
    j->more = true;
}

void json_open(struct json_text *j, const char *key, char bracket)
{
    begin_value(j, key);
    text_add_char(j->out, bracket, 1);
    if (j->depth < JSON_DEPTH_MAX)
        j->closing[j->depth++] = bracket == '{' ? '}' : ']';
    j->more = false;
}

void json_close(struct json_text *j)
{
    char bracket = j->closing[--j->depth];
    if (j->more && (j->depth == 0 || (j->depth == 1 && bracket == ']')))
        text_add(j->out, "\n");
    text_add_char(j->out, bracket, 1);
    if (j->depth == 0)
        text_add(j->out, "\n");
    j->more = true;
}

void json_text_member(struct json_text *j, const char *key, const char *s)
{
    begin_value(j, key);
    text_add_json(j->out, s);
}

void json_number_member(struct json_text *j, const char *key, double v)
{
    char digits[32];
    begin_value(j, key);
    if (isfinite(v))
        number_format(v, digits);
    text_add(j->out, isfinite(v) ? digits : "null");
}

void json_flag_member(struct json_text *j, const char *key, bool v)
{
    begin_value(j, key);
    text_add(j->out, v ? "true" : "false");
}

void json_day_member(struct json_text *j, const char *key, int day)
{
    char text[DAY_TEXT];
    if (day == DAY_NONE) {
        json_number_member(j, key, (double)NAN); /* null */
        return;
    }
    day_format(day, text);
    json_text_member(j, key, text);
}
