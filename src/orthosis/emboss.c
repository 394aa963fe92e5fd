// SPDX-License-Identifier: GPL-3.0-or-later
// Side and code as raised letters on the underside of the arch, where neither foot nor shoe touches.
//
// A rectangle of the bottom's cells is cut finer, and its points rise along one direction: out of the
// plane that the letters are drawn on. So the letters are heights over that plane and cannot go
// through themselves. Nothing outside the rectangle moves; the triangles along its edge become fans,
// so that the solid stays closed.
#include "orthosis_internal.h"

#include "press_internal.h"

#include <string.h>

// Letters of our own on a board of 4 x 6: lines through points, two digits a point, a blank between
// two lines. Zero is crossed and one has a foot, so that they are no O and no I.
static const char *const capitals[26] = {
    "0004264440 0242",           // A
    "00063645443303 3342413000", // B
    "4536160501103041",          // C
    "00062644422000",            // D
    "46060040 0333",             // E
    "460600 0333",               // F
    "45361605011030414323",      // G
    "0006 4046 0343",            // H
    "2026",                      // I
    "4641301001",                // J
    "0006 4602 1340",            // K
    "060040",                    // L
    "0006234640",                // M
    "00064046",                  // N
    "100105163645413010",        // O
    "00063645443303",            // P
    "100105163645413010 2240",   // Q
    "00063645443303 2340",       // R
    "453616050413334241301001",  // S
    "0646 2026",                 // T
    "060110304146",              // U
    "0602204246",                // V
    "06011021304146 2123",       // W
    "0046 0640",                 // X
    "0623 462320",               // Y
    "06460040",                  // Z
};
static const char *const numerals[10] = {
    "100105163645413010 0145",          // 0
    "152620 1030",                      // 1
    "05163645440040",                   // 2
    "05163645443323 334241301001",      // 3
    "30360242",                         // 4
    "460603334241301001",               // 5
    "453616050110304142331302",         // 6
    "064610",                           // 7
    "13040516364544331302011030414233", // 8
    "011030414536160504133344",         // 9
};
enum { BOARD_WIDE = 4, BOARD_HIGH = 6, LETTER_STEP = 6, BLANK_STEP = 4 }; // board units

// What printed letters need to be read: half a millimetre high and wide or more, sloped sides
// (common practice).
static const double raised = 0.0006, line = 0.0009, slope = 0.0003; // m
static const double tallest = 0.006, smallest = 0.004, smaller_by = 0.0005;
static const double under_letters = 0.001; // m to the floor: the insole does not press on them

// The text at a size.
typedef struct lettering {
    const char *text;
    double unit; // m of a board unit
} lettering;

// The plane the text is drawn on; its origin is the lower left corner of the first letter.
typedef struct board {
    hw_vec3 origin, along, up, out; // m; unit
} board;

static const char *glyph_of(char letter)
{
    if (letter >= 'A' && letter <= 'Z') return capitals[letter - 'A'];
    if (letter >= '0' && letter <= '9') return numerals[letter - '0'];
    if (letter == '-') return "1333";
    if (letter == '.') return "2020";
    if (letter == '/') return "0046";
    return letter == ' ' ? "" : NULL;
}

static double step_of(char letter)
{
    return letter == ' ' ? BLANK_STEP : LETTER_STEP;
}

// Length of the text, m.
static double length_of(const lettering *of)
{
    double sum = BOARD_WIDE - LETTER_STEP; // none after the last
    for (const char *c = of->text; *c; c++) sum += step_of(*c);
    return sum * of->unit;
}

static double from_segment(const double p[2], const double a[2], const double b[2])
{
    double x = b[0] - a[0], y = b[1] - a[1], square = x * x + y * y;
    double share = square > 0.0 ? ((p[0] - a[0]) * x + (p[1] - a[1]) * y) / square : 0.0;
    share = fmin(1.0, fmax(0.0, share));
    return hypot(p[0] - a[0] - share * x, p[1] - a[1] - share * y);
}

