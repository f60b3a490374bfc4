/* Control charts and smoothing: NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.2.2, 6.3.2.4, 6.4.3.1. */
#include "neap/trend.h"

static const double D2_OF_TWO = 1.128; /* mean range of two normal readings, in sd */
static const double LIMIT_SD = 3;

static bool values_check(const double *values, size_t n, size_t least, struct err *e)
{
    if (n < least)
        return err_set(e, ERR_INPUT, NULL, "there are %zu values; expected %zu or more", n, least);
    for (size_t i = 0; i < n; i++)
        if (!isfinite(values[i]))
            return err_set(e, ERR_INPUT, NULL, "value %zu is not a number", i + 1);
    return true;
}

static bool weight_check(const char *what, double weight, struct err *e)
{
    if (!(weight > 0 && weight <= 1))
        return err_set(e, ERR_INPUT, NULL, "%s is %g; expected above 0, up to 1", what, weight);
    return true;
}

static void outside_find(const double *values, size_t n, struct chart *c)
{
    c->first_outside = 0;
    while (c->first_outside < n && values[c->first_outside] >= c->lower && values[c->first_outside] <= c->upper)
        c->first_outside++;
}

bool chart_ewma(const struct ewma_in *in, double *ewma, struct chart *out, struct err *e)
{
    if (!values_check(in->values, in->n, 1, e) || !weight_check("lambda", in->lambda, e))
        return false;
    if (!isfinite(in->target) || !(in->sd > 0) || !(in->width > 0))
        return err_set(e, ERR_INPUT, NULL, "target %g, sd %g, width %g; expected a number, and two above 0", in->target,
                       in->sd, in->width);
    double z = in->target, half = in->width * in->sd * sqrt(in->lambda / (2 - in->lambda));
    for (size_t i = 0; i < in->n; i++)
        ewma[i] = z = in->lambda * in->values[i] + (1 - in->lambda) * z;
    *out = (struct chart){in->target, in->target - half, in->target + half, 0};
    outside_find(ewma, in->n, out);
    return true;
}

bool chart_individuals(const double *values, size_t n, double *mean_moving_range, struct chart *out, struct err *e)
{
    if (!values_check(values, n, 2, e))
        return false;
    double sum = values[0], ranges = 0;
    for (size_t i = 1; i < n; i++) {
        sum += values[i];
        ranges += fabs(values[i] - values[i - 1]);
    }
    *mean_moving_range = ranges / (double)(n - 1);
    double centre = sum / (double)n, half = LIMIT_SD * *mean_moving_range / D2_OF_TWO;
    *out = (struct chart){centre, centre - half, centre + half, 0};
    outside_find(values, n, out);
    return true;
}

bool smooth_exponential(const double *values, size_t n, double alpha, double *forecast, struct err *e)
{
    if (!values_check(values, n, 1, e) || !weight_check("alpha", alpha, e))
        return false;
    forecast[0] = values[0];
    for (size_t i = 0; i < n; i++)
        forecast[i + 1] = alpha * values[i] + (1 - alpha) * forecast[i];
    return true;
}
