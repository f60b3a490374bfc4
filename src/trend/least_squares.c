/* Golub 1965: least squares by Householder QR, columns scaled to length 1. */
#include "neap/trend.h"

#include <gsl/gsl_linalg.h>

static const double RANK_TOLERANCE = 1e-13;

static bool system_check(const struct least_squares_in *in, struct err *e)
{
    if (in->cols < 1 || in->rows < in->cols)
        return err_set(e, ERR_INPUT, NULL, "%zu rows for %zu unknowns; expected as many rows or more", in->rows,
                       in->cols);
    for (size_t i = 0; i < in->rows * in->cols; i++)
        if (!isfinite(in->x[i]))
            return err_set(e, ERR_INPUT, NULL, "row %zu, column %zu is not a number", i / in->cols + 1,
                           i % in->cols + 1);
    for (size_t i = 0; i < in->rows; i++)
        if (!isfinite(in->y[i]))
            return err_set(e, ERR_INPUT, NULL, "the right side of row %zu is not a number", i + 1);
    return true;
}

/* Working arrays in the arena; GSL sees them as views, so it allocates nothing. */
struct qr {
    size_t m, n;
    double *a, *tau, *scale, *residual;
};

static bool qr_open(struct qr *q, const struct least_squares_in *in, struct arena *arena, struct err *e)
{
    q->m = in->rows;
    q->n = in->cols;
    q->a = arena_alloc(arena, q->m, q->n * sizeof *q->a);
    q->tau = arena_alloc(arena, q->n, sizeof *q->tau);
    q->scale = arena_alloc(arena, q->n, sizeof *q->scale);
    q->residual = arena_alloc(arena, q->m, sizeof *q->residual);
    return (q->a && q->tau && q->scale && q->residual) || err_memory(e);
}

/* Columns to length 1, then QR; false where a column is a mixture of those before it. */
static bool qr_decompose(struct qr *q, const struct least_squares_in *in, struct err *e)
{
    for (size_t j = 0; j < q->n; j++) {
        double squares = 0;
        for (size_t i = 0; i < q->m; i++)
            squares += in->x[i * q->n + j] * in->x[i * q->n + j];
        if (!(squares > 0) || !isfinite(squares))
            return err_set(e, ERR_INPUT, NULL, "column %zu is all zero or too large", j + 1);
        q->scale[j] = sqrt(squares);
        for (size_t i = 0; i < q->m; i++)
            q->a[i * q->n + j] = in->x[i * q->n + j] / q->scale[j];
    }
    gsl_matrix_view a = gsl_matrix_view_array(q->a, q->m, q->n);
    gsl_vector_view tau = gsl_vector_view_array(q->tau, q->n);
    if (gsl_linalg_QR_decomp(&a.matrix, &tau.vector) != GSL_SUCCESS)
        return err_set(e, ERR_INPUT, NULL, "the system could not be decomposed");
    for (size_t j = 0; j < q->n; j++)
        if (fabs(q->a[j * q->n + j]) < RANK_TOLERANCE)
            return err_set(e, ERR_INPUT, NULL, "column %zu cannot be told from the others", j + 1);
    return true;
}

static bool qr_solve(struct qr *q, const struct least_squares_in *in, double *b, struct err *e)
{
    gsl_matrix_view a = gsl_matrix_view_array(q->a, q->m, q->n);
    gsl_vector_view tau = gsl_vector_view_array(q->tau, q->n), x = gsl_vector_view_array(b, q->n);
    gsl_vector_view residual = gsl_vector_view_array(q->residual, q->m);
    gsl_vector_const_view y = gsl_vector_const_view_array(in->y, q->m);
    if (gsl_linalg_QR_lssolve(&a.matrix, &tau.vector, &y.vector, &x.vector, &residual.vector) != GSL_SUCCESS)
        return err_set(e, ERR_INPUT, NULL, "the system could not be solved");
    for (size_t j = 0; j < q->n; j++)
        b[j] /= q->scale[j];
    return true;
}

/* (XᵀX)⁻¹ = R⁻¹ R⁻ᵀ, scaled back. inverse: room for n × n. */
static void covariance_find(const struct qr *q, double *inverse, double *covariance)
{
    size_t n = q->n;
    for (size_t j = 0; j < n; j++)
        for (size_t i = j + 1; i-- > 0;) {
            double v = i == j ? 1 : 0;
            for (size_t k = i + 1; k <= j; k++)
                v -= q->a[i * n + k] * inverse[k * n + j];
            inverse[i * n + j] = v / q->a[i * n + i];
        }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < n; j++) {
            double v = 0;
            for (size_t k = i > j ? i : j; k < n; k++)
                v += inverse[i * n + k] * inverse[j * n + k];
            covariance[i * n + j] = v / (q->scale[i] * q->scale[j]);
        }
}

bool least_squares_fit(const struct least_squares_in *in, struct arena *a, struct least_squares *out, struct err *e)
{
    struct qr q;
    if (!system_check(in, e) || !qr_open(&q, in, a, e))
        return false;
    double *b = arena_alloc(a, q.n, sizeof *b), *inverse = arena_alloc(a, q.n, q.n * sizeof *inverse);
    double *covariance = arena_alloc(a, q.n, q.n * sizeof *covariance), squares = 0;
    if (!b || !inverse || !covariance)
        return err_memory(e);
    if (!qr_decompose(&q, in, e) || !qr_solve(&q, in, b, e))
        return false;
    covariance_find(&q, inverse, covariance);
    for (size_t i = 0; i < q.m; i++)
        squares += q.residual[i] * q.residual[i];
    *out = (struct least_squares){b, covariance, squares};
    return true;
}
