/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Blocks of a page, added one after another. */
#include "neap/print.h"

/* Where there is no memory, the blocks before are written over: the document has failed and is never drawn. */
static struct block *add_block(struct document *d, enum block_type type)
{
    if (d->n_blocks == d->room_blocks) {
        size_t room = d->room_blocks ? d->room_blocks * 2 : 64;
        struct block *moved = arena_alloc(&d->arena, room, sizeof *moved);
        if (!moved) {
            d->failed = true;
            d->n_blocks = 0;
            moved = &d->spare;
            room = 1;
        }
        if (d->n_blocks)
            memcpy(moved, d->blocks, d->n_blocks * sizeof *moved);
        d->blocks = moved;
        d->room_blocks = room;
    }
    struct block *b = &d->blocks[d->n_blocks++];
    *b = (struct block){.type = type, .text = "", .mark = ""};
    return b;
}

void document_free(struct document *d)
{
    arena_free(&d->arena);
    *d = (struct document){0};
}

const char *const *block_row(const struct block *b, size_t row)
{
    return (const char *const *)&b->cells[row * b->n_columns];
}

bool block_has_titles(const struct block *b)
{
    for (size_t i = 0; i < b->n_columns; i++)
        if (*b->columns[i].title)
            return true;
    return false;
}

double plot_x_end(const struct plot *p)
{
    return p->n_ahead > 0 ? fmax(p->x_last, p->ahead[p->n_ahead - 1].x) : p->x_last;
}

bool block_has_groups(const struct block *b)
{
    for (size_t r = 0; r < b->n_rows; r++)
        if (b->kinds[r] == ROW_HEAD)
            return true;
    return false;
}

size_t block_group_end(const struct block *b, size_t row)
{
    if (b->kinds[row] == ROW_HEAD && b->whole) {
        for (row++; row < b->n_rows && b->kinds[row] != ROW_HEAD;)
            row++;
        return row;
    }
    if (b->kinds[row] == ROW_NOTE)
        return row + 1 < b->n_rows && b->kinds[row + 1] == ROW_CELLS ? row + 2 : row + 1;
    while ((b->kinds[row] == ROW_HEAD || b->kinds[row] == ROW_NOTE) && row + 1 < b->n_rows)
        row++;
    return row + 1;
}

const char *document_format(struct document *d, const char *fmt, ...)
{
    va_list ap;
    va_start(ap, fmt);
    int n = vsnprintf(NULL, 0, fmt, ap);
    va_end(ap);
    char *s = n < 0 ? NULL : arena_alloc(&d->arena, (size_t)n + 1, 1);
    if (!s) {
        d->failed = true;
        return "";
    }
    va_start(ap, fmt);
    vsnprintf(s, (size_t)n + 1, fmt, ap);
    va_end(ap);
    return s;
}

const char *document_taken(struct document *d, struct text *t)
{
    const char *s = document_format(d, "%s", text_str(t));
    d->failed = d->failed || t->failed;
    text_free(t);
    return s;
}

void document_heading(struct document *d, const char *text)
{
    struct block *b = add_block(d, BLOCK_HEADING);
    b->text = text;
    b->keep = true;
}

void document_text(struct document *d, const char *text)
{
    add_block(d, BLOCK_TEXT)->text = text;
}

void document_item(struct document *d, const char *mark, const char *text)
{
    struct block *b = add_block(d, BLOCK_ITEM);
    b->mark = mark;
    b->text = text;
}

void document_space(struct document *d)
{
    add_block(d, BLOCK_SPACE);
}

void document_page(struct document *d, bool part)
{
    add_block(d, BLOCK_PAGE)->part = part;
}

void document_table(struct document *d, const struct column *columns, size_t n_columns)
{
    struct block *b = add_block(d, BLOCK_TABLE);
    b->columns = columns;
    b->n_columns = n_columns;
}

/* The cells of a new row; NULL: no memory. */
static const char **add_row(struct document *d, enum row_kind kind)
{
    if (d->failed)
        return NULL;
    struct block *b = &d->blocks[d->n_blocks - 1];
    if (b->n_rows == b->room_rows) {
        size_t room = b->room_rows ? b->room_rows * 2 : 16;
        const char **moved = arena_alloc(&d->arena, room * b->n_columns, sizeof *moved);
        unsigned char *kinds = arena_alloc(&d->arena, room, 1);
        if (!moved || !kinds) {
            d->failed = true;
            return NULL;
        }
        if (b->n_rows) {
            memcpy(moved, b->cells, b->n_rows * b->n_columns * sizeof *moved);
            memcpy(kinds, b->kinds, b->n_rows);
        }
        b->cells = moved;
        b->kinds = kinds;
        b->room_rows = room;
    }
    b->kinds[b->n_rows] = (unsigned char)kind;
    const char **cells = &b->cells[b->n_rows++ * b->n_columns];
    for (size_t i = 0; i < b->n_columns; i++)
        cells[i] = "";
    return cells;
}

void document_row(struct document *d, const char *const *cells)
{
    const char **row = add_row(d, ROW_CELLS);
    if (row)
        memcpy(row, cells, d->blocks[d->n_blocks - 1].n_columns * sizeof *cells);
}

static void add_across(struct document *d, enum row_kind kind, const char *first, const char *text)
{
    const char **row = add_row(d, kind);
    if (row) {
        row[0] = first;
        row[1] = text;
    }
}

void document_row_head(struct document *d, const char *first, const char *text)
{
    add_across(d, ROW_HEAD, first, text);
}

void document_row_note(struct document *d, const char *mark, const char *text)
{
    add_across(d, ROW_NOTE, mark, text);
}

void document_rule(struct document *d)
{
    add_row(d, ROW_RULE);
}

void document_box(struct document *d, const char *title)
{
    static const struct column items[] = {{"", 0, false}};
    struct block *b = add_block(d, BLOCK_BOX);
    b->text = title;
    b->columns = items;
    b->n_columns = 1;
}

void document_plots(struct document *d, const struct plot *plots, size_t n, bool small)
{
    struct block *b = add_block(d, BLOCK_PLOTS);
    struct plot *kept = arena_alloc(&d->arena, n, sizeof *kept);
    if (!kept) {
        d->failed = true;
        return;
    }
    if (n > 0)
        memcpy(kept, plots, n * sizeof *plots);
    b->plots = kept;
    b->n_plots = n;
    b->small = small;
}

void document_labels(struct document *d, const struct label_page *page)
{
    struct block *b = add_block(d, BLOCK_LABELS);
    struct label_page *kept = arena_alloc(&d->arena, 1, sizeof *kept);
    if (!kept) {
        d->failed = true;
        return;
    }
    *kept = *page;
    b->labels = kept;
}

void document_whole(struct document *d)
{
    if (d->n_blocks > 0)
        d->blocks[d->n_blocks - 1].whole = true;
}

void document_drawn(struct document *d)
{
    if (d->n_blocks > 0)
        d->blocks[d->n_blocks - 1].drawn = true;
}

void document_keep(struct document *d)
{
    if (d->n_blocks > 0)
        d->blocks[d->n_blocks - 1].keep = true;
}
