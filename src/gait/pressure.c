// SPDX-License-Identifier: GPL-3.0-or-later
// Plantar pressure: text to matrices, a print's regions, a film's forces.
#include "gait_internal.h"

#include <math.h>
#include <stdio.h>

enum { CELLS_MAX = 1 << 22, SIDE_MAX = 1024, FILM_FRAMES = 10 };

static const double loaded_Pa = 1e-9; // above: the file itself says what is unloaded

const char *hw_pressure_region_word(hw_pressure_region region)
{
    static const char *const words[] = {"heel", "midfoot", "forefoot", "toes"};
    return words[region];
}

static const struct {
    const char *word;
    double Pa;
} units[] = {{"kPa", 1e3}, {"N/cm2", 1e4}};

double hw_pressure_unit(const char *word)
{
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (strcmp(units[i].word, word) == 0) return units[i].Pa;
    return 0.0;
}

// -- the file

// What its comment lines say.
typedef struct said {
    double cell_m[2], Pa_per_unit;
} said;

// The text after `key` in the line; NULL where it is not there.
static const char *after(gait_cell line, const char *key)
{
    size_t length = strlen(key);
    for (size_t i = 0; i + length <= line.length; i++)
        if (memcmp(line.at + i, key, length) == 0) return line.at + i + length;
    return NULL;
}

// "cell 5 mm x 5 mm" and "N/cm2".
static void read_comment(gait_cell line, said *out)
{
    const char *cell = after(line, "cell ");
    const char *end = line.at + line.length;
    gait_cell words = {cell, cell ? (size_t)(end - cell) : 0}, word = {0};
    double number = 0.0;
    for (int k = 0; cell && k < 2; k++) {
        if (!gait_next_cell(&words, true, &word) || !gait_cell_number(word, &number) ||
            !gait_next_cell(&words, true, &word) || word.length < 2 ||
            memcmp(word.at, "mm", 2) != 0)
            break;
        out->cell_m[k] = hw_m_from_mm(number);
        gait_next_cell(&words, true, &word); // "x"
    }
    for (size_t i = 0; i < sizeof units / sizeof *units; i++)
        if (after(line, units[i].word)) out->Pa_per_unit = units[i].Pa;
}

static bool is_empty(gait_cell line)
{
    return gait_holds_only(line, " \t,;");
}

static bool has_separator(gait_cell line)
{
    return memchr(line.at, ',', line.length) || memchr(line.at, ';', line.length) ||
           memchr(line.at, '\t', line.length);
}

// One row's numbers; `out` may be NULL to count only.
static hw_status read_row(hw_job *job, gait_cell line, int number, double *out, int *count)
{
    gait_cell cell = {0};
    bool blanks = !has_separator(line);
    *count = 0;
    while (gait_next_cell(&line, blanks, &cell)) {
        double value = 0.0;
        if (!gait_cell_number(cell, &value))
            return hw_fail(job, HW_BAD_FORMAT, "line %d: '%.*s' is no pressure", number,
                           (int)(cell.length < 20 ? cell.length : 20), cell.at);
        if (fabs(value) > 1e9)
            return hw_fail(job, HW_BAD_FORMAT, "line %d: a pressure of %g cannot be", number,
                           value);
        if (*count >= SIDE_MAX)
            return hw_fail(job, HW_BAD_FORMAT, "line %d has more than %d cells", number, SIDE_MAX);
        if (out) out[*count] = value;
        ++*count;
    }
    return HW_OK;
}

// A first pass: how many rows, columns and frames, and what is said.
static hw_status look_through(hw_job *job, gait_text text, hw_pressure_map *out, said *told)
{
    gait_cell line = {0};
    int rows = 0, count = 0;
    while (gait_next_line(&text, &line)) {
        bool is_end = is_empty(line);
        if (line.length && line.at[0] == '#') {
            read_comment(line, told);
            continue;
        }
        if (!is_end) {
            HW_TRY(read_row(job, line, text.line, NULL, &count));
            if (out->columns == 0) out->columns = count;
            if (count != out->columns)
                return hw_fail(job, HW_BAD_FORMAT, "line %d has %d cells where the others have %d",
                               text.line, count, out->columns);
            rows++;
            continue;
        }
        if (rows == 0) continue;
        if (out->frames && rows != out->rows)
            return hw_fail(job, HW_BAD_FORMAT, "frame %d has %d rows where the others have %d",
                           out->frames + 1, rows, out->rows);
        out->rows = rows, rows = 0, out->frames++;
    }
    if (rows) {
        if (out->frames && rows != out->rows)
            return hw_fail(job, HW_BAD_FORMAT,
                           "the last frame has %d rows where the others have %d", rows, out->rows);
        out->rows = rows, out->frames++;
    }
    if (out->rows < 4 || out->columns < 3 || out->rows > SIDE_MAX ||
        (long)out->rows * out->columns > CELLS_MAX / (out->frames ? out->frames : 1))
        return hw_fail(job, HW_BAD_FORMAT, "%d frames of %d x %d cells are no foot's pressure",
                       out->frames, out->rows, out->columns);
    return HW_OK;
}

