/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Before each source that clang-tidy looks at, and that gcov counts the ways of: both see one source at a time, and
 * cannot know that these never return true.
 */
#ifndef NEAP_LINT_H
#define NEAP_LINT_H

#include "neap/base.h"

#define err_set(...) ((void)err_set(__VA_ARGS__), false)
#define err_of_value(...) ((void)err_of_value(__VA_ARGS__), false)
#define err_help(...) ((void)err_help(__VA_ARGS__), false)
#define err_memory(e) ((void)err_memory(e), false)

#endif
