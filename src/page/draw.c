/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The page model as PDF. Every block becomes pieces, each of one height that is never broken; pages are filled piece by
 * piece, then drawn, when their count is known. Black on white; grey only where nothing is told by it.
 */
#include "page.h"

#include <cairo-pdf.h>
#include <errno.h>

/* Points. No type is smaller than 10; times that are read from afar are larger. */
static const double side_pt = 22, edge_pt = 17, head_pt = 35, code_pt = 31, gap_pt = 7, pad_pt = 0.4, chart_pt = 150,
                    small_pt = 84, titles_pt = 14;
static const char face[] = "Liberation Sans, DejaVu Sans", plain[] = "10", bold[] = "Bold 10", clock_font[] = "Bold 12",
                  heading_font[] = "Bold 12", drawn_font[] = "Liberation Mono, DejaVu Sans Mono 10";

enum piece_kind { PIECE_TEXT, PIECE_TITLES, PIECE_ROW, PIECE_BOX, PIECE_PLOTS, PIECE_SPACE };

struct piece {
    enum piece_kind kind;
    size_t block, row;
    double height, y;
    bool together; /* on one page with the next piece */
    double most;   /* begins a page where more than that of this one is filled */
    size_t page;   /* from 1 */
};

struct paper_maker {
    const struct document *d;
    double width, height; /* of the room inside the margins and below the head */
    cairo_t *c;
    PangoLayout *words;
    double **widths; /* per block, of its columns; NULL: it has none */
    struct piece *pieces;
    size_t n, room;
    struct piece spare; /* written to once memory has run out */
    bool failed;
};

/* ---- words ------------------------------------------------------------------------------------------------------ */

static void set_font(struct paper_maker *p, const char *style)
{
    char name[128];
    snprintf(name, sizeof name, "%s %s", style == drawn_font ? "" : face, style);
    PangoFontDescription *font = pango_font_description_from_string(name);
    pango_layout_set_font_description(p->words, font);
    pango_font_description_free(font);
}

/* A tick box is drawn as one. */
static void set_words(struct paper_maker *p, const char *s)
{
    struct text t = {0};
    for (; *s; s++) {
        if (strncmp(s, "[ ]", 3) == 0) {
            text_add(&t, "\xE2\x98\x90");
            s += 2;
        } else {
            text_add_char(&t, *s, 1);
        }
    }
    p->failed = p->failed || t.failed;
    pango_layout_set_text(p->words, text_str(&t), -1);
    text_free(&t);
}

