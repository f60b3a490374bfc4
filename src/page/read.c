/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page model back from JSON. */
#include "page.h"

#include <cjson/cJSON.h>

struct model_reader {
    struct document *d;
    struct err *e;
    size_t block; /* its place, for messages */
};

static bool wrong(struct model_reader *m, const char *member, const char *expected)
{
    return err_set(m->e, ERR_INPUT, NULL, "page model, block %zu: %s: expected %s", m->block, member, expected);
}

static bool read_text(struct model_reader *m, const cJSON *o, const char *member, const char **s)
{
    const cJSON *v = cJSON_GetObjectItemCaseSensitive(o, member);
    *s = "";
    if (!v)
        return true;
    if (!cJSON_IsString(v))
        return wrong(m, member, "a text");
    *s = arena_text(&m->d->arena, v->valuestring);
    return *s || err_memory(m->e);
}

static bool read_number(struct model_reader *m, const cJSON *o, const char *member, double *n)
{
    const cJSON *v = cJSON_GetObjectItemCaseSensitive(o, member);
    *n = (double)NAN;
    if (v && cJSON_IsNumber(v))
        *n = v->valuedouble;
    return !v || cJSON_IsNumber(v) || cJSON_IsNull(v) || wrong(m, member, "a number");
}

static bool read_whole(struct model_reader *m, const cJSON *o, const char *member, int most, int *n)
{
    double v;
    if (!read_number(m, o, member, &v))
        return false;
    if (!(v >= 0 && v <= most))
        return wrong(m, member, "a whole number");
    *n = (int)v;
    return true;
}

static bool is_set(const cJSON *o, const char *member)
{
    return cJSON_IsTrue(cJSON_GetObjectItemCaseSensitive(o, member));
}

static bool read_columns(struct model_reader *m, const cJSON *o, struct block *b)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, "columns"), *v;
    int n = cJSON_GetArraySize(list);
    if (!cJSON_IsArray(list) || n < 1 || n > COLUMNS_MAX)
        return wrong(m, "columns", "a list of columns");
    struct column *columns = arena_alloc(&m->d->arena, (size_t)n, sizeof *columns);
    if (!columns)
        return err_memory(m->e);
    cJSON_ArrayForEach(v, list)
    {
        struct column *c = &columns[b->n_columns++];
        c->right = is_set(v, "right");
        if (!read_text(m, v, "title", &c->title) || !read_whole(m, v, "width_ch", 1000, &c->width))
            return false;
    }
    b->columns = columns;
    return true;
}

static bool read_cells(struct model_reader *m, const cJSON *o, const char **cells, size_t n)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, "cells"), *v;
    size_t i = 0;
    for (size_t k = 0; k < n; k++)
        cells[k] = "";
    cJSON_ArrayForEach(v, list)
    {
        if (!cJSON_IsString(v) || i == n)
            return wrong(m, "cells", "a text for each column");
        cells[i] = arena_text(&m->d->arena, v->valuestring);
        if (!cells[i++])
            return err_memory(m->e);
    }
    return true;
}

static bool read_rows(struct model_reader *m, const cJSON *o)
{
    const struct block *b = &m->d->blocks[m->d->n_blocks - 1];
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, "rows"), *v;
    const char *cells[COLUMNS_MAX], *name;
    enum row_kind kind;
    cJSON_ArrayForEach(v, list)
    {
        if (!read_text(m, v, "kind", &name) || !read_cells(m, v, cells, b->n_columns))
            return false;
        if (!row_kind_parse(name, &kind) || ((kind == ROW_HEAD || kind == ROW_NOTE) && b->n_columns < 2))
            return wrong(m, "kind", "cells, head, note or rule");
        switch (kind) {
        case ROW_CELLS: document_row(m->d, cells); break;
        case ROW_HEAD: document_row_head(m->d, cells[0], cells[1]); break;
        case ROW_NOTE: document_row_note(m->d, cells[0], cells[1]); break;
        case ROW_RULE: document_rule(m->d); break;
        }
    }
    return true;
}

