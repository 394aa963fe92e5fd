// SPDX-License-Identifier: GPL-3.0-or-later
// The element: 20 nodes, 2 x 2 x 2 points. Reduced integration keeps it from locking in bending;
// its spurious modes do not pass from one element to the next (Zienkiewicz & Taylor: from memory).
#include "fem_internal.h"

const signed char hex_places[NODES][3] = {
    {-1, -1, -1}, {1, -1, -1}, {1, 1, -1},  {-1, 1, -1}, {-1, -1, 1}, {1, -1, 1}, {1, 1, 1},
    {-1, 1, 1},   {0, -1, -1}, {1, 0, -1},  {0, 1, -1},  {-1, 0, -1}, {0, -1, 1}, {1, 0, 1},
    {0, 1, 1},    {-1, 0, 1},  {-1, -1, 0}, {1, -1, 0},  {1, 1, 0},   {-1, 1, 0},
};

const signed char hex_faces[6][8] = {
    {0, 3, 2, 1, 11, 10, 9, 8},  {4, 5, 6, 7, 12, 13, 14, 15}, {0, 1, 5, 4, 8, 17, 12, 16},
    {1, 2, 6, 5, 9, 18, 13, 17}, {2, 3, 7, 6, 10, 19, 14, 18}, {3, 0, 4, 7, 11, 16, 15, 19},
};

static double point_place(int point, int axis)
{
    return (point >> axis & 1) ? HEX_GAUSS : -HEX_GAUSS;
}

// Corner: (1+x)(1+y)(1+z)(x+y+z-2)/8 with x..z signed by its place.
static double corner_shape(const signed char *place, const double at[3], double slopes[3])
{
    double s[3], sum = -2.0;
    for (int k = 0; k < 3; k++) s[k] = place[k] * at[k], sum += s[k];
    double all = (1.0 + s[0]) * (1.0 + s[1]) * (1.0 + s[2]) / 8.0;
    for (int k = 0; k < 3; k++) {
        double others = (1.0 + s[(k + 1) % 3]) * (1.0 + s[(k + 2) % 3]) / 8.0;
        slopes[k] = place[k] * others * (sum + 1.0 + s[k]);
    }
    return all * sum;
}

// Middle of an edge along `free`: (1-x^2)(1+y)(1+z)/4.
static double middle_shape(const signed char *place, const double at[3], double slopes[3])
{
    int along = place[0] == 0 ? 0 : place[1] == 0 ? 1 : 2;
    int b = (along + 1) % 3, c = (along + 2) % 3;
    double bubble = 1.0 - at[along] * at[along];
    double fb = 1.0 + place[b] * at[b], fc = 1.0 + place[c] * at[c];
    slopes[along] = -2.0 * at[along] * fb * fc / 4.0;
    slopes[b] = bubble * place[b] * fc / 4.0;
    slopes[c] = bubble * fb * place[c] / 4.0;
    return bubble * fb * fc / 4.0;
}

double hex_shape(int node, const double at[3], double slopes[3])
{
    const signed char *place = hex_places[node];
    return node < 8 ? corner_shape(place, at, slopes) : middle_shape(place, at, slopes);
}

// Inverse of a 3 x 3 matrix; its determinant is returned.
static double invert3(const double m[9], double out[9])
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            int a = (j + 1) % 3, b = (j + 2) % 3, c = (i + 1) % 3, d = (i + 2) % 3;
            out[3 * i + j] = m[3 * a + c] * m[3 * b + d] - m[3 * a + d] * m[3 * b + c];
        }
    double det = m[0] * out[0] + m[1] * out[3] + m[2] * out[6];
    for (int k = 0; k < 9; k++) out[k] /= det;
    return det;
}

// x[a]'s derivative by natural coordinates, row = coordinate of space.
static void jacobian(const hw_fem_mesh *mesh, int element, double slopes[NODES][3], double j[9])
{
    for (int k = 0; k < 9; k++) j[k] = 0.0;
    for (int a = 0; a < NODES; a++) {
        hw_vec3 x = mesh->nodes[mesh->elements[element][a]];
        for (int k = 0; k < 3; k++) {
            j[k] += x.x * slopes[a][k];
            j[3 + k] += x.y * slopes[a][k];
            j[6 + k] += x.z * slopes[a][k];
        }
    }
}

bool hex_prepare(const hw_fem_mesh *mesh, int element, hex_point points[POINTS])
{
    for (int p = 0; p < POINTS; p++) {
        const double at[3] = {point_place(p, 0), point_place(p, 1), point_place(p, 2)};
        double natural[NODES][3], j[9], inverse[9];
        for (int a = 0; a < NODES; a++) hex_shape(a, at, natural[a]);
        jacobian(mesh, element, natural, j);
        points[p].volume = invert3(j, inverse); // each weight of the rule is 1
        if (!(points[p].volume > 0.0)) return false;
        for (int a = 0; a < NODES; a++)
            for (int k = 0; k < 3; k++)
                points[p].slopes[a][k] = natural[a][0] * inverse[k] +
                                         natural[a][1] * inverse[3 + k] +
                                         natural[a][2] * inverse[6 + k];
    }
    return true;
}

// Slopes of the moves: row = direction of the move, column = of the place.
static void move_slopes(const hex_view *view, const hex_point *point, double h[9])
{
    for (int k = 0; k < 9; k++) h[k] = 0.0;
    for (int a = 0; a < NODES; a++) {
        hw_vec3 u = view->moves[view->nodes[a]];
        for (int k = 0; k < 3; k++) {
            h[k] += u.x * point->slopes[a][k];
            h[3 + k] += u.y * point->slopes[a][k];
            h[6 + k] += u.z * point->slopes[a][k];
        }
    }
}