/* width 0: on one line. The height and, where wanted, the natural width. */
static double lay(struct paper_maker *p, const char *style, const char *s, double width, double *natural)
{
    int w, h;
    set_font(p, style);
    pango_layout_set_width(p->words, width > 0 ? (int)(width * PANGO_SCALE) : -1);
    pango_layout_set_wrap(p->words, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_alignment(p->words, PANGO_ALIGN_LEFT);
    set_words(p, s);
    pango_layout_get_size(p->words, &w, &h);
    if (natural)
        *natural = (double)w / PANGO_SCALE;
    return (double)h / PANGO_SCALE;
}

/* Its height. */
static double draw(struct paper_maker *p, const char *style, const char *s, double x, double y, double width,
                   bool right)
{
    double height = lay(p, style, s, width, NULL);
    if (right)
        pango_layout_set_alignment(p->words, PANGO_ALIGN_RIGHT);
    cairo_move_to(p->c, x, y);
    pango_cairo_show_layout(p->c, p->words);
    return height;
}

static void rule(struct paper_maker *p, double y, double grey, double thick)
{
    cairo_set_source_rgb(p->c, grey, grey, grey);
    cairo_set_line_width(p->c, thick);
    cairo_move_to(p->c, 0, y);
    cairo_line_to(p->c, p->width, y);
    cairo_stroke(p->c);
    cairo_set_source_rgb(p->c, 0, 0, 0);
}

/* ---- tables ----------------------------------------------------------------------------------------------------- */

static bool is_clock(const char *s)
{
    for (int i = 0; i < 5; i++)
        if (i == 2 ? s[i] != ':' : s[i] < '0' || s[i] > '9')
            return false;
    return s[5] == '\0' || s[5] == ' ';
}

static const char *cell_font(const struct block *b, const char *s, size_t column)
{
    if (b->drawn && column + 1 == b->n_columns)
        return drawn_font;
    return is_clock(s) ? clock_font : plain;
}

static double natural_width(struct paper_maker *p, const struct block *b, size_t column)
{
    double most = 0, w;
    lay(p, bold, b->columns[column].title, 0, &most);
    for (size_t r = 0; r < b->n_rows; r++) {
        const char *s = block_row(b, r)[column];
        if (b->kinds[r] == ROW_RULE || (b->kinds[r] != ROW_CELLS && column > 0))
            continue;
        lay(p, cell_font(b, s, column), s, 0, &w);
        most = fmax(most, w);
    }
    return most;
}

/* What a column of so many letters may take at most, where its cells are wider. */
static double widest(const struct column *c)
{
    return c->width * 7.0;
}

/* Each column as wide as what is in it, within reason; the one that takes the rest takes it. */
static double *column_widths(struct paper_maker *p, const struct block *b)
{
    double *widths = calloc(b->n_columns, sizeof *widths), left = p->width - gap_pt * (double)(b->n_columns - 1);
    size_t flexible = SIZE_MAX;
    if (!widths) {
        p->failed = true;
        return NULL;
    }
    for (size_t i = 0; i < b->n_columns; i++) {
        if (b->columns[i].width == 0) {
            flexible = i;
            continue;
        }
        widths[i] = fmin(natural_width(p, b, i), widest(&b->columns[i]));
        left -= widths[i];
    }
    if (flexible != SIZE_MAX)
        widths[flexible] = fmax(left, 60);
    return widths;
}

/* A text also takes the room of the empty cells behind it. */
static double cell_width(const struct block *b, const char *const *cells, const double *widths, size_t i)
{
    double width = widths[i];
    for (size_t k = i + 1; k < b->n_columns && *cells[i] && !*cells[k] && !b->columns[i].right; k++)
        width += gap_pt + widths[k];
    return width;
}

static double cells_height(struct paper_maker *p, const struct block *b, const char *const *cells, const double *widths)
{
    double most = 0;
    for (size_t i = 0; i < b->n_columns; i++)
        most = fmax(most, lay(p, cell_font(b, cells[i], i), cells[i], cell_width(b, cells, widths, i), NULL));
    return most + 2 * pad_pt;
}

/* Where what runs across begins, and how wide it is. A drawn table has no such rows. */
static double across_x(const double *widths)
{
    return widths[0] + gap_pt;
}

static double row_height(struct paper_maker *p, const struct block *b, size_t row, const double *widths)
{
    const char *const *cells = block_row(b, row);
    double x = across_x(widths);
    switch ((enum row_kind)b->kinds[row]) {
    case ROW_RULE: return 3;
    case ROW_HEAD: return lay(p, bold, cells[1], p->width - x, NULL) + 2 * pad_pt + 1;
    case ROW_NOTE: return lay(p, plain, cells[1], p->width - x, NULL);
    case ROW_CELLS: break;
    }
    return cells_height(p, b, cells, widths) + (b->drawn ? -1.3 - 2 * pad_pt : 0); /* a drawing's rows touch */
}

static void draw_cells(struct paper_maker *p, const struct block *b, const char *const *cells, const double *widths,
                       double y)
{
    double x = 0, line = lay(p, plain, "x", 0, NULL);
    for (size_t i = 0; i < b->n_columns; i++) {
        const char *font = cell_font(b, cells[i], i);
        double lower = font == clock_font ? lay(p, clock_font, "x", 0, NULL) - line : 0;
        bool right = b->columns[i].right;
        if (*cells[i])
            draw(p, font, cells[i], x, y + pad_pt - lower * 0.5, cell_width(b, cells, widths, i), right);
        x += widths[i] + gap_pt;
    }
}

static void draw_row(struct paper_maker *p, const struct piece *at)
{
    const struct block *b = &p->d->blocks[at->block];
    const double *widths = p->widths[at->block];
    const char *const *cells = block_row(b, at->row);
    double x = across_x(widths);
    switch ((enum row_kind)b->kinds[at->row]) {
    case ROW_RULE: rule(p, at->y + 1, 0, 0.7); break;
    case ROW_HEAD:
        cairo_set_source_rgb(p->c, 0.9, 0.9, 0.9);
        cairo_rectangle(p->c, 0, at->y, p->width, at->height);
        cairo_fill(p->c);
        cairo_set_source_rgb(p->c, 0, 0, 0);
        draw(p, bold, cells[0], 0, at->y + pad_pt, widths[0] + gap_pt, b->columns[0].right);
        draw(p, bold, cells[1], x, at->y + pad_pt, p->width - x, false);
        break;
    case ROW_NOTE:
        draw(p, plain, cells[0] + strspn(cells[0], " "), 0, at->y, widths[0], true);
        draw(p, plain, cells[1], x, at->y, p->width - x, false);
        break;
    case ROW_CELLS:
        draw_cells(p, b, cells, widths, at->y);
        if (!b->drawn)
            rule(p, at->y + at->height, 0.75, 0.3);
        break;
    }
}

static void draw_titles(struct paper_maker *p, const struct piece *at)
{
    const struct block *b = &p->d->blocks[at->block];
    const double *widths = p->widths[at->block];
    double x = 0;
    for (size_t i = 0; i < b->n_columns; i++) {
        draw(p, bold, b->columns[i].title, x, at->y, widths[i], b->columns[i].right);
        x += widths[i] + gap_pt;
    }
    rule(p, at->y + at->height - 1, 0, 0.7);
}

/* ---- other blocks ----------------------------------------------------------------------------------------------- */

static const char *font_of(const struct block *b)
{
    return b->type == BLOCK_HEADING ? heading_font : plain;
}

static double indent_of(struct paper_maker *p, const struct block *b)
{
    double w = 0;
    if (*b->mark)
        lay(p, plain, b->mark, 0, &w);
    return *b->mark ? fmax(w + 4, 12) : 0;
}

static void draw_text(struct paper_maker *p, const struct piece *at)
{
    const struct block *b = &p->d->blocks[at->block];
    double indent = indent_of(p, b);
    draw(p, plain, b->mark, 0, at->y, 0, false);
    draw(p, font_of(b), b->text, indent, at->y, p->width - indent, false);
}

static double box_height(struct paper_maker *p, const struct block *b)
{
    double h = 7 + lay(p, bold, b->text, p->width - 16, NULL);
    for (size_t r = 0; r < b->n_rows; r++)
        h += lay(p, plain, block_row(b, r)[0], p->width - 26, NULL);
    return h;
}

static void draw_box(struct paper_maker *p, const struct piece *at)
{
    const struct block *b = &p->d->blocks[at->block];
    double y = at->y + 3;
    cairo_set_line_width(p->c, 1.2);
    cairo_rectangle(p->c, 0.6, at->y + 0.6, p->width - 1.2, at->height - 1.2);
    cairo_stroke(p->c);
    y += draw(p, bold, b->text, 8, y, p->width - 16, false);
    for (size_t r = 0; r < b->n_rows; r++) {
        draw(p, plain, "-", 8, y, 0, false);
        y += draw(p, plain, block_row(b, r)[0], 18, y, p->width - 26, false);
    }
}

/* A row of charts; the piece's row is the first of them. */
static size_t abreast(const struct block *b)
{
    return b->small ? 4 : 2;
}

static void draw_plots(struct paper_maker *p, const struct piece *at)
{
    const struct block *b = &p->d->blocks[at->block];
    double n = (double)abreast(b), each = (p->width - gap_pt * (n - 1)) / n;
    for (size_t i = at->row; i < b->n_plots && i < at->row + abreast(b); i++) {
        cairo_save(p->c);
        cairo_translate(p->c, (double)(i - at->row) * (each + gap_pt), at->y);
        set_font(p, plain);
        page_chart(p->c, p->words, &b->plots[i], each, at->height - 4, !b->small);
        cairo_restore(p->c);
    }
}

/* ---- pieces ----------------------------------------------------------------------------------------------------- */

static struct piece *add_piece(struct paper_maker *p, enum piece_kind kind, size_t block, double height)
{
    struct piece *moved = mem_grow(p->pieces, &p->room, p->n + 1, sizeof *moved);
    if (!moved) {
        p->failed = true;
        return &p->spare;
    }
    p->pieces = moved;
    p->pieces[p->n] = (struct piece){.kind = kind, .block = block, .height = height, .most = p->height};
    return &p->pieces[p->n++];
}

static void add_table(struct paper_maker *p, size_t block)
{
    const struct block *b = &p->d->blocks[block];
    double *widths = p->widths[block] = column_widths(p, b);
    bool grouped = block_has_groups(b);
    size_t end = 0;
    if (!widths)
        return;
    if (block_has_titles(b))
        add_piece(p, PIECE_TITLES, block, titles_pt)->together = true;
    for (size_t r = 0; r < b->n_rows; r++) {
        struct piece *row = add_piece(p, PIECE_ROW, block, row_height(p, b, r, widths));
        row->row = r;
        end = r < end ? end : block_group_end(b, r);
        row->together = r + 1 < (b->whole && !grouped ? b->n_rows : end);
    }
}

static void add_block(struct paper_maker *p, size_t block)
{
    const struct block *b = &p->d->blocks[block];
    size_t before = p->n;
    double indent;
    switch (b->type) {
    case BLOCK_HEADING:
    case BLOCK_TEXT:
    case BLOCK_ITEM:
        indent = indent_of(p, b);
        add_piece(p, PIECE_TEXT, block, lay(p, font_of(b), b->text, p->width - indent, NULL));
        break;
    case BLOCK_TABLE: add_table(p, block); break;
    case BLOCK_BOX: add_piece(p, PIECE_BOX, block, box_height(p, b)); break;
    case BLOCK_PLOTS:
        for (size_t i = 0; i < b->n_plots; i += abreast(b))
            add_piece(p, PIECE_PLOTS, block, b->small ? small_pt : chart_pt)->row = i;
        break;
    case BLOCK_LABELS: break;
    case BLOCK_SPACE: add_piece(p, PIECE_SPACE, block, 5); break;
    case BLOCK_PAGE: add_piece(p, PIECE_SPACE, block, 0)->most = b->part ? 0 : p->height / 2; break;
    }
    if (b->keep && p->n > before)
        p->pieces[p->n - 1].together = true;
}

/* Height of a piece and of those that must stay with it; more than a page is broken anyhow. */
static double group_height(const struct paper_maker *p, size_t i)
{
    double h = p->pieces[i].height;
    while (p->pieces[i].together && i + 1 < p->n)
        h += p->pieces[++i].height;
    return h > p->height ? 0 : h;
}

/* A table that goes on repeats its titles. */
static double titles_height(const struct paper_maker *p, const struct piece *at)
{
    const struct block *b = &p->d->blocks[at->block];
    return at->kind == PIECE_ROW && at->row > 0 && block_has_titles(b) ? titles_pt : 0;
}

static size_t fill_pages(struct paper_maker *p)
{
    size_t page = 1;
    double y = 0;
    bool fresh = true, follows = false; /* follows: the piece before asked for this one */
    for (size_t i = 0; i < p->n; i++) {
        struct piece *at = &p->pieces[i];
        double wanted = follows ? at->height : fmax(group_height(p, i), at->height);
        if (!fresh && (y > at->most || y + wanted > p->height)) {
            page++;
            y = 0;
            fresh = true;
        }
        follows = at->together;
        if (fresh && at->kind == PIECE_SPACE) {
            at->page = 0; /* nothing at the top of a page */
            continue;
        }
        if (fresh)
            y += titles_height(p, at);
        at->page = page;
        at->y = y;
        y += at->height;
        fresh = false;
    }
    return page;
}

/* ---- pages ------------------------------------------------------------------------------------------------------ */

static void draw_head(struct paper_maker *p, size_t page, size_t pages)
{
    char count[64];
    double right = p->width - (*p->d->code ? code_pt + gap_pt : 0);
    snprintf(count, sizeof count, "page %zu of %zu", page, pages);
    draw(p, bold, p->d->running_left, 0, -head_pt + 6, right - 90, false);
    draw(p, bold, count, right - 90, -head_pt + 6, 90, true);
    if (*p->d->code)
        p->failed = !page_code(p->c, p->d->code, p->width - code_pt, -head_pt, code_pt) || p->failed;
    rule(p, -5, 0, 1);
}

static void draw_piece(struct paper_maker *p, const struct piece *at)
{
    switch (at->kind) {
    case PIECE_TEXT: draw_text(p, at); break;
    case PIECE_TITLES: draw_titles(p, at); break;
    case PIECE_ROW: draw_row(p, at); break;
    case PIECE_BOX: draw_box(p, at); break;
    case PIECE_PLOTS: draw_plots(p, at); break;
    case PIECE_SPACE: break;
    }
}

static void draw_page(struct paper_maker *p, size_t page, size_t pages)
{
    bool first = true;
    draw_head(p, page, pages);
    for (size_t i = 0; i < p->n; i++) {
        struct piece *at = &p->pieces[i];
        if (at->page != page)
            continue;
        if (first && titles_height(p, at) > 0) {
            struct piece titles = {.kind = PIECE_TITLES, .block = at->block, .height = titles_pt};
            draw_titles(p, &titles);
        }
        first = false;
        draw_piece(p, at);
    }
    cairo_show_page(p->c);
}

/* NULL: there are none. */
static const struct label_page *labels_of(const struct document *d)
{
    for (size_t i = 0; i < d->n_blocks; i++)
        if (d->blocks[i].type == BLOCK_LABELS)
            return d->blocks[i].labels;
    return NULL;
}

static void draw_all(struct paper_maker *p)
{
    const struct label_page *labels = labels_of(p->d);
    if (labels) {
        cairo_identity_matrix(p->c);
        p->failed = !page_labels(p->c, p->words, labels);
        return;
    }
    for (size_t i = 0; i < p->d->n_blocks; i++)
        add_block(p, i);
    if (p->failed)
        return;
    size_t pages = fill_pages(p);
    for (size_t page = 1; page <= pages; page++)
        draw_page(p, page, pages);
}

/* ---- the file --------------------------------------------------------------------------------------------------- */

static cairo_status_t put_bytes(void *out, const unsigned char *bytes, unsigned n)
{
    return fwrite(bytes, 1, n, out) == n ? CAIRO_STATUS_SUCCESS : CAIRO_STATUS_WRITE_ERROR;
}

static void name_file(cairo_surface_t *s, const struct document *d)
{
    char when[64];
    snprintf(when, sizeof when, "%.10sT00:00:00Z", *d->day ? d->day : "1970-01-01");
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_TITLE, d->running_left);
    cairo_pdf_surface_set_metadata(s, CAIRO_PDF_METADATA_CREATE_DATE,
                                   when); /* the clock would make other bytes each time */
}

