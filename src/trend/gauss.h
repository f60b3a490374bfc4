/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Inside the trend floor: Gaussian beliefs, as means and covariances or as precisions, which add up. */
#ifndef TREND_GAUSS_H
#define TREND_GAUSS_H

#include "neap/trend.h"

/*
 * Cholesky factor L of a symmetric n × n matrix, row by row, of which the lower half is read: L Lᵀ = matrix, into the
 * lower half of factor (which may be matrix itself). False where it is not positive definite.
 */
bool gauss_factor(size_t n, const double *matrix, double *factor);

/* log det of L Lᵀ. */
double gauss_log_det(size_t n, const double *factor);

/* Solves L x = right and returns Σ x², which is rightᵀ (L Lᵀ)⁻¹ right; x may be right. */
double gauss_solve_half(size_t n, const double *factor, const double *right, double *x);

/* Solves Lᵀ x = right; x may be right. Of standard normal numbers it makes a draw whose precision is L Lᵀ. */
void gauss_solve_back(size_t n, const double *factor, const double *right, double *x);

/* Solves L Lᵀ x = right; x may be right. */
void gauss_solve(size_t n, const double *factor, const double *right, double *x);

/* (L Lᵀ)⁻¹, both halves; inverse is not factor. */
void gauss_invert(size_t n, const double *factor, double *inverse);

#endif
