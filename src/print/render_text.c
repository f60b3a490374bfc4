/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The page model as text. Every block becomes pieces, lines that must stay together; pages are then filled piece by
 * piece, and a table that goes on repeats its head.
 */
#include "plot.h"

enum { WIDTH_LEAST = 40, COLUMN_LEAST = 6, FLEXIBLE_LEAST = 12, GAP = 1, PAGE_HEAD = 2 };

struct page_maker {
    int width, page_lines;
    int limit;          /* lines that a page of this section is filled to: no more than page_lines */
    struct text *pages; /* finished lines, with form feeds */
    int line;           /* lines on this page so far */
    int page;
    const char *running;
    enum chart_style charts;
    int charts_width;
    size_t *count_at; /* where each page's count must be put in afterwards */
    size_t n_pages, room_pages;
    bool failed;
};

/* ---- wrapping --------------------------------------------------------------------------------------------------- */

/* Bytes of s that make one line of at most width columns, and in *next where the following line begins. */
static size_t line_break(const char *s, int width, size_t *next)
{
    size_t end = 0, good = 0;
    for (int taken = 0; s[end] && s[end] != '\n';) {
        size_t n = 1;
        while (((unsigned char)s[end + n] & 0xC0) == 0x80)
            n++;
        taken += text_width(s + end, n);
        if (taken > width)
            break;
        end += n;
        if (s[end] == ' ')
            good = end;
    }
    if (s[end] == '\0' || s[end] == '\n') {
        *next = end + (s[end] == '\n');
        return end;
    }
    if (good == 0) { /* one long word: cut it */
        if (end == 0)
            for (end = 1; ((unsigned char)s[end] & 0xC0) == 0x80; end++)
                ;
        *next = end;
        return end;
    }
    *next = good;
    while (s[*next] == ' ')
        ++*next;
    return good;
}

static int wrapped_lines(const char *s, int width)
{
    int n = 0;
    do {
        size_t next;
        line_break(s, width, &next);
        s += next;
        n++;
    } while (*s);
    return n;
}

/* The bytes of line number line of the wrapped text. */
static size_t wrapped_line(const char *s, int width, int line, const char **begin)
{
    for (;;) {
        size_t next, len = line_break(s, width, &next);
        *begin = s;
        if (line-- == 0)
            return len;
        s += next;
        if (!*s) {
            *begin = s;
            return 0;
        }
    }
}

/* ---- pages ------------------------------------------------------------------------------------------------------ */

/* The count "page n of m" is as wide on every page; m is put in when it is known. */
static void begin_page(struct page_maker *p)
{
    if (p->page_lines == 0)
        return;
    if (p->page > 0)
        text_add(p->pages, "\f");
    p->page++;
    size_t *moved = mem_grow(p->count_at, &p->room_pages, p->n_pages + 1, sizeof *moved);
    if (!moved) {
        p->failed = true;
        return;
    }
    p->count_at = moved;
    int room = p->width - 16;
    const char *begin;
    size_t len = wrapped_line(p->running, room, 0, &begin);
    text_add_n(p->pages, begin, len);
    text_add_char(p->pages, ' ', (size_t)(room - text_width(begin, len)));
    p->count_at[p->n_pages++] = p->pages->len;
    text_add(p->pages, "                \n");
    text_add_char(p->pages, '=', (size_t)p->width);
    text_add(p->pages, "\n");
    p->line = PAGE_HEAD;
}

static void number_pages(struct page_maker *p)
{
    for (size_t i = 0; i < p->n_pages && !p->pages->failed; i++) {
        char count[48];
        int n = snprintf(count, sizeof count, "page %zu of %zu", i + 1, p->n_pages);
        if (n > 0 && n <= 16)
            memcpy(p->pages->s + p->count_at[i] + 16 - n, count, (size_t)n);
    }
}

static void end_line(struct page_maker *p)
{
    struct text *t = p->pages;
    while (t->len > 0 && t->s[t->len - 1] == ' ')
        t->len--;
    text_add(t, "\n");
    p->line++;
}

