/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside the week floor only. */
#ifndef NEAP_WEEK_PICTURE_H
#define NEAP_WEEK_PICTURE_H

#include "neap/ledger.h"
#include "neap/week.h"

bool picture_line(struct trend_analyte *n, double window_d, struct arena *a, struct err *e);
bool picture_events(const struct facility *f, long now_min, const struct day_span *window, struct trend_system *s,
                    struct arena *a, struct err *e);

#endif