// From a place to the nearest line of a letter, board units.
static double from_glyph(const char *glyph, const double p[2])
{
    double least = INFINITY, last[2] = {0};
    bool goes_on = false;
    for (const char *c = glyph; *c; c++) {
        if (*c == ' ') {
            goes_on = false;
            continue;
        }
        const double here[2] = {c[0] - '0', c[1] - '0'};
        if (goes_on) least = fmin(least, from_segment(p, last, here));
        last[0] = here[0], last[1] = here[1], goes_on = true;
        c++;
    }
    return least;
}

// How far the surface rises at a place on the board, m.
static double rise_at(const lettering *of, double along, double up)
{
    double p[2] = {along / of->unit, up / of->unit}, least = INFINITY;
    for (const char *c = of->text; *c && p[0] > -LETTER_STEP; c++) {
        if (p[0] < LETTER_STEP + BOARD_WIDE) least = fmin(least, from_glyph(glyph_of(*c), p));
        p[0] -= step_of(*c);
    }
    double inside = (0.5 * line + slope - least * of->unit) / slope;
    return raised * fmin(1.0, fmax(0.0, inside));
}

// Side and code in capitals.
static hw_status compose(hw_job *job, hw_side side, const char *code, hw_arena *into,
                         const char **out)
{
    char *text = NULL;
    HW_ALLOC(job, into, text, strlen(code) + 3);
    text[0] = side == HW_SIDE_LEFT ? 'L' : 'R', text[1] = ' ';
    for (int i = 0; code[i]; i++) {
        char c = code[i];
        text[i + 2] = (char)(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c);
        if (glyph_of(text[i + 2])) continue;
        return hw_fail(job, HW_BAD_INPUT,
                       "embossing: the code \"%s\" holds a character that has no letter here (A to "
                       "Z, 0 to 9, - . / and a blank have); leave it out and write by hand",
                       code);
    }
    *out = text;
    return HW_OK;
}

// The bottom, and where letters may stand on it.
typedef struct underside {
    const hw_vec3 *points; // grid
    hw_vec3 *normals;
    double *over; // m over the floor; 0 beside the arch and on walls
} underside;

enum { FROM_RIM = 4 }; // grid points

static hw_status look_under(hw_job *job, const hw_foot *foot, const hw_orthosis *device,
                            hw_arena *into, underside *out)
{
    const double from = 0.25, to = 0.70; // of the foot: between the heel's pad and the heads
    const double wall = cos(30.0 * HW_PI / 180.0); // the shoe's sides touch what is steeper
    double length = press_foot_length(foot), back = foot->landmarks.heel_back.x;
    press_plane floor = {0};
    *out = (underside){.points = device->bottom};
    HW_TRY(grid_normals(job, device->bottom, into, &out->normals));
    HW_ALLOC(job, into, out->over, GRID_U * GRID_V);
    HW_TRY(press_ground(job, foot, device, &floor));
    for (int i = FROM_RIM; i < GRID_U - FROM_RIM; i++)
        for (int j = FROM_RIM; j < GRID_V - FROM_RIM; j++) {
            hw_vec3 p = device->bottom[grid_index(i, j)];
            if (p.x < back + from * length || p.x > back + to * length) continue;
            if (-out->normals[grid_index(i, j)].z < wall) continue;
            out->over[grid_index(i, j)] =
                p.z - floor.at - floor.along_x * p.x - floor.along_y * p.y;
        }
    return HW_OK;
}