// What the file says and what the caller says must not differ.
static hw_status settle(hw_job *job, const char *what, double told, double asked, double *out)
{
    if (told > 0.0 && asked > 0.0 && fabs(told / asked - 1.0) > 1e-3)
        return hw_fail(job, HW_BAD_INPUT, "the file says %g for %s, and %g was given", told, what,
                       asked);
    *out = told > 0.0 ? told : asked;
    if (!(*out > 0.0))
        return hw_fail(job, HW_BAD_INPUT, "the file does not say %s; give it: nothing is guessed",
                       what);
    return HW_OK;
}

hw_status hw_pressure_read(hw_job *job, hw_bytes bytes, const hw_pressure_ask *ask, hw_arena *into,
                           hw_pressure_map *out)
{
    gait_text text = {(const char *)bytes.at, (const char *)bytes.at + bytes.count, 0};
    gait_cell line = {0};
    hw_pressure_map map = {.frame_s = ask->frame_s};
    said told = {0};
    double *Pa = NULL, per_unit = 0.0;
    HW_TRY(look_through(job, text, &map, &told));
    HW_TRY(settle(job, "the length of a cell, m", told.cell_m[0], ask->cell_m[0], &map.cell_m[0]));
    HW_TRY(settle(job, "the breadth of a cell, m", told.cell_m[1], ask->cell_m[1], &map.cell_m[1]));
    HW_TRY(settle(job, "the unit of pressure, Pa", told.Pa_per_unit, ask->Pa_per_unit, &per_unit));
    if (map.cell_m[0] < 1e-3 || map.cell_m[0] > 30e-3 || map.cell_m[1] < 1e-3 ||
        map.cell_m[1] > 30e-3)
        return hw_fail(job, HW_BAD_INPUT, "a cell of %g by %g mm is out of range, 1 to 30 mm",
                       hw_mm_from_m(map.cell_m[0]), hw_mm_from_m(map.cell_m[1]));
    size_t cells = (size_t)map.frames * (size_t)map.rows * (size_t)map.columns;
    HW_ALLOC(job, into, Pa, cells);
    for (size_t row = 0; row < cells / (size_t)map.columns && gait_next_line(&text, &line);) {
        int count = 0;
        if (is_empty(line) || line.at[0] == '#') continue;
        HW_TRY(read_row(job, line, text.line, Pa + row * (size_t)map.columns, &count));
        row++;
    }
    for (size_t i = 0; i < cells; i++) Pa[i] = Pa[i] > 0.0 ? Pa[i] * per_unit : 0.0;
    map.Pa = Pa;
    *out = map;
    return HW_OK;
}

// -- the print

// Highest pressure of each cell over all frames.
static void peaks(const hw_pressure_map *map, double *out)
{
    size_t cells = (size_t)map->rows * (size_t)map->columns;
    for (size_t i = 0; i < cells; i++)
        for (int f = 0; f < map->frames; f++) out[i] = fmax(out[i], map->Pa[(size_t)f * cells + i]);
}

typedef struct extent {
    int first_row, last_row, first_column, last_column;
} extent;

static bool find_extent(const hw_pressure_map *map, const double *peak, extent *out)
{
    int loaded = 0;
    *out = (extent){map->rows, -1, map->columns, -1};
    for (int i = 0; i < map->rows * map->columns; i++) {
        int row = i / map->columns, column = i % map->columns;
        if (peak[i] <= loaded_Pa) continue;
        if (row < out->first_row) out->first_row = row;
        if (row > out->last_row) out->last_row = row;
        if (column < out->first_column) out->first_column = column;
        if (column > out->last_column) out->last_column = column;
        loaded++;
    }
    return loaded >= 12 && out->last_row - out->first_row >= 6;
}