static bool read_points(struct model_reader *m, const cJSON *o, struct plot *p)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, "points"), *v;
    struct plot_point *points = arena_alloc(&m->d->arena, (size_t)cJSON_GetArraySize(list) + 1, sizeof *points);
    if (!points)
        return err_memory(m->e);
    cJSON_ArrayForEach(v, list)
    {
        struct plot_point *at = &points[p->n_points++];
        const char *mark;
        if (!read_number(m, v, "x", &at->x) || !read_number(m, v, "y", &at->y) || !read_text(m, v, "mark", &mark))
            return false;
        at->mark = *mark;
    }
    p->points = points;
    return true;
}

static bool read_spans(struct model_reader *m, const cJSON *o, const char *member, const struct plot_span **spans,
                       size_t *n)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, member), *v;
    struct plot_span *s = arena_alloc(&m->d->arena, (size_t)cJSON_GetArraySize(list) + 1, sizeof *s);
    if (!s)
        return err_memory(m->e);
    cJSON_ArrayForEach(v, list)
    {
        struct plot_span *at = &s[(*n)++];
        if (!read_number(m, v, "x", &at->x) || !read_number(m, v, "y", &at->y) || !read_number(m, v, "low", &at->low) ||
            !read_number(m, v, "high", &at->high))
            return false;
    }
    *spans = s;
    return true;
}

static bool read_ticks(struct model_reader *m, const cJSON *o, struct plot *p)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, "ticks"), *v;
    struct plot_tick *ticks = arena_alloc(&m->d->arena, (size_t)cJSON_GetArraySize(list) + 1, sizeof *ticks);
    if (!ticks)
        return err_memory(m->e);
    cJSON_ArrayForEach(v, list)
    {
        struct plot_tick *at = &ticks[p->n_ticks++];
        const char *mark;
        if (!read_number(m, v, "x", &at->x) || !read_text(m, v, "mark", &mark))
            return false;
        at->mark = *mark;
    }
    p->ticks = ticks;
    return true;
}

static bool read_plots(struct model_reader *m, const cJSON *o)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, "plots"), *v;
    struct plot *plots = arena_alloc(&m->d->arena, (size_t)cJSON_GetArraySize(list) + 1, sizeof *plots);
    size_t n = 0;
    if (!plots)
        return err_memory(m->e);
    cJSON_ArrayForEach(v, list)
    {
        struct plot *p = &plots[n++];
        if (!read_text(m, v, "title", &p->title) || !read_text(m, v, "first_label", &p->first_label) ||
            !read_text(m, v, "last_label", &p->last_label) || !read_number(m, v, "x_first", &p->x_first) ||
            !read_number(m, v, "x_last", &p->x_last) || !read_number(m, v, "band_low", &p->band_low) ||
            !read_number(m, v, "band_high", &p->band_high) || !read_whole(m, v, "decimals", 6, &p->decimals) ||
            !read_points(m, v, p) || !read_spans(m, v, "line", &p->line, &p->n_line) ||
            !read_spans(m, v, "ahead", &p->ahead, &p->n_ahead) || !read_ticks(m, v, p) ||
            !read_text(m, v, "ahead_label", &p->ahead_label))
            return false;
    }
    document_plots(m->d, plots, n, is_set(o, "small"));
    return true;
}

static bool read_label_sheet(struct model_reader *m, const cJSON *o, struct label_sheet *s)
{
    const cJSON *v = cJSON_GetObjectItemCaseSensitive(o, "sheet");
    bool ok = read_text(m, v, "name", &s->name) && read_text(m, v, "paper", &s->paper) &&
              read_whole(m, v, "columns", 100, &s->columns) && read_whole(m, v, "rows", 100, &s->rows) &&
              read_number(m, v, "width_mm", &s->width_mm) && read_number(m, v, "height_mm", &s->height_mm) &&
              read_number(m, v, "left_mm", &s->left_mm) && read_number(m, v, "top_mm", &s->top_mm) &&
              read_number(m, v, "step_x_mm", &s->step_x_mm) && read_number(m, v, "step_y_mm", &s->step_y_mm);
    return ok && ((s->columns > 0 && s->rows > 0 && s->width_mm > 0 && s->height_mm > 0 && s->left_mm >= 0 &&
                   s->top_mm >= 0 && s->step_x_mm >= 0 && s->step_y_mm >= 0) ||
                  wrong(m, "sheet", "columns, rows and millimetres"));
}