/* Room for so many lines, on this page or a new one. */
static void need_lines(struct page_maker *p, int lines)
{
    if (p->page_lines > 0 && (p->page == 0 || p->line + lines > p->limit))
        begin_page(p);
}

static bool at_top(const struct page_maker *p)
{
    return p->page_lines > 0 ? p->page == 0 || p->line <= PAGE_HEAD : p->pages->len == 0;
}

/* ---- blocks ----------------------------------------------------------------------------------------------------- */

static void put_wrapped(struct page_maker *p, const char *mark, const char *text)
{
    int indent = *mark ? text_width(mark, strlen(mark)) + 1 : 0;
    int lines = wrapped_lines(text, p->width - indent);
    for (int i = 0; i < lines; i++) {
        const char *begin;
        need_lines(p, 1);
        size_t len = wrapped_line(text, p->width - indent, i, &begin);
        text_add(p->pages, i == 0 ? mark : "");
        text_add_char(p->pages, ' ', (size_t)(i == 0 ? (indent > 0) : indent));
        text_add_n(p->pages, begin, len);
        end_line(p);
    }
}

/* Where the page is too narrow for all, the widest give way, a character at a time. */
static void narrow_columns(int *widths, size_t n, int over)
{
    assert(n > 0);
    while (over > 0) {
        size_t widest = 0;
        for (size_t i = 1; i < n; i++)
            widest = widths[i] > widths[widest] ? i : widest;
        if (widths[widest] <= COLUMN_LEAST)
            return;
        widths[widest]--;
        over--;
    }
}

static void column_widths(const struct block *b, int width, int *widths)
{
    int left = width - GAP * ((int)b->n_columns - 1);
    size_t flexible = SIZE_MAX;
    for (size_t i = 0; i < b->n_columns; i++) {
        widths[i] = b->columns[i].width;
        left -= widths[i];
        if (widths[i] == 0)
            flexible = i;
    }
    if (flexible != SIZE_MAX) {
        widths[flexible] = left >= COLUMN_LEAST ? left : FLEXIBLE_LEAST;
        left -= widths[flexible];
    }
    narrow_columns(widths, b->n_columns, -left);
}

/* A text also takes the room of the empty cells behind it. */
static int cell_width(const struct block *b, const char *const *cells, const int *widths, size_t i)
{
    int width = widths[i];
    for (size_t k = i + 1; k < b->n_columns && *cells[i] && !*cells[k] && !b->columns[i].right; k++)
        width += GAP + widths[k];
    return width;
}

static int row_lines(const struct block *b, const char *const *cells, const int *widths)
{
    int lines = 1;
    for (size_t i = 0; i < b->n_columns; i++) {
        int n = wrapped_lines(cells[i], cell_width(b, cells, widths, i));
        lines = n > lines ? n : lines;
    }
    return lines;
}

/* What a head or a note leaves for its text, behind its first column. */
static int across_width(const struct block *b, const int *widths)
{
    int width = 0;
    for (size_t i = 1; i < b->n_columns; i++)
        width += widths[i] + (i > 1 ? GAP : 0);
    return width;
}

static int kind_lines(const struct block *b, size_t row, const int *widths)
{
    switch ((enum row_kind)b->kinds[row]) {
    case ROW_RULE: return 1;
    case ROW_HEAD:
    case ROW_NOTE: return wrapped_lines(block_row(b, row)[1], across_width(b, widths));
    case ROW_CELLS: break;
    }
    return row_lines(b, block_row(b, row), widths);
}

/* A head stays with its notes and with the first row under them, or with its group; what no page holds is broken. */
static int group_lines(const struct page_maker *p, const struct block *b, size_t row, const int *widths)
{
    int lines = 0;
    for (size_t i = row, end = block_group_end(b, row); i < end; i++)
        lines += kind_lines(b, i, widths);
    return p->page_lines > 0 && lines > p->limit - PAGE_HEAD ? kind_lines(b, row, widths) : lines;
}

