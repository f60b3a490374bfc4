/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers read from words and rounded with a direction. */
#include "neap/base.h"

#include <errno.h>

bool number_parse(const char *s, double *value)
{
    bool digit = false;
    for (const char *p = s; *p; p++) {
        if (*p >= '0' && *p <= '9')
            digit = true;
        else if (!strchr("+-.eE", *p))
            return false; /* strtod alone would take "0x1p3", "inf", "nan" and leading blanks */
    }
    char *end;
    if (!digit)
        return false;
    double v = strtod(s, &end);
    if (*end || !isfinite(v))
        return false;
    *value = v == 0 ? 0 : v; /* no minus zero */
    return true;
}

bool count_parse(const char *s, long *value)
{
    if (!*s || s[strspn(s, "+-0123456789")] != '\0')
        return false;
    char *end;
    errno = 0;
    long v = strtol(s, &end, 10);
    if (*end || errno)
        return false;
    *value = v;
    return true;
}

/* Writes the digits of a %e form without its exponent: 1.5e-05 becomes 0.000015. */
static void number_expand(const char *e_form, char out[32])
{
    char digits[24];
    size_t n = 0;
    const char *p = e_form;
    bool minus = *p == '-';
    if (minus)
        p++;
    for (; *p != 'e'; p++)
        if (*p != '.')
            digits[n++] = *p;
    long exponent = strtol(p + 1, NULL, 10);
    /* cppcheck-suppress uninitvar ; so many were written */
    while (n > 1 && digits[n - 1] == '0')
        n--;
    size_t k = 0;
    if (minus)
        out[k++] = '-';
    if (exponent < 0) {
        out[k++] = '0';
        out[k++] = '.';
        for (long i = -1; i > exponent; i--)
            out[k++] = '0';
    }
    for (size_t i = 0; i < n || (long)i <= exponent; i++) {
        if (exponent >= 0 && (long)i == exponent + 1)
            out[k++] = '.';
        out[k++] = i < n ? digits[i] : '0';
    }
    out[k] = '\0';
}

void number_trim(char *decimal)
{
    if (!strchr(decimal, '.'))
        return;
    size_t n = strlen(decimal);
    while (decimal[n - 1] == '0')
        n--;
    decimal[decimal[n - 1] == '.' ? n - 1 : n] = '\0';
}

void number_short(double v, int digits, char out[64])
{
    int whole = v != 0 && isfinite(v) ? (int)floor(log10(fabs(v))) : 0;
    int decimals = whole >= digits ? 0 : whole < -6 ? digits + 3 : digits - 1 - whole;
    snprintf(out, 64, "%.*f", decimals, v);
    number_trim(out);
    if (strcmp(out, "-0") == 0)
        snprintf(out, 64, "0");
}

void number_format(double v, char out[32])
{
    char form[32];
    if (v == 0) {
        memcpy(out, "0", 2);
        return;
    }
    for (int digits = 14; digits <= 16; digits++) {
        snprintf(form, sizeof form, "%.*e", digits, v);
        if (strtod(form, NULL) == v)
            break;
    }
    double size = fabs(v);
    if (size >= 1e-5 && size < 1e15)
        number_expand(form, out);
    else
        snprintf(out, 32, "%.17g", v);
}

double number_without_dust(double v)
{
    char digits[32];
    snprintf(digits, sizeof digits, "%.14e", v);
    return strtod(digits, NULL);
}

/* Steps in v; a count within rounding error of a whole number is that number. */
static double steps_in(double v, double step)
{
    double n = v / step, whole = round(n);
    return fabs(n - whole) <= 1e-9 * fmax(1, fabs(whole)) ? whole : n;
}

/* n × step free of the dust that a step such as 0.1 leaves: 3 × 0.1 is 0.3. */
static double times_step(double n, double step)
{
    double inverse = round(1 / step);
    return fabs(inverse * step - 1) < 1e-12 ? n / inverse : number_without_dust(n * step);
}

double round_near_to(double v, double step)
{
    return times_step(round(steps_in(v, step)), step);
}

double round_down_to(double v, double step)
{
    return times_step(floor(steps_in(v, step)), step);
}

double round_up_to(double v, double step)
{
    return times_step(ceil(steps_in(v, step)), step);
}

int step_decimals(double step)
{
    for (int d = 0; d < 6; d++) {
        double scaled = step * pow(10, d);
        if (fabs(scaled - round(scaled)) < 1e-9 * fmax(1, scaled))
            return d;
    }
    return 6;
}
