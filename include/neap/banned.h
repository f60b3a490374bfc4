/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Calls that invite mistakes, banned for every file that includes base.h. Each has a safer neighbour in base.h:
 * text_add for building strings, number_parse and count_parse for reading numbers.
 */
#ifndef NEAP_BANNED_H
#define NEAP_BANNED_H

#pragma GCC poison gets strcpy strcat strncpy strncat sprintf vsprintf strtok atoi atol atof alloca

#endif
