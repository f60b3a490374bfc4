/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Somebody who watches the search, and ends it by a key. */
#include "patience.h"

#include <poll.h>
#include <unistd.h>

enum { ASKED_PER_LOOK = 50, CTRL_C = 3 };

static void show(struct patience *p, int round_min)
{
    fprintf(stderr, "\r%d h %02d min so far; looking for a shorter order. Any key keeps it. ", round_min / 60,
            round_min % 60);
    p->shown_min = round_min;
}

/* A terminal that is gone presses a key, too. */
static void look_for_key(struct patience *p)
{
    struct pollfd keys = {.fd = STDIN_FILENO, .events = POLLIN};
    char key = 0;
    if (poll(&keys, 1, 0) <= 0)
        return;
    p->key_pressed = true;
    p->broken_off = read(STDIN_FILENO, &key, 1) == 1 && key == CTRL_C;
}

static bool go_on(void *context, int round_min)
{
    struct patience *p = context;
    if (round_min != p->shown_min)
        show(p, round_min);
    if (!p->key_pressed && p->n_asked++ % ASKED_PER_LOOK == 0)
        look_for_key(p);
    return !p->key_pressed;
}

bool patience_begin(struct patience *p, const struct context *c)
{
    *p = (struct patience){.watch = {.go_on = go_on, .context = p}};
    p->at_terminal = !c->json && c->out_is_terminal && context_may_ask() && tcgetattr(STDIN_FILENO, &p->before) == 0;
    if (!p->at_terminal)
        return false;
    /* Keys arrive as they are pressed, Ctrl-C among them, so that the terminal is always given back. */
    struct termios keys = p->before;
    keys.c_lflag &= ~(tcflag_t)(ICANON | ECHO | ISIG);
    keys.c_cc[VMIN] = 1;
    keys.c_cc[VTIME] = 0;
    tcsetattr(STDIN_FILENO, TCSADRAIN, &keys);
    return true;
}

bool patience_end(struct patience *p, struct err *e)
{
    if (!p->at_terminal)
        return true;
    if (p->shown_min > 0)
        fprintf(stderr, "\r%*s\r", 78, "");
    /* Whatever else was pressed, such as the rest of an arrow key, is not for the shell. */
    tcsetattr(STDIN_FILENO, p->key_pressed ? TCSAFLUSH : TCSADRAIN, &p->before);
    return !p->broken_off || err_set(e, ERR_IO, NULL, "broken off; no round was kept");
}