static void put_cell(struct page_maker *p, const char *s, int width, int line, bool right)
{
    const char *begin;
    size_t len = wrapped_line(s, width, line, &begin);
    int pad = width - text_width(begin, len);
    pad = pad < 0 ? 0 : pad;
    text_add_char(p->pages, ' ', right ? (size_t)pad : 0);
    text_add_n(p->pages, begin, len);
    text_add_char(p->pages, ' ', right ? 0 : (size_t)pad);
}

static void put_row(struct page_maker *p, const struct block *b, const char *const *cells, const int *widths)
{
    int lines = row_lines(b, cells, widths);
    for (int line = 0; line < lines; line++) {
        for (size_t i = 0; i < b->n_columns;) {
            int width = cell_width(b, cells, widths, i), taken = widths[i];
            text_add_char(p->pages, ' ', i > 0 ? GAP : 0);
            put_cell(p, cells[i], width, line, b->columns[i].right);
            for (i++; taken < width; i++)
                taken += GAP + widths[i];
        }
        end_line(p);
    }
}

static void put_across(struct page_maker *p, const struct block *b, const char *const *cells, const int *widths)
{
    int width = across_width(b, widths), lines = wrapped_lines(cells[1], width);
    for (int line = 0; line < lines; line++) {
        need_lines(p, 1);
        put_cell(p, line == 0 ? cells[0] : "", widths[0], 0, b->columns[0].right);
        text_add_char(p->pages, ' ', GAP);
        put_cell(p, cells[1], width, line, false);
        end_line(p);
    }
}

static void put_rule(struct page_maker *p)
{
    text_add_char(p->pages, '-', (size_t)p->width);
    end_line(p);
}

static int head_lines(const struct block *b, const int *widths)
{
    const char *titles[COLUMNS_MAX];
    for (size_t i = 0; i < b->n_columns; i++)
        titles[i] = b->columns[i].title;
    return block_has_titles(b) ? row_lines(b, titles, widths) + 1 : 0;
}

static void put_head(struct page_maker *p, const struct block *b, const int *widths)
{
    const char *titles[COLUMNS_MAX];
    if (!block_has_titles(b))
        return;
    for (size_t i = 0; i < b->n_columns; i++)
        titles[i] = b->columns[i].title;
    put_row(p, b, titles, widths);
    put_rule(p);
}

static void put_table(struct page_maker *p, const struct block *b)
{
    int widths[COLUMNS_MAX];
    bool headed = false;
    column_widths(b, p->width, widths);
    for (size_t r = 0; r < b->n_rows; r++) {
        int before = p->page;
        need_lines(p, group_lines(p, b, r, widths) + (headed ? 0 : head_lines(b, widths)));
        if (!headed || p->page != before)
            put_head(p, b, widths);
        headed = true;
        switch ((enum row_kind)b->kinds[r]) {
        case ROW_RULE: put_rule(p); break;
        case ROW_HEAD:
        case ROW_NOTE: put_across(p, b, block_row(b, r), widths); break;
        case ROW_CELLS: put_row(p, b, block_row(b, r), widths); break;
        }
    }
}

/* ---- boxes ------------------------------------------------------------------------------------------------------ */

static int box_lines(const struct block *b, int width)
{
    int lines = 2;
    for (size_t r = 0; r < b->n_rows; r++)
        lines += wrapped_lines(block_row(b, r)[0], width - 6);
    return lines;
}

static void put_box_edge(struct page_maker *p, const char *title)
{
    int left = p->width - 2;
    text_add(p->pages, "+");
    if (*title) {
        text_addf(p->pages, "- %s ", title);
        left -= text_width(title, strlen(title)) + 3;
    }
    text_add_char(p->pages, '-', left > 0 ? (size_t)left : 0);
    text_add(p->pages, "+");
    end_line(p);
}