// The board whose text has its middle over a grid point and runs from heel to toes, upright for who
// looks at the underside; a right device is a left one's mirror image until it leaves.
static board board_at(const underside *of, hw_side side, const lettering *text, int middle)
{
    board at = {.out = of->normals[middle]};
    hw_vec3 ahead = {1.0, 0.0, 0.0};
    double tilt = hw_vec3_dot(ahead, at.out);
    at.along = hw_vec3_unit(hw_vec3_sub(ahead, hw_vec3_scale(at.out, tilt)));
    at.up = hw_vec3_cross(at.out, at.along);
    if (side == HW_SIDE_RIGHT) at.up = hw_vec3_scale(at.up, -1.0);
    at.origin = hw_vec3_sub(of->points[middle], hw_vec3_scale(at.along, 0.5 * length_of(text)));
    at.origin = hw_vec3_sub(at.origin, hw_vec3_scale(at.up, 0.5 * BOARD_HIGH * text->unit));
    return at;
}

// A point on the board: along, up and out of it, m.
static hw_vec3 on_board(const board *at, hw_vec3 p)
{
    hw_vec3 away = hw_vec3_sub(p, at->origin);
    return (hw_vec3){hw_vec3_dot(away, at->along), hw_vec3_dot(away, at->up),
                     hw_vec3_dot(away, at->out)};
}

// What the letters and their sides take, with a little beside them.
static bool is_on_text(const lettering *text, hw_vec3 p)
{
    const double beside = 0.5 * line + slope + 0.0005; // m
    return p.x >= -beside && p.x <= length_of(text) + beside && p.y >= -beside &&
           p.y <= BOARD_HIGH * text->unit + beside;
}

static bool is_free(const underside *of, int k)
{
    return of->over[k] >= raised + under_letters;
}

// Whether the bottom goes on to the board's corners: a free point lies at each of them.
static bool reaches_corners(const underside *of, const board *at, const lettering *text)
{
    const double near = 0.002; // m
    for (int k = 0; k < 4; k++) {
        double x = k & 1 ? length_of(text) : 0.0, y = k & 2 ? BOARD_HIGH * text->unit : 0.0;
        bool is_met = false;
        for (int n = 0; n < GRID_U * GRID_V && !is_met; n++) {
            if (!is_free(of, n)) continue;
            hw_vec3 p = on_board(at, of->points[n]);
            is_met = hypot(p.x - x, p.y - y) < near;
        }
        if (!is_met) return false;
    }
    return true;
}

// How far over the floor the text would stand at least, m; 0 where it cannot: the bottom too steep,
// bent, or taken.
static double least_over(const underside *of, const board *at, const lettering *text)
{
    const double steepest = cos(25.0 * HW_PI / 180.0); // of the bottom against the board
    const double bends = 0.003;                        // m
    double least = INFINITY;
    for (int k = 0; k < GRID_U * GRID_V; k++) {
        hw_vec3 p = on_board(at, of->points[k]);
        if (!is_on_text(text, p)) continue;
        bool is_flat = fabs(p.z) < bends && hw_vec3_dot(of->normals[k], at->out) > steepest;
        if (!is_flat || !is_free(of, k)) return 0.0;
        least = fmin(least, of->over[k]);
    }
    return reaches_corners(of, at, text) ? least : 0.0;
}

// Where the hollow is deepest; false where there is no room.
static bool find_board(const underside *of, hw_side side, const lettering *text, board *out)
{
    double most = 0.0;
    for (int i = FROM_RIM; i < GRID_U - FROM_RIM; i += 2)
        for (int j = FROM_RIM; j < GRID_V - FROM_RIM; j += 2) {
            int middle = grid_index(i, j);
            if (!is_free(of, middle)) continue;
            board at = board_at(of, side, text, middle);
            double over = least_over(of, &at, text);
            if (over > most) most = over, *out = at;
        }
    return most > 0.0;
}

// The cells that are cut finer: from grid point (i0, j0) to (i1, j1).
typedef struct patch {
    int i0, i1, j0, j1;
    int *ids; // of the fine points, in the solid
} patch;

enum { PARTS = 8, AROUND = 2 }; // of a cell's edge; cells around the text

static int fine_count(const patch *of)
{
    return ((of->i1 - of->i0) * PARTS + 1) * ((of->j1 - of->j0) * PARTS + 1);
}

