// SPDX-License-Identifier: GPL-3.0-or-later
#include "growth.h"

#define MATHLIB_STANDALONE 1
#include <Rmath.h>

#include <math.h>

// Part of the fall that has not happened by then, as a change from the start: 0, towards -1.
static double course(const hw_growth *growth, double week)
{
    return expm1(-week / growth->prior.weeks);
}

hw_growth hw_growth_begin(const hw_growth_prior *prior)
{
    HW_ASSERT(prior->level_sd > 0.0 && prior->fall_sd > 0.0 && prior->weeks > 0.0 &&
              prior->noise_sd > 0.0 && fabs(prior->correlation) < 1.0);
    return (hw_growth){
        .prior = *prior,
        .mean = {prior->level_mean, prior->fall_mean},
        .covariance = {prior->level_sd * prior->level_sd,
                       prior->correlation * prior->level_sd * prior->fall_sd,
                       prior->fall_sd * prior->fall_sd},
    };
}

// Mean and variance of the level of pain at a week.
static void level_at(const hw_growth *g, double week, double *mean, double *variance)
{
    double f = course(g, week);
    *mean = g->mean[0] + f * g->mean[1];
    *variance = g->covariance[0] + 2.0 * f * g->covariance[1] + f * f * g->covariance[2];
}

void hw_growth_add(hw_growth *g, double week, double score)
{
    double f = course(g, week), mean, variance;
    level_at(g, week, &mean, &variance);
    double spread = variance + g->prior.noise_sd * g->prior.noise_sd, off = score - mean;
    double gain[2] = {(g->covariance[0] + f * g->covariance[1]) / spread,
                      (g->covariance[1] + f * g->covariance[2]) / spread};
    g->surprise = off / sqrt(spread);
    g->mean[0] += gain[0] * off;
    g->mean[1] += gain[1] * off;
    g->covariance[0] -= gain[0] * gain[0] * spread;
    g->covariance[1] -= gain[0] * gain[1] * spread;
    g->covariance[2] -= gain[1] * gain[1] * spread;
    g->scores++;
}

hw_growth_view hw_growth_at(const hw_growth *growth, double week, double target)
{
    double mean, variance, z = qnorm(0.95, 0.0, 1.0, 1, 0);
    level_at(growth, week, &mean, &variance);
    double sd = sqrt(variance), noise = growth->prior.noise_sd;
    double of_score = sqrt(variance + noise * noise);
    return (hw_growth_view){.mean = mean,
                            .low = mean - z * sd,
                            .high = mean + z * sd,
                            .score_low = mean - z * of_score,
                            .score_high = mean + z * of_score,
                            .chance_below = pnorm(target, mean, sd, 1, 0)};
}

double hw_growth_chance_of_fall(const hw_growth *growth, double week, double change)
{
    double part = -course(growth, week);
    if (!(part > 0.0)) return change <= 0.0;
    return pnorm(change / part, growth->mean[1], sqrt(growth->covariance[2]), 0, 0);
}