static void put_box(struct page_maker *p, const struct block *b)
{
    put_box_edge(p, b->text);
    for (size_t r = 0; r < b->n_rows; r++) {
        const char *item = block_row(b, r)[0];
        int lines = wrapped_lines(item, p->width - 6);
        for (int line = 0; line < lines; line++) {
            need_lines(p, 1);
            text_add(p->pages, line == 0 ? "| - " : "|   ");
            put_cell(p, item, p->width - 6, line, false);
            text_add(p->pages, " |");
            end_line(p);
        }
    }
    need_lines(p, 1);
    put_box_edge(p, "");
}

/* ---- charts ----------------------------------------------------------------------------------------------------- */

static int plots_lines(const struct block *b, int width)
{
    size_t abreast;
    const struct plot_size size = plot_size_of(b->n_plots, b->small, width, &abreast);
    return plot_lines(&size);
}

static void put_plots(struct page_maker *p, const struct block *b)
{
    size_t abreast;
    const struct plot_size size = plot_size_of(b->n_plots, b->small, p->charts_width, &abreast);
    for (size_t i = 0; i < b->n_plots; i += abreast) {
        need_lines(p, plot_lines(&size));
        for (int line = 0; line < plot_lines(&size); line++) {
            for (size_t k = i; k < b->n_plots && k < i + abreast; k++) {
                text_add_char(p->pages, ' ', k == i ? 0 : b->small ? PLOT_SMALL_GAP : PLOT_GAP);
                plot_line(&b->plots[k], &size, p->charts, line, p->pages);
            }
            end_line(p);
        }
    }
}

/* ---- labels ----------------------------------------------------------------------------------------------------- */

/* "1.04 D2: display, 2318 L": the sheet, and the label on it, row by row. */
static void put_labels(struct page_maker *p, const struct label_page *l)
{
    size_t per_sheet = label_sheet_places(l->sheet);
    for (size_t i = 0; i < l->n; i++) {
        char place[48];
        struct text t = {0};
        size_t at = l->first + i;
        snprintf(place, sizeof place, "%zu.%02zu", at / per_sheet + 1, at % per_sheet + 1);
        text_addf(&t, "%s: %s", l->labels[i].title, l->labels[i].text);
        put_wrapped(p, place, text_str(&t));
        p->failed = p->failed || t.failed;
        text_free(&t);
    }
}

/* Lines that a block and what it must stay with take at the least; broken: also where it would rather be whole. */
static int least_lines(const struct page_maker *p, const struct document *d, size_t at, bool broken)
{
    int lines = 0, width = p->width, widths[COLUMNS_MAX];
    for (bool whole; at < d->n_blocks; at++) {
        const struct block *b = &d->blocks[at];
        switch (b->type) {
        case BLOCK_HEADING:
        case BLOCK_TEXT: lines += wrapped_lines(b->text, width); break;
        case BLOCK_ITEM: lines += wrapped_lines(b->text, width - text_width(b->mark, strlen(b->mark)) - 1); break;
        case BLOCK_LABELS:
        case BLOCK_SPACE: lines++; break;
        case BLOCK_TABLE:
            column_widths(b, width, widths);
            lines += head_lines(b, widths);
            whole = b->whole && !broken && !block_has_groups(b);
            for (size_t r = 0; r < b->n_rows && whole; r++)
                lines += kind_lines(b, r, widths);
            if (b->n_rows > 0 && !whole)
                lines += group_lines(p, b, 0, widths);
            break;
        case BLOCK_BOX: lines += broken ? 2 : box_lines(b, width); break;
        case BLOCK_PLOTS: lines += plots_lines(b, p->charts_width); break;
        case BLOCK_PAGE: return lines;
        }
        if (!b->keep)
            break;
    }
    return lines;
}

/*
 * A block that asks for more than a page is begun where it stands: it has to be broken anyhow. So is one that would
 * leave more than half of this page empty.
 */