static int fine_id(const patch *of, int a, int b)
{
    return of->ids[a * ((of->j1 - of->j0) * PARTS + 1) + b];
}

static patch patch_under(const underside *of, const board *at, const lettering *text)
{
    patch out = {GRID_U, 0, GRID_V, 0, NULL};
    for (int i = 0; i < GRID_U; i++)
        for (int j = 0; j < GRID_V; j++) {
            if (!is_on_text(text, on_board(at, of->points[grid_index(i, j)]))) continue;
            out.i0 = i < out.i0 ? i : out.i0, out.i1 = i > out.i1 ? i : out.i1;
            out.j0 = j < out.j0 ? j : out.j0, out.j1 = j > out.j1 ? j : out.j1;
        }
    out.i0 -= AROUND, out.i1 += AROUND, out.j0 -= AROUND, out.j1 += AROUND;
    return out;
}

// A point of the bottom between grid points, a and b parts from the patch's corner.
static hw_vec3 fine_point(const underside *of, const patch *in, int a, int b)
{
    int i = in->i0 + a / PARTS, j = in->j0 + b / PARTS;
    int next_i = i + (a % PARTS > 0), next_j = j + (b % PARTS > 0);
    double u = (a % PARTS) / (double)PARTS, v = (b % PARTS) / (double)PARTS;
    hw_vec3 near = hw_vec3_mix(of->points[grid_index(i, j)], of->points[grid_index(i, next_j)], v);
    hw_vec3 far =
        hw_vec3_mix(of->points[grid_index(next_i, j)], of->points[grid_index(next_i, next_j)], v);
    return hw_vec3_mix(near, far, u);
}

// The fine points, raised; those on the grid keep their place in the solid.
static void add_points(const underside *of, const board *at, const lettering *text, patch *in,
                       hw_mesh *solid)
{
    const int across = (in->j1 - in->j0) * PARTS + 1;
    for (int k = 0; k < fine_count(in); k++) {
        int a = k / across, b = k % across;
        bool is_old = a % PARTS == 0 && b % PARTS == 0;
        in->ids[k] = is_old ? GRID_U * GRID_V + grid_index(in->i0 + a / PARTS, in->j0 + b / PARTS)
                            : solid->point_count++;
        hw_vec3 point = fine_point(of, in, a, b), p = on_board(at, point);
        if (is_old) point = solid->points[in->ids[k]]; // to the last bit
        solid->points[in->ids[k]] =
            hw_vec3_add(point, hw_vec3_scale(at->out, rise_at(text, p.x, p.y)));
    }
}

static void add_triangle(hw_mesh *solid, int a, int b, int c)
{
    int *to = solid->triangles[solid->triangle_count++];
    to[0] = a, to[1] = b, to[2] = c;
}

static bool is_inside(const patch *in, int i, int j)
{
    return i >= in->i0 && i <= in->i1 && j >= in->j0 && j <= in->j1;
}

// A triangle of the bottom beside the patch: a fan where one edge of it was cut, else as it was.
static void add_beside(const patch *in, const int corners[3], hw_mesh *solid)
{
    for (int k = 0; k < 3; k++) {
        int from = corners[k] - GRID_U * GRID_V, to = corners[(k + 1) % 3] - GRID_U * GRID_V;
        int i = from / GRID_V, j = from % GRID_V, ahead = to / GRID_V - i, aside = to % GRID_V - j;
        if (!is_inside(in, i, j) || !is_inside(in, i + ahead, j + aside)) continue;
        int a = (i - in->i0) * PARTS, b = (j - in->j0) * PARTS;
        for (int part = 0; part < PARTS; part++)
            add_triangle(solid, fine_id(in, a + part * ahead, b + part * aside),
                         fine_id(in, a + (part + 1) * ahead, b + (part + 1) * aside),
                         corners[(k + 2) % 3]);
        return;
    }
    add_triangle(solid, corners[0], corners[1], corners[2]);
}

