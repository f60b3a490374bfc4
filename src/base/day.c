/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Days, minutes and moments of one calendar, read and written. */
#include "neap/base.h"

static bool digits_at(const char *s, size_t n, int *value)
{
    int v = 0;
    for (size_t i = 0; i < n; i++) {
        if (s[i] < '0' || s[i] > '9')
            return false;
        v = v * 10 + (s[i] - '0');
    }
    *value = v;
    return true;
}

static bool leap(int y)
{
    return (y % 4 == 0 && y % 100 != 0) || y % 400 == 0;
}

static int month_days(int y, int m)
{
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return m == 2 && leap(y) ? 29 : days[m - 1];
}

/* Days before 1 January of year y, counted from 1970. */
static int year_start(int y)
{
    int before = y - 1;
    return (y - 1970) * 365 + (before / 4 - before / 100 + before / 400) - (1969 / 4 - 1969 / 100 + 1969 / 400);
}

static bool day_from(int y, int m, int d, int *day)
{
    if (y < 1900 || y > 2199 || m < 1 || m > 12 || d < 1 || d > month_days(y, m))
        return false;
    int n = year_start(y) + d - 1;
    for (int i = 1; i < m; i++)
        n += month_days(y, i);
    *day = n;
    return true;
}

bool day_parse(const char *s, int *day)
{
    int y, m, d;
    return strlen(s) == 10 && s[4] == '-' && s[7] == '-' && digits_at(s, 4, &y) && digits_at(s + 5, 2, &m) &&
           digits_at(s + 8, 2, &d) && day_from(y, m, d, day);
}

void day_format(int day, char out[DAY_TEXT])
{
    int y = day < 0 ? 1969 + day / 365 : 1970 + day / 366, m = 1; /* never too late */
    while (day >= year_start(y + 1))
        y++;
    int rest = day - year_start(y);
    while (rest >= month_days(y, m)) {
        rest -= month_days(y, m);
        m++;
    }
    snprintf(out, DAY_TEXT, "%04d-%02d-%02d", y, m, rest + 1);
}

int day_weekday(int day)
{
    return ((day % 7) + 7 + 3) % 7; /* 1970-01-01 was a Thursday */
}

const char *weekday_name(int weekday)
{
    static const char *const names[] = {"Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"};
    return names[weekday];
}

bool clock_parse(const char *s, int *minute)
{
    int h, m;
    size_t n = strcspn(s, ":");
    if (n < 1 || n > 2 || strlen(s) != n + 3 || !digits_at(s, n, &h) || !digits_at(s + n + 1, 2, &m) || h > 23 ||
        m > 59)
        return false;
    *minute = h * 60 + m;
    return true;
}

bool clock_parse_long(const char *text, int *minute)
{
    char head[3] = {0};
    long hours;
    int rest;
    if (clock_parse(text, minute))
        return true;
    if (strlen(text) != 5 || text[2] != ':')
        return false;
    memcpy(head, text, 2);
    char tail[6] = {'0', '0', ':', text[3], text[4], '\0'};
    if (!count_parse(head, &hours) || hours < 24 || !clock_parse(tail, &rest))
        return false;
    *minute = (int)hours * 60 + rest;
    return true;
}

void clock_format(int minute, char out[CLOCK_TEXT])
{
    int day = minute / (int)MIN_PER_DAY, rest = minute % (int)MIN_PER_DAY;
    if (day > 0)
        snprintf(out, CLOCK_TEXT, "%02d:%02d +%dd", rest / 60, rest % 60, day);
    else
        snprintf(out, CLOCK_TEXT, "%02d:%02d", rest / 60, rest % 60);
}

/* ---- as spreadsheets write them ---------------------------------------------------------------------------------- */

/* Three numbers, of which one may be the name of a month, and what stands between them. */
struct written_day {
    int value[3];
    size_t digits[3]; /* 0: the name of a month */
    char between;     /* the same twice; ' ' also for ", " */
};