static int lines_together(const struct page_maker *p, const struct document *d, size_t at)
{
    int lines = least_lines(p, d, at, false);
    bool breaks = lines > p->page_lines - PAGE_HEAD || (p->line + lines > p->limit && p->line < p->page_lines / 2);
    if (p->page_lines == 0 || p->page == 0 || !breaks)
        return p->page_lines > 0 && lines > p->page_lines - PAGE_HEAD ? 1 : lines;
    lines = least_lines(p, d, at, true);
    return p->line + lines > p->limit && (lines > p->page_lines - PAGE_HEAD || p->line < p->page_lines / 2) ? 1 : lines;
}

static void put_block(struct page_maker *p, const struct document *d, size_t at)
{
    const struct block *b = &d->blocks[at];
    if (b->type != BLOCK_SPACE && b->type != BLOCK_PAGE)
        need_lines(p, lines_together(p, d, at));
    switch (b->type) {
    case BLOCK_HEADING:
    case BLOCK_TEXT: put_wrapped(p, "", b->text); break;
    case BLOCK_ITEM: put_wrapped(p, b->mark, b->text); break;
    case BLOCK_TABLE: put_table(p, b); break;
    case BLOCK_BOX: put_box(p, b); break;
    case BLOCK_PLOTS: put_plots(p, b); break;
    case BLOCK_LABELS: put_labels(p, b->labels); break;
    case BLOCK_SPACE:
        if (!at_top(p) && (p->page_lines == 0 || p->line < p->limit))
            end_line(p);
        break;
    case BLOCK_PAGE:
        if (p->page_lines > 0 && p->line >= p->page_lines / 2)
            p->line = p->page_lines; /* full: the next block begins a page */
        break;
    }
}

/* ---- sections --------------------------------------------------------------------------------------------------- */

/* Where the section that begins at a block ends: behind its last block, where other hands take over. */
static size_t section_end(const struct document *d, size_t at)
{
    while (at < d->n_blocks && !d->blocks[at].part)
        at++;
    return at;
}

static void put_section(struct page_maker *p, const struct document *d, size_t from, size_t until)
{
    for (size_t i = from; i < until; i++)
        put_block(p, d, i);
}

/* Pages that the section would add if they were filled to a limit. */
static int section_pages(const struct page_maker *p, const struct document *d, size_t from, size_t until, int limit)
{
    struct text scratch = {0};
    struct page_maker trial = *p;
    trial.limit = limit;
    trial.pages = &scratch;
    trial.count_at = NULL;
    trial.n_pages = trial.room_pages = 0;
    put_section(&trial, d, from, until);
    int pages = trial.page - p->page;
    free(trial.count_at);
    text_free(&scratch);
    return pages;
}

/* The pages of a section are filled alike, so that its last is no scrap. */
static void put_even_section(struct page_maker *p, const struct document *d, size_t from, size_t until)
{
    p->limit = p->page_lines;
    int pages = section_pages(p, d, from, until, p->page_lines);
    for (int limit = p->page_lines / 2; pages > 1 && limit < p->page_lines; limit++)
        if ((limit > p->line || p->line >= p->page_lines) && section_pages(p, d, from, until, limit) == pages) {
            p->limit = limit;
            break;
        }
    put_section(p, d, from, until);
    p->limit = p->page_lines;
}

bool render_text(const struct document *d, int width, int page_lines, struct text *out, struct err *e)
{
    struct page_maker p = {
        .width = greater(WIDTH_LEAST, d->text_width > 0 ? lesser(width, d->text_width) : width),
        .charts_width = greater(WIDTH_LEAST, width),
        .page_lines = page_lines,
        .limit = page_lines,
        .pages = out,
        .charts = d->charts,
        .running = d->running_left ? d->running_left : "",
    };
    bool parted = section_end(d, 0) < d->n_blocks;
    for (size_t at = 0, end; at < d->n_blocks; at = end) {
        if (d->blocks[at].part)
            put_block(&p, d, at++);
        end = section_end(d, at);
        if (parted && page_lines > 0)
            put_even_section(&p, d, at, end);
        else
            put_section(&p, d, at, end);
    }
    number_pages(&p);
    free(p.count_at);
    return d->failed || p.failed || out->failed ? err_memory(e) : true;
}