static void add_triangles(const patch *in, const hw_mesh *plain, hw_mesh *solid)
{
    for (int t = 0; t < plain->triangle_count; t++) {
        const int *c = plain->triangles[t];
        int cell = (t - GRID_TRIANGLES) / 2, i = cell / (GRID_V - 1), j = cell % (GRID_V - 1);
        bool is_bottom = t >= GRID_TRIANGLES && t < 2 * GRID_TRIANGLES;
        if (!is_bottom)
            add_triangle(solid, c[0], c[1], c[2]);
        else if (!is_inside(in, i, j) || !is_inside(in, i + 1, j + 1))
            add_beside(in, c, solid);
    }
    for (int a = 0; a < (in->i1 - in->i0) * PARTS; a++)
        for (int b = 0; b < (in->j1 - in->j0) * PARTS; b++) { // facing down, as the bottom does
            int here = fine_id(in, a, b), opposite = fine_id(in, a + 1, b + 1);
            add_triangle(solid, here, opposite, fine_id(in, a + 1, b));
            add_triangle(solid, here, fine_id(in, a, b + 1), opposite);
        }
}

static hw_status raise_text(hw_job *job, const underside *of, const board *at,
                            const lettering *text, const hw_mesh *plain, hw_arena *into,
                            hw_mesh *out)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    patch in = patch_under(of, at, text);
    int edges = 2 * (in.i1 - in.i0 + in.j1 - in.j0);
    hw_mesh solid = {.point_count = plain->point_count};
    HW_ALLOC(job, tmp.arena, in.ids, fine_count(&in));
    HW_ALLOC(job, into, solid.points, plain->point_count + fine_count(&in));
    HW_ALLOC(job, into, solid.triangles,
             plain->triangle_count + 2 * fine_count(&in) + PARTS * edges);
    memcpy(solid.points, plain->points, (size_t)plain->point_count * sizeof *solid.points);
    add_points(of, at, text, &in, &solid);
    add_triangles(&in, plain, &solid);
    hw_mesh_crossings found = {0};
    HW_TRY(hw_mesh_cross(job, &solid, &found));
    if (found.count > 0) return hw_fail(job, HW_NO_ANSWER, "embossing: letters run into the shell");
    hw_scratch_end(tmp);
    *out = solid;
    return HW_OK;
}

hw_status hw_orthosis_emboss(hw_job *job, const hw_foot *foot, const char *code, hw_arena *into,
                             hw_orthosis *device)
{
    hw_scratch tmp = hw_scratch_begin(job, into);
    lettering text = {0};
    underside of = {0};
    board at = {0};
    HW_TRY(compose(job, device->side, code, into, &text.text));
    HW_TRY(look_under(job, foot, device, tmp.arena, &of));
    double height = tallest + smaller_by;
    do {
        height -= smaller_by;
        text.unit = height / BOARD_HIGH;
    } while (!find_board(&of, device->side, &text, &at) && height > smallest + 0.5 * smaller_by);
    if (hw_vec3_norm(at.out) == 0.0) // as set above: nothing was found
        return hw_fail(job, HW_BAD_INPUT,
                       "embossing: \"%s\" in letters of %.0f mm takes %.0f mm, and the device has "
                       "no such room clear of the shoe under its arch; leave it out and write by "
                       "hand",
                       text.text, hw_mm_from_m(height), hw_mm_from_m(length_of(&text)));
    HW_TRY(raise_text(job, &of, &at, &text, &device->solid, into, &device->marked));
    device->volume_m3 = hw_mesh_volume(&device->marked);
    device->mass_kg = device->volume_m3 * hw_shell_material_density(device->material);
    device->mark = text.text, device->mark_height_m = height, device->mark_raised_m = raised;
    hw_scratch_end(tmp);
    return HW_OK;
}
