/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cholesky's method, as in Golub and Van Loan, Matrix Computations, 4th ed., section 4.2 (from memory). */
#include "trend/gauss.h"

bool gauss_factor(size_t n, const double *matrix, double *factor)
{
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j <= i; j++) {
            double sum = matrix[i * n + j];
            for (size_t k = 0; k < j; k++)
                sum -= factor[i * n + k] * factor[j * n + k];
            if (i == j && !(sum > 0 && isfinite(sum)))
                return false;
            factor[i * n + j] = i == j ? sqrt(sum) : sum / factor[j * n + j];
        }
    return true;
}

double gauss_log_det(size_t n, const double *factor)
{
    double product = 1, sum = 0;
    for (size_t i = 0; i < n; i++) {
        product *= factor[i * n + i];
        if (product < 1e-100 || product > 1e100) {
            sum += log(product);
            product = 1;
        }
    }
    return 2 * (sum + log(product));
}

double gauss_solve_half(size_t n, const double *factor, const double *right, double *x)
{
    double squares = 0;
    for (size_t i = 0; i < n; i++) {
        double sum = right[i];
        for (size_t k = 0; k < i; k++)
            sum -= factor[i * n + k] * x[k];
        x[i] = sum / factor[i * n + i];
        squares += x[i] * x[i];
    }
    return squares;
}

void gauss_solve_back(size_t n, const double *factor, const double *right, double *x)
{
    for (size_t i = n; i-- > 0;) {
        double sum = right[i];
        for (size_t k = i + 1; k < n; k++)
            sum -= factor[k * n + i] * x[k];
        x[i] = sum / factor[i * n + i];
    }
}

void gauss_solve(size_t n, const double *factor, const double *right, double *x)
{
    gauss_solve_half(n, factor, right, x);
    gauss_solve_back(n, factor, x, x);
}

/* row += times × other, of the first n. */
static void row_add(double *row, double times, const double *other, size_t n)
{
    for (size_t j = 0; j < n; j++)
        row[j] += times * other[j];
}

static void row_scale(double *row, double times, size_t n)
{
    for (size_t j = 0; j < n; j++)
        row[j] *= times;
}

/* The inverse of the factor: a row from those above it. */
static void factor_invert(size_t n, const double *factor, double *inverse)
{
    for (size_t i = 0; i < n; i++) {
        double *row = inverse + i * n;
        memset(row, 0, i * sizeof *row);
        row[i] = 1;
        for (size_t k = 0; k < i; k++) /* behind its own place the other row is 0 */
            row_add(row, -factor[i * n + k], inverse + k * n, k + 1);
        row_scale(row, 1 / factor[i * n + i], i + 1);
    }
}

/* That, turned, times itself: a row of the product needs none above it, so that it can take the place of one. */
void gauss_invert(size_t n, const double *factor, double *inverse)
{
    factor_invert(n, factor, inverse);
    for (size_t i = 0; i < n; i++) {
        double *row = inverse + i * n;
        row_scale(row, row[i], i + 1);
        for (size_t k = i + 1; k < n; k++)
            row_add(row, inverse[k * n + i], inverse + k * n, i + 1);
    }
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < i; j++)
            inverse[j * n + i] = inverse[i * n + j];
}