// Toes begin at the row with the least load between the ball's most loaded row and the tip: the
// ball lies between half and nine tenths of the print's length.
static int find_toes(const hw_pressure_map *map, const double *peak, const extent *of)
{
    double sums[SIDE_MAX] = {0};
    int length = of->last_row - of->first_row + 1;
    for (int i = 0; i < map->rows * map->columns; i++) sums[i / map->columns] += peak[i];
    int ball = of->first_row + length / 2;
    for (int row = ball; row < of->first_row + (9 * length) / 10; row++)
        if (sums[row] > sums[ball]) ball = row;
    int valley = of->last_row + 1;
    double least = sums[ball];
    // A tip only fades; toes rise again after the valley.
    for (int row = ball + 1; row < of->last_row; row++) {
        double above = 0.0;
        for (int r = row + 1; r <= of->last_row; r++) above = fmax(above, sums[r]);
        if (sums[row] < least && above > 1.1 * sums[row]) least = sums[row], valley = row;
    }
    return valley <= of->last_row ? valley + 1 : of->last_row + 1;
}

static void add_cell(hw_pressure_part *to, double Pa, double area)
{
    to->area_m2 += area;
    to->force_N += Pa * area;
    to->peak_Pa = fmax(to->peak_Pa, Pa);
}

static void end_part(hw_pressure_part *part)
{
    part->mean_Pa = part->area_m2 > 0.0 ? part->force_N / part->area_m2 : 0.0;
}

// A row's share in the thirds of the print without toes: the cut may run through a cell.
static double share_in(double row, double from, double to)
{
    double low = fmax(row, from), high = fmin(row + 1.0, to);
    return high > low ? high - low : 0.0;
}

hw_status hw_pressure_measure(hw_job *job, const hw_pressure_map *map, hw_arena *into,
                              hw_pressure_measures *out)
{
    hw_pressure_measures of = {0};
    extent at = {0};
    double *peak = NULL, cell = map->cell_m[0] * map->cell_m[1], moment[2] = {0};
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, peak, (size_t)map->rows * (size_t)map->columns);
    peaks(map, peak);
    if (!find_extent(map, peak, &at))
        return hw_fail(job, HW_NO_ANSWER, "too few cells are loaded to be a foot");
    of.toe_row = find_toes(map, peak, &at);
    double third = (of.toe_row - at.first_row) / 3.0;
    for (int i = 0; i < map->rows * map->columns; i++) {
        int row = i / map->columns;
        if (peak[i] <= loaded_Pa) continue;
        add_cell(&of.whole, peak[i], cell);
        moment[0] += peak[i] * row, moment[1] += peak[i] * (i % map->columns);
        if (row >= of.toe_row) add_cell(&of.part[HW_PRESSURE_TOES], peak[i], cell);
        for (int k = 0; row < of.toe_row && k < 3; k++) {
            double share = share_in(row, at.first_row + k * third, at.first_row + (k + 1) * third);
            if (share > 0.0) add_cell(&of.part[k], peak[i], share * cell);
        }
    }
    double without_toes = 0.0, sum = of.whole.force_N / cell;
    for (int k = 0; k < HW_PRESSURE_REGIONS; k++) end_part(&of.part[k]);
    for (int k = 0; k < 3; k++) without_toes += of.part[k].area_m2;
    end_part(&of.whole);
    of.arch_index = of.part[HW_PRESSURE_MIDFOOT].area_m2 / without_toes;
    of.length_m = (at.last_row - at.first_row + 1) * map->cell_m[0];
    of.breadth_m = (at.last_column - at.first_column + 1) * map->cell_m[1];
    of.pressure_row = moment[0] / sum, of.pressure_column = moment[1] / sum;
    hw_scratch_end(tmp);
    *out = of;
    return HW_OK;
}

// -- the film