static bool read_labels(struct model_reader *m, const cJSON *o)
{
    const cJSON *list = cJSON_GetObjectItemCaseSensitive(o, "labels"), *v;
    struct label *labels = arena_alloc(&m->d->arena, (size_t)cJSON_GetArraySize(list) + 1, sizeof *labels);
    struct label_sheet *sheet = arena_alloc(&m->d->arena, 1, sizeof *sheet);
    struct label_page page = {.labels = labels, .sheet = sheet, .outlined = is_set(o, "outlined")};
    int first = 0;
    if (!labels || !sheet)
        return err_memory(m->e);
    if (!read_label_sheet(m, o, sheet) || !read_whole(m, o, "first", 10000, &first))
        return false;
    page.first = (size_t)first;
    cJSON_ArrayForEach(v, list)
    {
        struct label *l = &labels[page.n++];
        if (!read_text(m, v, "title", &l->title) || !read_text(m, v, "text", &l->text) ||
            !read_text(m, v, "code", &l->code))
            return false;
    }
    document_labels(m->d, &page);
    return true;
}

static bool read_table(struct model_reader *m, const cJSON *o, enum block_type type, const char *text)
{
    struct block columns = {0};
    if (!read_columns(m, o, &columns))
        return false;
    if (type == BLOCK_BOX)
        document_box(m->d, text);
    else
        document_table(m->d, columns.columns, columns.n_columns);
    if (is_set(o, "drawn"))
        document_drawn(m->d);
    return read_rows(m, o);
}

static bool read_block(struct model_reader *m, const cJSON *o)
{
    const char *name, *text, *mark;
    enum block_type type;
    bool ok = read_text(m, o, "type", &name) && read_text(m, o, "text", &text) && read_text(m, o, "mark", &mark);
    if (ok && !block_type_parse(name, &type))
        return wrong(m, "type", "heading, text, item, table, box, plots, labels, space or page");
    if (!ok)
        return false;
    switch (type) {
    case BLOCK_HEADING: document_heading(m->d, text); break;
    case BLOCK_TEXT: document_text(m->d, text); break;
    case BLOCK_ITEM: document_item(m->d, mark, text); break;
    case BLOCK_SPACE: document_space(m->d); break;
    case BLOCK_PAGE: document_page(m->d, is_set(o, "part")); break;
    case BLOCK_TABLE:
    case BLOCK_BOX: ok = read_table(m, o, type, text); break;
    case BLOCK_PLOTS: ok = read_plots(m, o); break;
    case BLOCK_LABELS: ok = read_labels(m, o); break;
    }
    if (is_set(o, "keep"))
        document_keep(m->d);
    if (is_set(o, "whole"))
        document_whole(m->d);
    return ok && (!m->d->failed || err_memory(m->e));
}

bool page_read(const char *json, struct document *d, struct err *e)
{
    struct model_reader m = {d, e, 0};
    cJSON *all = cJSON_Parse(json);
    const cJSON *blocks = cJSON_GetObjectItemCaseSensitive(all, "blocks"), *block;
    double schema;
    if (!all || !cJSON_IsArray(blocks)) {
        cJSON_Delete(all);
        return err_set(e, ERR_INPUT, NULL, "stdin is no page model; expected what neap sheet --json prints");
    }
    bool ok = read_number(&m, all, "schema", &schema) && read_text(&m, all, "running", &d->running_left) &&
              read_text(&m, all, "code", &d->code) && read_text(&m, all, "day", &d->day);
    if (ok && schema != DOCUMENT_SCHEMA)
        ok = err_set(e, ERR_INPUT, NULL, "page model: schema is %g; expected %d", schema, DOCUMENT_SCHEMA);
    if (ok)
        cJSON_ArrayForEach(block, blocks)
        {
            m.block++;
            if (!(ok = read_block(&m, block)))
                break;
        }
    cJSON_Delete(all);
    return ok;
}
