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

bool day_parse(const char *s, int *day)
{
    int y, m, d;
    if (strlen(s) != 10 || s[4] != '-' || s[7] != '-' || !digits_at(s, 4, &y) || !digits_at(s + 5, 2, &m) ||
        !digits_at(s + 8, 2, &d))
        return false;
    if (y < 1900 || y > 2199 || m < 1 || m > 12 || d < 1 || d > month_days(y, m))
        return false;
    int n = year_start(y) + d - 1;
    for (int i = 1; i < m; i++)
        n += month_days(y, i);
    *day = n;
    return true;
}

void day_format(int day, char out[DAY_TEXT])
{
    int y = 1970 + day / 366, m = 1;
    if (day < 0)
        y = 1969 + day / 365;
    while (day >= year_start(y + 1))
        y++;
    while (day < year_start(y))
        y--;
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
    if (strlen(s) != 5 || s[2] != ':' || !digits_at(s, 2, &h) || !digits_at(s + 3, 2, &m) || h > 23 || m > 59)
        return false;
    *minute = h * 60 + m;
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

bool moment_parse(const char *s, long *moment)
{
    char date[11];
    int day, minute;
    if (strlen(s) != 16 || (s[10] != 'T' && s[10] != ' '))
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