static void sum_frame(const hw_pressure_map *map, int frame, double *force, double *row)
{
    size_t cells = (size_t)map->rows * (size_t)map->columns;
    const double *Pa = map->Pa + (size_t)frame * cells;
    double sum = 0.0, moment = 0.0;
    for (size_t i = 0; i < cells; i++)
        sum += Pa[i], moment += Pa[i] * ((double)(i / (size_t)map->columns) + 0.5);
    *force = sum * map->cell_m[0] * map->cell_m[1];
    *row = sum > 0.0 ? moment / sum : 0.0;
}

// The longest run of frames with a foot on the plate.
static hw_status find_loaded(hw_job *job, const double *force, const hw_pressure_map *map,
                             int *first, int *count)
{
    int run = 0;
    *count = 0;
    for (int f = 0; f < map->frames; f++) {
        run = force[f] > GAIT_LOADED_N ? run + 1 : 0;
        if (run > *count) *count = run, *first = f - run + 1;
    }
    double lasts = (*count - 1) * map->frame_s;
    if (*count >= FILM_FRAMES && lasts >= GAIT_SHORTEST_S && lasts <= GAIT_LONGEST_S) return HW_OK;
    return hw_fail(job, HW_BAD_INPUT,
                   "the film is loaded above %.0f N for %.2f s in %d frames; a step lasts %.2f to "
                   "%.0f s, and %d frames or "
                   "more are needed of it",
                   GAIT_LOADED_N, fmax(lasts, 0.0), *count, GAIT_SHORTEST_S, GAIT_LONGEST_S,
                   FILM_FRAMES);
}

// Force in body weights and place in foot lengths, between the frames of the run.
static void resample(const double *force, const double *row, int count, double weight_N,
                     const extent *print, hw_gait_stance *out)
{
    for (int i = 0; i < HW_GAIT_INSTANTS; i++) {
        double place = (double)i / (HW_GAIT_INSTANTS - 1) * (count - 1);
        int f = place >= count - 1 ? count - 2 : (int)place;
        double share = place - f;
        out->force_z[i] = (force[f] + share * (force[f + 1] - force[f])) / weight_N;
        out->pressure_x[i] = (row[f] + share * (row[f + 1] - row[f]) - print->first_row) /
                             (print->last_row - print->first_row + 1);
    }
}

hw_status hw_pressure_stance(hw_job *job, const hw_pressure_map *map, double mass_kg,
                             hw_arena *into, hw_gait_stance *out)
{
    hw_gait_stance stance = {.has_force = true, .has_pressure = true};
    double mean = 0.0;
    hw_pressure_measures of = {0};
    extent at = {0};
    double *peak = NULL, *row = NULL, *force = NULL;
    int first = 0, count = 0;
    if (map->frames < FILM_FRAMES || !(map->frame_s > 0.0))
        return hw_fail(job, HW_BAD_INPUT,
                       "%d frame%s: forces through a step need a film of ten frames or more and "
                       "the time between "
                       "them",
                       map->frames, map->frames == 1 ? "" : "s");
    if (!(mass_kg >= 10.0 && mass_kg <= 300.0))
        return hw_fail(job, HW_BAD_INPUT, "a body mass of %g kg is out of range, 10 to 300 kg",
                       mass_kg);
    HW_TRY(hw_pressure_measure(job, map, into, &of));
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_ALLOC(job, tmp.arena, peak, (size_t)map->rows * (size_t)map->columns);
    HW_ALLOC(job, tmp.arena, row, map->frames);
    HW_ALLOC(job, tmp.arena, force, map->frames);
    peaks(map, peak);
    find_extent(map, peak, &at);
    for (int f = 0; f < map->frames; f++) sum_frame(map, f, &force[f], &row[f]);
    HW_TRY(find_loaded(job, force, map, &first, &count));
    resample(force + first, row + first, count, mass_kg * HW_STANDARD_GRAVITY, &at, &stance);
    for (int i = 0; i < HW_GAIT_INSTANTS; i++) mean += stance.force_z[i] / HW_GAIT_INSTANTS;
    if (!(mean > 0.45 && mean < 1.6))
        return hw_fail(
            job, HW_BAD_INPUT,
            "the film's mean force is %.2f body weights of %g kg: mass, unit or cell is wrong",
            mean, mass_kg);
    stance.begin_s = first * map->frame_s;
    stance.end_s = (first + count - 1) * map->frame_s;
    stance.impulse_bw_s = mean * (stance.end_s - stance.begin_s);
    hw_scratch_end(tmp);
    *out = stance;
    return HW_OK;
}
