/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test --from FILE and test alone. */
#ifndef NEAP_CLI_TEST_OTHER_H
#define NEAP_CLI_TEST_OTHER_H

#include "cli.h"

bool test_from_file(struct context *c, struct err *e);
bool test_due(struct context *c, struct err *e);

#endif
