// SPDX-License-Identifier: GPL-3.0-or-later
#include "num/num.h"

#include <stdlib.h>

hw_vec3 hw_vec3_unit(hw_vec3 a)
{
    double length = hw_vec3_norm(a);
    return length > 0.0 ? hw_vec3_scale(a, 1.0 / length) : a;
}

hw_pose hw_pose_identity(void)
{
    return (hw_pose){{1, 0, 0, 0, 1, 0, 0, 0, 1}, 1.0, {0, 0, 0}};
}

hw_vec3 hw_pose_direction(const hw_pose *pose, hw_vec3 d)
{
    const double *r = pose->rotation;
    return (hw_vec3){r[0] * d.x + r[1] * d.y + r[2] * d.z, r[3] * d.x + r[4] * d.y + r[5] * d.z,
                     r[6] * d.x + r[7] * d.y + r[8] * d.z};
}

hw_vec3 hw_pose_point(const hw_pose *pose, hw_vec3 point)
{
    hw_vec3 turned = hw_vec3_scale(hw_pose_direction(pose, point), pose->scale);
    return hw_vec3_add(turned, pose->shift);
}

hw_pose hw_pose_inverse(const hw_pose *pose)
{
    hw_pose back = {.scale = 1.0 / pose->scale};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) back.rotation[3 * i + j] = pose->rotation[3 * j + i];
    hw_vec3 shift = hw_pose_direction(&back, pose->shift);
    back.shift = hw_vec3_scale(shift, -back.scale);
    return back;
}

hw_pose hw_pose_chain(const hw_pose *first, const hw_pose *then)
{
    hw_pose both = {.scale = first->scale * then->scale};
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            for (int k = 0; k < 3; k++)
                both.rotation[3 * i + j] += then->rotation[3 * i + k] * first->rotation[3 * k + j];
    both.shift = hw_pose_point(then, first->shift);
    return both;
}

bool hw_pose_mirrors(const hw_pose *pose)
{
    const double *r = pose->rotation;
    hw_vec3 a = {r[0], r[1], r[2]}, b = {r[3], r[4], r[5]}, c = {r[6], r[7], r[8]};
    return hw_vec3_dot(hw_vec3_cross(a, b), c) < 0.0;
}

static int largest_in_column(int n, const double *a, int column)
{
    int best = column;
    for (int row = column + 1; row < n; row++)
        if (fabs(a[row * n + column]) > fabs(a[best * n + column])) best = row;
    return best;
}

static void swap_rows(int n, double *a, double *b, int one, int other)
{
    for (int j = 0; j < n; j++) {
        double kept = a[one * n + j];
        a[one * n + j] = a[other * n + j];
        a[other * n + j] = kept;
    }
    double kept = b[one];
    b[one] = b[other];
    b[other] = kept;
}

static inline bool solve_small(const int n, double *a, double *b)
{
    for (int k = 0; k < n; k++) {
        int pivot = largest_in_column(n, a, k);
        double size = fabs(a[pivot * n + k]);
        if (!(size > 1e-300) || !isfinite(size)) return false;
        if (pivot != k) swap_rows(n, a, b, pivot, k);
        for (int i = k + 1; i < n; i++) {
            double factor = a[i * n + k] / a[k * n + k];
            if (factor == 0.0) continue; // an exact zero: the arrow's empty places
            for (int j = k; j < n; j++) a[i * n + j] -= factor * a[k * n + j];
            b[i] -= factor * b[k];
        }
    }
    for (int i = n - 1; i >= 0; i--) {
        for (int j = i + 1; j < n; j++) b[i] -= a[i * n + j] * b[j];
        b[i] /= a[i * n + i];
    }
    return true;
}

bool hw_solve_small(int n, double *a, double *b)
{
    HW_ASSERT(n >= 1);
    // The sizes that are solved by the million, each with its loops of known length.
    if (n == 3) return solve_small(3, a, b);
    if (n == 4) return solve_small(4, a, b);
    return solve_small(n, a, b);
}

// Turns a and v in the plane (p, q) so that a[p][q] vanishes.
static void jacobi_turn(double *a, double *v, int p, int q)
{
    if (fabs(a[3 * p + q]) < 1e-300) return;
    double theta = (a[3 * q + q] - a[3 * p + p]) / (2.0 * a[3 * p + q]);
    double t = (theta >= 0.0 ? 1.0 : -1.0) / (fabs(theta) + sqrt(theta * theta + 1.0));
    double c = 1.0 / sqrt(t * t + 1.0), s = t * c;
    for (int k = 0; k < 3; k++) {
        double kp = a[3 * k + p], kq = a[3 * k + q];
        a[3 * k + p] = c * kp - s * kq;
        a[3 * k + q] = s * kp + c * kq;
    }
    for (int k = 0; k < 3; k++) {
        double pk = a[3 * p + k], qk = a[3 * q + k];
        a[3 * p + k] = c * pk - s * qk;
        a[3 * q + k] = s * pk + c * qk;
        double vp = v[3 * k + p], vq = v[3 * k + q];
        v[3 * k + p] = c * vp - s * vq;
        v[3 * k + q] = s * vp + c * vq;
    }
}

void hw_eigen3(const double *matrix, double *values, double *vectors)
{
    double a[9], v[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1};
    for (int i = 0; i < 9; i++) a[i] = matrix[i];
    enum { SWEEPS = 30 }; // quadratic convergence: six are enough, the rest is for safety
    for (int sweep = 0; sweep < SWEEPS; sweep++) {
        jacobi_turn(a, v, 0, 1);
        jacobi_turn(a, v, 0, 2);
        jacobi_turn(a, v, 1, 2);
    }
    int order[3] = {0, 1, 2};
    for (int i = 0; i < 2; i++)
        for (int j = i + 1; j < 3; j++)
            if (a[4 * order[j]] < a[4 * order[i]]) {
                int kept = order[i];
                order[i] = order[j];
                order[j] = kept;
            }
    for (int j = 0; j < 3; j++) {
        values[j] = a[4 * order[j]];
        for (int i = 0; i < 3; i++) vectors[3 * i + j] = v[3 * i + order[j]];
    }
}

hw_random hw_random_begin(uint64_t seed)
{
    return (hw_random){seed};
}

static uint64_t next_bits(hw_random *random)
{
    uint64_t z = (random->state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

double hw_random_uniform(hw_random *random)
{
    return (double)(next_bits(random) >> 11) * 0x1p-53;
}

double hw_random_normal(hw_random *random)
{
    double radius = sqrt(-2.0 * log(1.0 - hw_random_uniform(random)));
    return radius * cos(2.0 * HW_PI * hw_random_uniform(random));
}

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double sorted_quantile(const double *values, int count, double q)
{
    double place = q * (count - 1);
    int below = (int)floor(place);
    if (below >= count - 1) return values[count - 1];
    double share = place - below;
    return (1.0 - share) * values[below] + share * values[below + 1];
}

double hw_quantile(double *values, int count, double q)
{
    HW_ASSERT(count >= 1 && q >= 0.0 && q <= 1.0);
    qsort(values, (size_t)count, sizeof *values, compare_doubles);
    return sorted_quantile(values, count, q);
}

hw_band hw_band_of(double *values, int count)
{
    HW_ASSERT(count >= 1);
    qsort(values, (size_t)count, sizeof *values, compare_doubles);
    return (hw_band){sorted_quantile(values, count, 0.5), sorted_quantile(values, count, 0.05),
                     sorted_quantile(values, count, 0.95), true, NULL};
}

hw_band hw_band_unknown(const char *why)
{
    return (hw_band){.known = false, .why = why};
}
