/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page model as JSON: what neap-page draws on paper, and what a tablet may show. */
#include "neap/print.h"

static const char *const type_names[] = {
    [BLOCK_HEADING] = "heading", [BLOCK_TEXT] = "text", [BLOCK_ITEM] = "item",
    [BLOCK_TABLE] = "table",     [BLOCK_BOX] = "box",   [BLOCK_PLOTS] = "plots",
    [BLOCK_SPACE] = "space",     [BLOCK_PAGE] = "page", [BLOCK_LABELS] = "labels",
};
static const char *const kind_names[] = {
    [ROW_CELLS] = "cells", [ROW_HEAD] = "head", [ROW_NOTE] = "note", [ROW_RULE] = "rule"};

bool block_type_parse(const char *name, enum block_type *type)
{
    for (size_t i = 0; i < COUNT_OF(type_names); i++)
        if (strcmp(type_names[i], name) == 0) {
            *type = (enum block_type)i;
            return true;
        }
    return false;
}

bool row_kind_parse(const char *name, enum row_kind *kind)
{
    for (size_t i = 0; i < COUNT_OF(kind_names); i++)
        if (strcmp(kind_names[i], name) == 0) {
            *kind = (enum row_kind)i;
            return true;
        }
    return false;
}

static void columns_json(const struct block *b, struct json_text *j)
{
    json_open(j, "columns", '[');
    for (size_t i = 0; i < b->n_columns; i++) {
        json_open(j, NULL, '{');
        json_text_member(j, "title", b->columns[i].title);
        json_number_member(j, "width_ch", b->columns[i].width);
        json_flag_member(j, "right", b->columns[i].right);
        json_close(j);
    }
    json_close(j);
}

/* Of a head and a note only the two cells that are theirs. */
static void row_json(const struct block *b, size_t row, struct json_text *j)
{
    enum row_kind kind = (enum row_kind)b->kinds[row];
    size_t n = kind == ROW_RULE ? 0 : kind == ROW_CELLS ? b->n_columns : 2;
    json_open(j, NULL, '{');
    json_text_member(j, "kind", kind_names[kind]);
    json_open(j, "cells", '[');
    for (size_t i = 0; i < n; i++)
        json_text_member(j, NULL, b->cells[row * b->n_columns + i]);
    json_close(j);
    json_close(j);
}

static void spans_json(const char *key, const struct plot_span *spans, size_t n, struct json_text *j)
{
    json_open(j, key, '[');
    for (size_t i = 0; i < n; i++) {
        json_open(j, NULL, '{');
        json_number_member(j, "x", spans[i].x);
        json_number_member(j, "y", spans[i].y);
        json_number_member(j, "low", spans[i].low);
        json_number_member(j, "high", spans[i].high);
        json_close(j);
    }
    json_close(j);
}

static void ticks_json(const struct plot *p, struct json_text *j)
{
    char mark[2] = "";
    json_open(j, "ticks", '[');
    for (size_t i = 0; i < p->n_ticks; i++) {
        mark[0] = p->ticks[i].mark;
        json_open(j, NULL, '{');
        json_number_member(j, "x", p->ticks[i].x);
        json_text_member(j, "mark", mark);
        json_close(j);
    }
    json_close(j);
}

static void plot_json(const struct plot *p, struct json_text *j)
{
    char mark[2] = "";
    json_open(j, NULL, '{');
    json_text_member(j, "title", p->title);
    json_text_member(j, "first_label", p->first_label);
    json_text_member(j, "last_label", p->last_label);
    json_number_member(j, "x_first", p->x_first);
    json_number_member(j, "x_last", p->x_last);
    json_number_member(j, "band_low", p->band_low);
    json_number_member(j, "band_high", p->band_high);
    json_number_member(j, "decimals", p->decimals);
    json_open(j, "points", '[');
    for (size_t i = 0; i < p->n_points; i++) {
        mark[0] = p->points[i].mark;
        json_open(j, NULL, '{');
        json_number_member(j, "x", p->points[i].x);
        json_number_member(j, "y", p->points[i].y);
        json_text_member(j, "mark", mark);
        json_close(j);
    }
    json_close(j);
    spans_json("line", p->line, p->n_line, j);
    spans_json("ahead", p->ahead, p->n_ahead, j);
    ticks_json(p, j);
    json_text_member(j, "ahead_label", p->ahead_label ? p->ahead_label : "");
    json_close(j);
}

static void labels_json(const struct label_page *p, struct json_text *j)
{
    const struct label_sheet *s = p->sheet;
    json_open(j, "sheet", '{');
    json_text_member(j, "name", s->name);
    json_text_member(j, "paper", s->paper);
    json_number_member(j, "columns", s->columns);
    json_number_member(j, "rows", s->rows);
    json_number_member(j, "width_mm", s->width_mm);
    json_number_member(j, "height_mm", s->height_mm);
    json_number_member(j, "left_mm", s->left_mm);
    json_number_member(j, "top_mm", s->top_mm);
    json_number_member(j, "step_x_mm", s->step_x_mm);
    json_number_member(j, "step_y_mm", s->step_y_mm);
    json_close(j);
    json_number_member(j, "first", (double)p->first);
    json_flag_member(j, "outlined", p->outlined);
    json_open(j, "labels", '[');
    for (size_t i = 0; i < p->n; i++) {
        json_open(j, NULL, '{');
        json_text_member(j, "title", p->labels[i].title);
        json_text_member(j, "text", p->labels[i].text);
        json_text_member(j, "code", p->labels[i].code);
        json_close(j);
    }
    json_close(j);
}

static void block_json(const struct block *b, struct json_text *j)
{
    json_open(j, NULL, '{');
    json_text_member(j, "type", type_names[b->type]);
    if (*b->text)
        json_text_member(j, "text", b->text);
    if (*b->mark)
        json_text_member(j, "mark", b->mark);
    json_flag_member(j, "keep", b->keep);
    json_flag_member(j, "whole", b->whole);
    if (b->type == BLOCK_PAGE)
        json_flag_member(j, "part", b->part);
    if (b->type == BLOCK_TABLE || b->type == BLOCK_BOX) {
        json_flag_member(j, "drawn", b->drawn);
        columns_json(b, j);
        json_open(j, "rows", '[');
        for (size_t i = 0; i < b->n_rows; i++)
            row_json(b, i, j);
        json_close(j);
    }
    if (b->type == BLOCK_PLOTS) {
        json_flag_member(j, "small", b->small);
        json_open(j, "plots", '[');
        for (size_t i = 0; i < b->n_plots; i++)
            plot_json(&b->plots[i], j);
        json_close(j);
    }
    if (b->type == BLOCK_LABELS)
        labels_json(b->labels, j);
    json_close(j);
}

bool document_json(const struct document *d, struct text *out, struct err *e)
{
    struct json_text j = {.out = out};
    json_open(&j, NULL, '{');
    json_number_member(&j, "schema", DOCUMENT_SCHEMA);
    json_text_member(&j, "running", d->running_left ? d->running_left : "");
    json_text_member(&j, "code", d->code ? d->code : "");
    json_text_member(&j, "day", d->day ? d->day : "");
    json_open(&j, "blocks", '[');
    for (size_t i = 0; i < d->n_blocks; i++)
        block_json(&d->blocks[i], &j);
    json_close(&j);
    json_close(&j);
    return d->failed || out->failed ? err_memory(e) : true;
}
