/* What the lots hold: which is used first, how long it lasts, what to order and what to discard. */
#include "internal.h"

int lot_expiry_order(const struct facility *f, size_t a, size_t b)
{
    int day_a = lot_last_day(f, &f->lots[a]), day_b = lot_last_day(f, &f->lots[b]);
    if (day_a != day_b)
        return day_a < day_b ? -1 : 1;
    bool open_a = f->lots[a].opened != DAY_NONE, open_b = f->lots[b].opened != DAY_NONE;
    if (open_a != open_b)
        return open_a ? -1 : 1;
    return (a > b) - (a < b);
}

size_t stock_first_lot(const struct facility *f, size_t food, int day, double *left_units)
{
    size_t first = REF_NONE;
    for (size_t i = 0; i < f->n_lots; i++)
        if (f->lots[i].food == food && lot_usable(f, &f->lots[i], day) &&
            (first == REF_NONE || lot_expiry_order(f, i, first) < 0))
            first = i;
    *left_units = first == REF_NONE ? 0 : f->lots[first].amount_units - f->lots[first].used_units;
    return first;
}