// The deformation gradient (the identity where rotations are small) and the second Piola-Kirchhoff
// stress, both 3 x 3.
static void point_state(const hex_view *view, const hex_point *point, double f[9], double s[9])
{
    double h[9], e[9];
    move_slopes(view, point, h);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++) {
            double twice = h[3 * i + j] + h[3 * j + i];
            if (view->large)
                for (int k = 0; k < 3; k++) twice += h[3 * k + i] * h[3 * k + j];
            e[3 * i + j] = 0.5 * twice;
            f[3 * i + j] = (i == j) + (view->large ? h[3 * i + j] : 0.0);
        }
    double pressing = view->constants.lambda * (e[0] + e[4] + e[8]);
    for (int k = 0; k < 9; k++) s[k] = 2.0 * view->constants.mu * e[k];
    for (int k = 0; k < 9; k += 4) s[k] += pressing;
}

static void times(const double a[9], const double b[9], double out[9])
{
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            out[3 * i + j] = a[3 * i] * b[j] + a[3 * i + 1] * b[3 + j] + a[3 * i + 2] * b[6 + j];
}

static void times_vector(const double m[9], const double v[3], double out[3])
{
    for (int i = 0; i < 3; i++)
        out[i] = m[3 * i] * v[0] + m[3 * i + 1] * v[1] + m[3 * i + 2] * v[2];
}

// With g the slopes of a and b, H = F g, C = F F^T, volume w, the block of nodes a and b is
// w (lambda H_a H_b^T + mu H_b H_a^T + mu (g_a . g_b) C + (g_a . S g_b) I).
static void add_point(const hex_view *view, const hex_point *point, double blocks[PAIRS][9])
{
    double f[9], s[9], turned[NODES][3], pulled[NODES][3], c[9];
    point_state(view, point, f, s);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            c[3 * i + j] =
                f[3 * i] * f[3 * j] + f[3 * i + 1] * f[3 * j + 1] + f[3 * i + 2] * f[3 * j + 2];
    for (int a = 0; a < NODES; a++) {
        times_vector(f, point->slopes[a], turned[a]);
        times_vector(s, point->slopes[a], pulled[a]);
    }
    double lambda = view->constants.lambda * point->volume;
    double mu = view->constants.mu * point->volume;
    for (int a = 0; a < NODES; a++)
        for (int b = 0; b <= a; b++) {
            const double *ga = point->slopes[a], *gb = point->slopes[b], *sb = pulled[b];
            const double *ha = turned[a], *hb = turned[b];
            double *block = blocks[pair_of(a, b)];
            double shear = mu * (ga[0] * gb[0] + ga[1] * gb[1] + ga[2] * gb[2]);
            double tense = 0.0;
            if (view->large && !view->slack)
                tense = point->volume * (ga[0] * sb[0] + ga[1] * sb[1] + ga[2] * sb[2]);
            for (int i = 0; i < 3; i++) {
                for (int j = 0; j < 3; j++)
                    block[3 * i + j] +=
                        lambda * ha[i] * hb[j] + mu * hb[i] * ha[j] + shear * c[3 * i + j];
                block[4 * i] += tense;
            }
        }
}

void hex_stiffness(const hex_view *view, double blocks[PAIRS][9])
{
    for (int k = 0; k < PAIRS; k++)
        for (int m = 0; m < 9; m++) blocks[k][m] = 0.0;
    for (int p = 0; p < POINTS; p++) add_point(view, &view->points[p], blocks);
}

void hex_forces(const hex_view *view, double *forces)
{
    for (int p = 0; p < POINTS; p++) {
        const hex_point *point = &view->points[p];
        double f[9], s[9], first[9]; // first Piola-Kirchhoff stress
        point_state(view, point, f, s);
        times(f, s, first);
        for (int a = 0; a < NODES; a++) {
            double pull[3];
            times_vector(first, point->slopes[a], pull);
            for (int k = 0; k < 3; k++) forces[3 * view->nodes[a] + k] += point->volume * pull[k];
        }
    }
}

// True stress of a point: F S F^T / det F.
static void true_stress(const hex_view *view, const hex_point *point, double out[6])
{
    double f[9], s[9], part[9], inverse[9];
    point_state(view, point, f, s);
    times(f, s, part);
    double det = invert3(f, inverse);
    static const int row[6] = {0, 1, 2, 0, 1, 2}, column[6] = {0, 1, 2, 1, 2, 0};
    for (int k = 0; k < 6; k++) {
        const double *a = part + 3 * row[k], *b = f + 3 * column[k];
        out[k] = (a[0] * b[0] + a[1] * b[1] + a[2] * b[2]) / det;
    }
}

void hex_stress(const hex_view *view, double stress[NODES][6])
{
    double at_points[POINTS][6];
    for (int p = 0; p < POINTS; p++) true_stress(view, &view->points[p], at_points[p]);
    for (int a = 0; a < NODES; a++)
        for (int k = 0; k < 6; k++) {
            // the trilinear function through the points, drawn out to the node
            double sum = 0.0;
            for (int p = 0; p < POINTS; p++) {
                double share = at_points[p][k] / 8.0;
                for (int axis = 0; axis < 3; axis++)
                    share *=
                        1.0 + hex_places[a][axis] * point_place(p, axis) / (HEX_GAUSS * HEX_GAUSS);
                sum += share;
            }
            stress[a][k] = sum;
        }
}