static int month_named(const char *s, size_t n)
{
    static const char *const names[] = {"january", "february", "march",     "april",   "may",      "june",
                                        "july",    "august",   "september", "october", "november", "december"};
    for (int m = 0; m < 12 && n >= 3; m++) {
        size_t i = 0;
        while (i < n && (s[i] | 0x20) == names[m][i])
            i++;
        if (i == n)
            return m + 1;
    }
    return 0;
}

static bool take_part(const char **s, struct written_day *w, size_t i)
{
    size_t n = strspn(*s, "0123456789");
    w->digits[i] = n;
    if (n == 0) {
        n = strcspn(*s, "-/., 0123456789");
        w->value[i] = month_named(*s, n);
        *s += n;
        return w->value[i] > 0;
    }
    if (n > 4)
        return false;
    digits_at(*s, n, &w->value[i]);
    *s += n;
    return true;
}

static bool take_between(const char **s, char *between)
{
    *between = **s == ',' ? ' ' : **s;
    if (**s == '\0' || !strchr("-/., ", **s))
        return false;
    ++*s;
    *s += strspn(*s, " ");
    return true;
}

static bool written_day_read(const char *s, struct written_day *w)
{
    char second;
    return take_part(&s, w, 0) && take_between(&s, &w->between) && take_part(&s, w, 1) && take_between(&s, &second) &&
           second == w->between && take_part(&s, w, 2) && *s == '\0';
}

static int whole_year(const struct written_day *w, size_t i)
{
    return w->digits[i] == 2 ? 2000 + w->value[i] : w->value[i];
}

/* The parts a, b, c as year, month and day, where they can be that. */
static bool day_of_parts(const struct written_day *w, size_t y, size_t m, size_t d, int *day)
{
    return w->digits[m] <= 2 && w->digits[d] <= 2 && (w->digits[y] == 4 || w->digits[y] == 2) &&
           day_from(whole_year(w, y), w->value[m], w->value[d], day);
}

/* 11/27/2026: every order that makes a day of it counts. */
static enum day_reading day_by_order(const struct written_day *w, enum day_order order, int *day, int *other)
{
    int found[3];
    size_t n = 0;
    if (w->digits[2] == 2 && w->between != '/')
        return DAY_UNREAD;
    n += order != DAY_ORDER_DMY && day_of_parts(w, 2, 0, 1, &found[n]);
    n += order != DAY_ORDER_MDY && day_of_parts(w, 2, 1, 0, &found[n]);
    n += order == DAY_ORDER_UNKNOWN && w->digits[2] == 2 && day_of_parts(w, 0, 1, 2, &found[n]);
    if (n == 0)
        return DAY_UNREAD;
    *day = found[0];
    for (size_t i = 1; i < n; i++)
        if (found[i] != found[0]) {
            *other = found[i];
            return DAY_AMBIGUOUS;
        }
    return DAY_READ;
}

static enum day_reading read_if(bool is_day)
{
    return is_day ? DAY_READ : DAY_UNREAD;
}

static enum day_reading written_day_day(const struct written_day *w, enum day_order order, int *day, int *other)
{
    if (w->digits[0] == 0)
        return read_if(w->digits[1] > 0 && w->between == ' ' && day_of_parts(w, 2, 0, 1, day));
    if (w->digits[1] == 0)
        return read_if(day_of_parts(w, 2, 1, 0, day));
    if (w->digits[2] == 0 || w->between == ' ')
        return DAY_UNREAD;
    if (w->digits[0] == 4)
        return read_if(day_of_parts(w, 0, 1, 2, day));
    if (w->between == '.')
        return read_if(day_of_parts(w, 2, 1, 0, day));
    return day_by_order(w, order, day, other);
}

