// SPDX-License-Identifier: GPL-3.0-or-later
//
// num: vectors, poses, small dense systems, seeded random streams, order statistics.
//
//     hw_vec3 normal = hw_vec3_unit(hw_vec3_cross(edge_a, edge_b));
//     hw_band change = hw_band_of(values, count);
//
// It knows no files and no feet. Points are metres where a unit matters.
#ifndef HW_NUM_H
#define HW_NUM_H

#include "base/base.h"
#include <math.h>
#include <stdint.h>

/// The lesser and the greater of two numbers, for loops over all points: fmin and fmax mind NaN and
/// are calls. Where either is NaN the second is given.
static inline double hw_least(double a, double b)
{
    return a < b ? a : b;
}
static inline double hw_most(double a, double b)
{
    return a > b ? a : b;
}

typedef struct hw_vec3 {
    double x, y, z;
} hw_vec3;

static inline hw_vec3 hw_vec3_add(hw_vec3 a, hw_vec3 b)
{
    return (hw_vec3){a.x + b.x, a.y + b.y, a.z + b.z};
}
static inline hw_vec3 hw_vec3_sub(hw_vec3 a, hw_vec3 b)
{
    return (hw_vec3){a.x - b.x, a.y - b.y, a.z - b.z};
}
static inline hw_vec3 hw_vec3_scale(hw_vec3 a, double factor)
{
    return (hw_vec3){a.x * factor, a.y * factor, a.z * factor};
}
static inline double hw_vec3_dot(hw_vec3 a, hw_vec3 b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}
static inline hw_vec3 hw_vec3_cross(hw_vec3 a, hw_vec3 b)
{
    return (hw_vec3){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}
static inline double hw_vec3_norm(hw_vec3 a)
{
    return sqrt(hw_vec3_dot(a, a));
}
static inline double hw_vec3_distance(hw_vec3 a, hw_vec3 b)
{
    return hw_vec3_norm(hw_vec3_sub(a, b));
}
static inline hw_vec3 hw_vec3_mix(hw_vec3 a, hw_vec3 b, double share_of_b)
{
    return hw_vec3_add(hw_vec3_scale(a, 1.0 - share_of_b), hw_vec3_scale(b, share_of_b));
}

/// `a` at length 1; the zero vector stays zero.
hw_vec3 hw_vec3_unit(hw_vec3 a);

/// Where points of one frame stand in another: p' = scale * R p + shift, R row-major. R may mirror
/// (determinant -1), which is how a right foot enters and leaves the foot frame.
typedef struct hw_pose {
    double rotation[9];
    double scale; // > 0
    hw_vec3 shift;
} hw_pose;

/// The pose that leaves every point where it is.
hw_pose hw_pose_identity(void);
/// Scaled, turned, then shifted.
hw_vec3 hw_pose_point(const hw_pose *pose, hw_vec3 point);
hw_vec3 hw_pose_direction(const hw_pose *pose, hw_vec3 direction); // rotates only
/// The way back; the rotation must be orthonormal.
hw_pose hw_pose_inverse(const hw_pose *pose);
/// `first`, and `then` of what came out of it.
hw_pose hw_pose_chain(const hw_pose *first, const hw_pose *then);
/// Whether it makes a left foot a right one: the determinant of its turn is negative.
bool hw_pose_mirrors(const hw_pose *pose);

/// Solves A x = b in place by LU with partial pivoting.
///
///   n     1 and more; the cost grows with its cube
///   a     n x n row-major, destroyed
///   b     n, becomes x
///   fails false where a pivot vanishes (|pivot| < 1e-300 or not finite)
HW_MUST_USE bool hw_solve_small(int n, double *a, double *b);

/// Eigenvalues (rising) and unit eigenvectors (columns of `vectors`, row-major 3x3) of a symmetric
/// 3x3 matrix, by Jacobi rotations.
void hw_eigen3(const double *matrix, double *values, double *vectors);

/// A random stream that gives the same numbers everywhere for the same seed (splitmix64).
typedef struct hw_random {
    uint64_t state;
} hw_random;

/// The same seed gives the same numbers on every machine.
hw_random hw_random_begin(uint64_t seed);
double hw_random_uniform(hw_random *random); // [0, 1)
double hw_random_normal(hw_random *random);  // mean 0, sd 1

/// The q-quantile (0..1) of `values`, linear between order statistics; `values` gets sorted.
double hw_quantile(double *values, int count, double q);

/// Median, 5th and 95th percentile. `values` gets sorted. count >= 1.
hw_band hw_band_of(double *values, int count);

/// A band that cannot be said, with its reason (static text).
hw_band hw_band_unknown(const char *why);

#endif