/* Letters are placed as on paper of any fineness, not as on a screen's dots. */
static PangoLayout *begin_words(cairo_t *c)
{
    cairo_font_options_t *options = cairo_font_options_create();
    cairo_font_options_set_hint_style(options, CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options, CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options, CAIRO_ANTIALIAS_GRAY);
    PangoLayout *words = pango_cairo_create_layout(c);
    PangoContext *context = pango_layout_get_context(words);
    pango_cairo_context_set_font_options(context, options);
    pango_cairo_context_set_resolution(context, 72);
    pango_context_set_language(context, pango_language_from_string("en"));
    pango_layout_context_changed(words);
    cairo_font_options_destroy(options);
    return words;
}

bool page_draw(const struct document *d, const struct paper *paper, FILE *out, struct err *e)
{
    cairo_surface_t *s = cairo_pdf_surface_create_for_stream(put_bytes, out, paper->width_pt, paper->height_pt);
    struct paper_maker p = {
        .d = d,
        .width = paper->width_pt - 2 * side_pt,
        .height = paper->height_pt - 2 * edge_pt - head_pt,
        .c = cairo_create(s),
        .widths = calloc(d->n_blocks + 1, sizeof *p.widths),
    };
    name_file(s, d);
    cairo_translate(p.c, side_pt, edge_pt + head_pt);
    p.words = begin_words(p.c);
    p.failed = !p.widths;
    if (!p.failed)
        draw_all(&p);
    g_object_unref(p.words);
    cairo_destroy(p.c);
    cairo_surface_finish(s);
    cairo_status_t status = cairo_surface_status(s);
    cairo_surface_destroy(s);
    for (size_t i = 0; p.widths && i < d->n_blocks; i++)
        free(p.widths[i]);
    free(p.widths);
    free(p.pieces);
    if (p.failed || status == CAIRO_STATUS_NO_MEMORY)
        return err_memory(e);
    if (status != CAIRO_STATUS_SUCCESS || fflush(out) != 0)
        return err_set(e, ERR_IO, NULL, "stdout: %s", errno ? strerror(errno) : cairo_status_to_string(status));
    return true;
}