enum day_reading day_read(const char *s, enum day_order order, int *day, int *other)
{
    struct written_day w;
    if (written_day_read(s, &w))
        return written_day_day(&w, order, day, other);
    long moment, another;
    enum day_reading reading = moment_read(s, order, &moment, &another);
    if (reading == DAY_UNREAD || moment != moment_day(moment) * MIN_PER_DAY)
        return DAY_UNREAD;
    *day = moment_day(moment);
    if (reading == DAY_AMBIGUOUS)
        *other = moment_day(another);
    return reading;
}

enum day_order day_order_of(const char *s)
{
    struct written_day w;
    char head[16];
    snprintf(head, sizeof head, "%.*s", (int)strcspn(s, " T"), s);
    if (!written_day_read(head, &w) || !w.digits[0] || !w.digits[1] || w.digits[2] != 4 || !strchr("-/", w.between))
        return DAY_ORDER_UNKNOWN;
    if (w.value[0] > 12 && w.value[1] <= 12)
        return DAY_ORDER_DMY;
    return w.value[1] > 12 && w.value[0] <= 12 ? DAY_ORDER_MDY : DAY_ORDER_UNKNOWN;
}

bool clock_read(const char *s, int *minute)
{
    char head[6] = {0};
    int seconds;
    size_t n = strspn(s, "0123456789") + 3;
    if (n > 5 || strlen(s) < n)
        return false;
    memcpy(head, s, n);
    if (!clock_parse(head, minute))
        return false;
    s += n;
    if (*s == ':') {
        if (strlen(s) < 3 || !digits_at(s + 1, 2, &seconds) || seconds > 59)
            return false;
        s += 3;
    }
    s += *s == ' ';
    if (*s == '\0')
        return true;
    bool pm = (*s | 0x20) == 'p';
    if ((!pm && (*s | 0x20) != 'a') || (s[1] | 0x20) != 'm' || s[2] != '\0' || *minute < 60 || *minute >= 13 * 60)
        return false;
    *minute = *minute % (12 * 60) + (pm ? 12 * 60 : 0);
    return true;
}

enum day_reading moment_read(const char *s, enum day_order order, long *moment, long *other)
{
    char date[24];
    int day, another, minute;
    const char *colon = strchr(s, ':');
    const char *clock = colon;
    while (clock && clock > s && clock[-1] >= '0' && clock[-1] <= '9')
        clock--;
    if (!clock || clock < s + 2 || !strchr("T ", clock[-1]) || (size_t)(clock - 1 - s) >= sizeof date ||
        !clock_read(clock, &minute))
        return DAY_UNREAD;
    struct written_day w;
    snprintf(date, sizeof date, "%.*s", (int)(clock - 1 - s), s);
    enum day_reading reading = written_day_read(date, &w) ? written_day_day(&w, order, &day, &another) : DAY_UNREAD;
    if (reading != DAY_UNREAD)
        *moment = day * MIN_PER_DAY + minute;
    if (reading == DAY_AMBIGUOUS)
        *other = another * MIN_PER_DAY + minute;
    return reading;
}

bool moment_parse(const char *s, long *moment)
{
    char date[11];
    int day, minute;
    if (strlen(s) < 15 || (s[10] != 'T' && s[10] != ' '))
        return false;
    memcpy(date, s, 10);
    date[10] = '\0';
    if (!day_parse(date, &day) || !clock_parse(s + 11, &minute))
        return false;
    *moment = day * MIN_PER_DAY + minute;
    return true;
}

int moment_day(long moment)
{
    long day = moment / MIN_PER_DAY;
    return (int)(moment % MIN_PER_DAY < 0 ? day - 1 : day);
}

void moment_format(long moment, char out[MOMENT_TEXT])
{
    char day[DAY_TEXT], clock[CLOCK_TEXT];
    int d = moment_day(moment);
    day_format(d, day);
    clock_format((int)(moment - d * MIN_PER_DAY), clock);
    snprintf(out, MOMENT_TEXT, "%.10sT%.5s", day, clock);
}
