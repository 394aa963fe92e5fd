// SPDX-License-Identifier: GPL-3.0-or-later
// The search for a better device. Designs spread over the terms' ranges are shaped and pressed; smooth
// surfaces through what came of them are climbed for the best bargain at each of many pressures; what
// they promise is shaped and pressed in turn. What nothing beats is the trade-off, solved finally.
#include "app/app_internal.h"

#include <math.h>
#include <string.h>

enum {
    EVALUATIONS = 180,
    ROUNDS = 5,   // of climbing
    AT_ONCE = 60, // designs of one assessment of the load: HW_MECH_CHANGES
    LOOKS = 900,  // at the surfaces, per climb
    AROUND = 40,  // designs that say what is usual around one
    OUTPUTS = 3 + HW_SEARCH_LIMITS,
    RELIEF = OUTPUTS - 1, // among them the last
};

static const size_t room_bytes = (size_t)1 << 30, device_bytes = (size_t)128 << 20;
static const double same = 0.012;       // of a range: two designs so near are one
static const double final_slack = 0.25; // of the arch's pressure between preview and final

// Everything one search works with.
typedef struct seeker {
    hw_job *job;
    hw_arena *into;
    const hw_visit *visit;
    const hw_report_foot *foot;
    const hw_mech_subject *subject;
    double mass_kg;
    hw_search *out;
    hw_search_design *designs;         // HW_SEARCH_EVERY
    double (*places)[HW_SEARCH_TERMS]; // of them, 0..1
    int count;
    int next_halton;
} seeker;

double app_orderable(hw_order_term term, double value)
{
    const hw_order_row *row = &hw_order_rows()[term];
    if (!row->zero_is_none || value <= 0.0 || value >= row->low) return value;
    return value < 0.5 * row->low ? 0.0 : row->low;
}

static void place_to_values(const hw_search *of, const double *place, double *values)
{
    for (int k = 0; k < of->term_count; k++)
        values[k] = app_orderable(of->terms[k], of->low[k] + place[k] * (of->high[k] - of->low[k]));
}

static hw_orthosis_order order_of(const seeker *of, const hw_search_design *design)
{
    hw_orthosis_order order = *of->foot->order;
    for (int k = 0; k < of->out->term_count; k++)
        hw_order_set(&order, of->out->terms[k], design->value[k]);
    return order;
}

// -- one design shaped and pressed, on a thread of its own

typedef struct trial {
    const seeker *of;
    hw_search_design *design;
    hw_arena *into; // while it is tried: holds the device
    hw_orthosis device;
    hw_press_effort effort;
    double arch_bw; // what the foot model puts on the arch; 0 at first
    hw_mech_change change;
    hw_search_numbers numbers;
    bool is_solved;
    hw_status status;
    char why[240];
} trial;

static void read_numbers(trial *mine, const hw_orthosis_order *order, const hw_orthosis *device,
                         const hw_press *press)
{
    const hw_press_answer *walk = &press->at[HW_PRESS_MIDSTANCE];
    hw_search_numbers *to = &mine->numbers;
    to->arch_peak_Pa = walk->part[HW_PRESS_ARCH].peak_Pa;
    to->held[HW_SEARCH_ARCH_MEAN] = walk->part[HW_PRESS_ARCH].mean_Pa;
    to->held[HW_SEARCH_HEEL_PEAK] = walk->part[HW_PRESS_HEEL].peak_Pa;
    to->held[HW_SEARCH_LATERAL_PEAK] = walk->part[HW_PRESS_LATERAL].peak_Pa;
    to->held[HW_SEARCH_EDGE_PEAK] = walk->part[HW_PRESS_EDGE].peak_Pa;
    to->held[HW_SEARCH_STRESS] = walk->von_mises_Pa;
    to->held[HW_SEARCH_STACK] = device->heel_stack_m + order->cover_thickness_m;
    to->shell_N_per_m = press->shell_N_per_m;
    mine->change = app_change_of("design", order, press);
    mine->is_solved = true;
}

// The second time the device stands already.
static hw_status try_design(hw_job *job, trial *mine)
{
    const hw_foot *foot = &mine->of->foot->scan->foot;
    hw_orthosis_order order = order_of(mine->of, mine->design);
    hw_press_ask ask = {.mass_kg = mine->of->mass_kg,
                        .effort = mine->arch_bw > 0.0 ? mine->effort : HW_PRESS_PREVIEW,
                        .arch_bw = mine->arch_bw};
    hw_press press = {0};
    if (!mine->device.top) HW_TRY(hw_orthosis_build(job, foot, &order, mine->into, &mine->device));
    HW_TRY(hw_orthosis_press(job, foot, &mine->device, &ask, mine->into, &press));
    read_numbers(mine, &order, &mine->device, &press);
    return HW_OK;
}

// What failed once is not tried again.
static void try_in_room(void *with, int index)
{
    trial *mine = (trial *)with + index;
    const hw_job *outer = mine->of->job;
    hw_job job;
    mine->is_solved = false;
    if (mine->why[0]) return;
    mine->status = HW_NO_MEMORY;
    if (!mine->into) mine->into = hw_arena_new(device_bytes);
    if (!mine->into || hw_job_open(&job, room_bytes) != HW_OK) return;
    job.cancelled = outer->cancelled, job.user = outer->user;
    mine->status = try_design(&job, mine);
    if (mine->status != HW_OK) memcpy(mine->why, job.why, sizeof mine->why);
    hw_job_close(&job);
}

static void leave_rooms(trial *trials, int count)
{
    for (int i = 0; i < count; i++) hw_arena_free(trials[i].into);
}

static const char *over_words(const hw_search *of, const hw_search_numbers *numbers)
{
    for (int i = 0; i < HW_SEARCH_LIMITS; i++)
        if (numbers->held[i] > of->limits[i]) return hw_search_limit_word((hw_search_limit)i);
    return NULL;
}

// The load's change under each design that was solved, all at once.
static hw_status assess(const seeker *of, trial *trials, int count)
{
    hw_mech_change changes[AT_ONCE];
    int from[AT_ONCE], solved = 0;
    hw_mech_result load = {0};
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    for (int i = 0; i < count; i++)
        if (trials[i].is_solved) changes[solved] = trials[i].change, from[solved++] = i;
    if (solved > 0) HW_TRY(hw_mech_assess(of->job, of->subject, changes, solved, tmp.arena, &load));
    for (int i = 0; i < solved; i++) {
        hw_band relief = load.effects[i].midstance.change;
        hw_band borne = load.effects[i].device_bw;
        trials[from[i]].numbers.relief = relief;
        trials[from[i]].arch_bw = fmin(1.0, fmax(0.01, borne.median));
        if (!relief.known || !borne.known) trials[from[i]].is_solved = false;
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

// Shapes, presses and assesses `count` designs in full or in a hurry. Designs that cannot be made stay
// NOT_MADE with the reason; only a stop and a lack of memory end the search.
static hw_status press_all(const seeker *of, trial *trials, int count)
{
    HW_TRY(hw_job_ask(of->job));
    hw_parallel(count, try_in_room, trials);
    for (int i = 0; i < count; i++) {
        if (trials[i].status == HW_CANCELLED) return hw_job_ask(of->job);
        if (trials[i].status == HW_NO_MEMORY)
            return hw_fail(of->job, HW_NO_MEMORY, "no memory for the search");
    }
    return HW_OK;
}

// First under the arch's usual load, whose stiffness tells the foot model how much the arch really puts
// on this device; then under that.
static hw_status try_twice(const seeker *of, trial *trials, int count)
{
    HW_TRY(press_all(of, trials, count));
    HW_TRY(assess(of, trials, count));
    HW_TRY(press_all(of, trials, count));
    return assess(of, trials, count);
}

static hw_status try_all(const seeker *of, trial *trials, int count)
{
    hw_status status = try_twice(of, trials, count);
    leave_rooms(trials, count);
    return status;
}

static hw_status keep_preview(const seeker *of, trial *mine)
{
    hw_search_design *design = mine->design;
    if (!mine->is_solved)
        return hw_text_copy(of->job, of->into, mine->why[0] ? mine->why : "its load is not known",
                            &design->why);
    design->preview = mine->numbers;
    const char *over = over_words(of->out, &mine->numbers);
    design->state = over ? HW_SEARCH_OVER : HW_SEARCH_POSSIBLE;
    design->why = over ? over : "";
    return HW_OK;
}

// Designs first..first+count-1 of the list, at most AT_ONCE.
static hw_status try_listed(seeker *of, int first, int count)
{
    trial *trials = NULL;
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    HW_ALLOC(of->job, tmp.arena, trials, count + 1);
    for (int i = 0; i < count; i++)
        trials[i] = (trial){.of = of, .design = &of->designs[first + i]};
    HW_TRY(try_all(of, trials, count));
    for (int i = 0; i < count; i++) HW_TRY(keep_preview(of, &trials[i]));
    hw_scratch_end(tmp);
    return HW_OK;
}

// -- where to look next

static bool is_new(const seeker *of, const double *place)
{
    for (int i = 0; i < of->count; i++) {
        double apart = 0.0;
        for (int k = 0; k < of->out->term_count; k++)
            apart = fmax(apart, fabs(place[k] - of->places[i][k]));
        if (apart < same) return false;
    }
    return true;
}

static void add_place(seeker *of, const double *place)
{
    hw_search_design *design = &of->designs[of->count];
    *design = (hw_search_design){.why = "", .binds = ""};
    memcpy(of->places[of->count], place, sizeof of->places[0]);
    place_to_values(of->out, place, design->value);
    of->count++;
}

static void add_spread(seeker *of, int wanted)
{
    double place[HW_SEARCH_TERMS] = {0};
    for (int tries = 0; wanted > 0 && tries < 10 * HW_SEARCH_EVERY; tries++) {
        hw_halton(of->next_halton++, of->out->term_count, place);
        if (!is_new(of, place)) continue;
        add_place(of, place);
        wanted--;
    }
}

// The corners of the box: there the trade-off ends.
static void add_corners(seeker *of)
{
    double place[HW_SEARCH_TERMS] = {0};
    int terms = of->out->term_count, most = terms > 4 ? 4 : terms;
    for (int corner = 0; corner < 1 << most; corner++) {
        for (int k = 0; k < terms; k++) place[k] = k < most ? (double)(corner >> k & 1) : 0.5;
        if (is_new(of, place)) add_place(of, place);
    }
}

// What relief usually costs. Most designs lie near one curve of relief against pressure: what a term does to
// the shell's stiffness moves them along it, and wavers with every edge of the device; what makes one design
// a better bargain than another is small beside that, and smooth. So the curve is drawn through the
// neighbours, and surfaces are fitted to how far beside it a design lies. `along` grows with relief and
// pressure, `beside` with pressure and falls with relief: each is measured in its range over all designs.
typedef struct usual {
    double low_peak, peaks; // log Pa: least, and from there to the most
    double low_relief, reliefs;
    double *along, *beside; // of `count` designs that were made
    int count;
} usual;

static void set_along_beside(const usual *of, const hw_search_numbers *numbers, double *along,
                             double *beside)
{
    double peak = (log(numbers->arch_peak_Pa) - of->low_peak) / of->peaks;
    double relief = (-numbers->relief.p95 - of->low_relief) / of->reliefs;
    *along = peak + relief, *beside = peak - relief;
}

static hw_status draw_usual(const seeker *of, hw_arena *into, usual *out)
{
    double high_peak = -INFINITY, high_relief = -INFINITY;
    usual curve = {.low_peak = INFINITY, .low_relief = INFINITY};
    HW_ALLOC(of->job, into, curve.along, of->count + 1);
    HW_ALLOC(of->job, into, curve.beside, of->count + 1);
    for (int i = 0; i < of->count; i++) {
        if (of->designs[i].state == HW_SEARCH_NOT_MADE) continue;
        const hw_search_numbers *at = &of->designs[i].preview;
        curve.low_peak = fmin(curve.low_peak, log(at->arch_peak_Pa));
        high_peak = fmax(high_peak, log(at->arch_peak_Pa));
        curve.low_relief = fmin(curve.low_relief, -at->relief.p95);
        high_relief = fmax(high_relief, -at->relief.p95);
    }
    curve.peaks = fmax(1e-6, high_peak - curve.low_peak);
    curve.reliefs = fmax(1e-6, high_relief - curve.low_relief);
    for (int i = 0; i < of->count; i++)
        if (of->designs[i].state != HW_SEARCH_NOT_MADE) {
            set_along_beside(&curve, &of->designs[i].preview, &curve.along[curve.count],
                             &curve.beside[curve.count]);
            curve.count++;
        }
    *out = curve;
    return HW_OK;
}

// How far its AROUND-th neighbour along the curve lies.
static double reach_of(const usual *of, double along)
{
    double nearest[AROUND];
    int count = 0;
    for (int i = 0; i < of->count; i++) {
        double away = fabs(of->along[i] - along);
        if (count == AROUND && away >= nearest[count - 1]) continue;
        int at = count < AROUND ? count++ : count - 1;
        for (; at > 0 && nearest[at - 1] > away; at--) nearest[at] = nearest[at - 1];
        nearest[at] = away;
    }
    return count > 0 ? nearest[count - 1] : 0.0;
}

// How far beside the curve a design lies, less is better. The curve is a line through the neighbours, the
// nearest weighing most.
//
//   source  from memory: Cleveland 1979 (locally weighted regression)
static double bargain_of(const usual *of, const hw_search_numbers *numbers)
{
    double along, beside, weights = 0.0, x = 0.0, xx = 0.0, y = 0.0, xy = 0.0;
    set_along_beside(of, numbers, &along, &beside);
    double reach = 1.001 * reach_of(of, along) + 1e-9;
    for (int i = 0; i < of->count; i++) {
        double dx = of->along[i] - along, away = fabs(dx) / reach;
        if (away >= 1.0) continue;
        double weight = pow(1.0 - away * away * away, 3.0);
        weights += weight, x += weight * dx, xx += weight * dx * dx;
        y += weight * of->beside[i], xy += weight * dx * of->beside[i];
    }
    double spread = weights * xx - x * x;
    if (!(spread > 1e-9 * weights * weights * reach * reach))
        return weights > 0.0 ? beside - y / weights : 0.0;
    return beside - (xx * y - x * xy) / spread;
}

// Slices of the pressures seek bargains; the ends of the trade-off lie beyond them.
typedef enum aim { BEST_BARGAIN, MOST_RELIEF, LEAST_PRESSURE } aim;

// Surfaces through what was solved: the bargain, the arch's pressure, all that is held, and the relief.
typedef struct promise {
    aim aim;
    const hw_search *of;
    hw_surface surfaces[OUTPUTS];
    double log_peak, within; // the pressures among which the best bargain is sought
} promise;

static double output_of(const usual *curve, const hw_search_numbers *numbers, int which)
{
    if (which == 0) return bargain_of(curve, numbers);
    if (which == RELIEF) return -numbers->relief.p95 / curve->reliefs;
    double value = which == 1 ? numbers->arch_peak_Pa : numbers->held[which - 2];
    return log(fmax(1e-6, value));
}

static hw_status fit_promise(const seeker *of, hw_arena *into, promise *out)
{
    double *x = NULL, *y = NULL;
    usual curve = {0};
    int dims = of->out->term_count, count = 0;
    HW_TRY(draw_usual(of, into, &curve));
    HW_ALLOC(of->job, into, x, (of->count + 1) * dims);
    HW_ALLOC(of->job, into, y, of->count + 1);
    for (int which = 0; which < OUTPUTS; which++) {
        count = 0;
        for (int i = 0; i < of->count; i++) {
            if (of->designs[i].state == HW_SEARCH_NOT_MADE) continue;
            for (int k = 0; k < dims; k++) x[count * dims + k] = of->places[i][k];
            y[count++] = output_of(&curve, &of->designs[i].preview, which);
        }
        HW_TRY(hw_surface_fit(of->job, x, y, count, dims, into, &out->surfaces[which]));
    }
    out->of = of->out;
    return HW_OK;
}

// What is aimed at less a stiff penalty for each limit that would be broken, and of a bargain for another
// pressure.
static double promised(void *user, const double *place)
{
    const promise *of = user;
    double height = of->aim == MOST_RELIEF      ? hw_surface_at(&of->surfaces[RELIEF], place)
                    : of->aim == LEAST_PRESSURE ? -hw_surface_at(&of->surfaces[1], place)
                                                : -hw_surface_at(&of->surfaces[0], place);
    double broken = 0.0;
    if (of->aim == BEST_BARGAIN) {
        double off = fabs(hw_surface_at(&of->surfaces[1], place) - of->log_peak);
        broken = fmax(0.0, off - of->within);
    }
    for (int i = 0; i < HW_SEARCH_LIMITS; i++)
        if (isfinite(of->of->limits[i]))
            broken +=
                fmax(0.0, hw_surface_at(&of->surfaces[2 + i], place) - log(of->of->limits[i]));
    return height - 10.0 * broken;
}

// From gentle to hard: the pressures between which bargains are sought.
static void peak_range(const seeker *of, double *low, double *high)
{
    *low = INFINITY, *high = -INFINITY;
    for (int i = 0; i < of->count; i++) {
        double peak = log(of->designs[i].preview.arch_peak_Pa);
        if (of->designs[i].state != HW_SEARCH_POSSIBLE) continue;
        *low = fmin(*low, peak), *high = fmax(*high, peak);
    }
}

// Climbs, and adds where the climb ends if nothing stands there yet.
static void add_climbed(seeker *of, promise *hope)
{
    double place[HW_SEARCH_TERMS] = {0}, height = 0.0;
    hw_climb climb = {promised, hope, of->out->term_count, LOOKS};
    if (hw_climb_box(of->job, &climb, place, &height) == HW_OK && is_new(of, place))
        add_place(of, place);
}

// Both ends of the trade-off, and in each slice of the pressures the best bargain; other slices each round.
static hw_status add_promised(seeker *of, int round, int wanted)
{
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    promise *hope = NULL;
    double low = 0.0, high = 0.0;
    double shift = fmod(0.5 + 0.618 * round, 1.0);
    HW_ALLOC(of->job, tmp.arena, hope, 1);
    HW_TRY(fit_promise(of, tmp.arena, hope));
    peak_range(of, &low, &high);
    int slices = wanted > 2 ? wanted - 2 : wanted;
    hope->within = 0.5 * (high - low + 0.04) / slices;
    for (int i = 0; i < wanted && low <= high; i++) {
        HW_TRY(hw_job_ask(of->job));
        hope->aim = i < slices ? BEST_BARGAIN : i == slices ? MOST_RELIEF : LEAST_PRESSURE;
        hope->log_peak = low - 0.02 + (high - low + 0.04) * (i + shift) / slices;
        add_climbed(of, hope);
    }
    hw_scratch_end(tmp);
    return HW_OK;
}

// -- the trade-off

static bool beats(const hw_search_numbers *a, const hw_search_numbers *b)
{
    return a->arch_peak_Pa <= b->arch_peak_Pa && a->relief.p95 <= b->relief.p95 &&
           (a->arch_peak_Pa < b->arch_peak_Pa || a->relief.p95 < b->relief.p95);
}

// Indices of possible designs that no other beats, by pressure.
static int find_front(const seeker *of, int *front)
{
    int count = 0;
    for (int i = 0; i < of->count; i++) {
        bool stands = of->designs[i].state == HW_SEARCH_POSSIBLE;
        for (int j = 0; stands && j < of->count; j++)
            stands = of->designs[j].state != HW_SEARCH_POSSIBLE ||
                     !beats(&of->designs[j].preview, &of->designs[i].preview);
        if (!stands) continue;
        int at = count++;
        while (at > 0 && of->designs[front[at - 1]].preview.arch_peak_Pa >
                             of->designs[i].preview.arch_peak_Pa) {
            front[at] = front[at - 1];
            at--;
        }
        front[at] = i;
    }
    return count;
}

// Area between the trade-off and no relief at 600 kPa, in kPa: what a better search makes larger.
static double volume_of(const seeker *of, const int *front, int count)
{
    double volume = 0.0;
    for (int i = 0; i < count; i++) {
        double from = of->designs[front[i]].preview.arch_peak_Pa;
        double to = i + 1 < count ? of->designs[front[i + 1]].preview.arch_peak_Pa : 600e3;
        volume += fmax(0.0, to - from) * fmax(0.0, -of->designs[front[i]].preview.relief.p95);
    }
    return hw_kPa_from_Pa(volume);
}

// The best bargain that is not kept yet among those with a log pressure of low..high; -1: none.
static int best_between(const seeker *of, const usual *curve, const int *front, const bool *kept,
                        int count, double low, double high)
{
    int best = -1;
    double least = INFINITY;
    for (int i = 0; i < count; i++) {
        const hw_search_numbers *at = &of->designs[front[i]].preview;
        double peak = log(at->arch_peak_Pa), bargain = bargain_of(curve, at);
        if (kept[i] || peak < low || peak > high || bargain >= least) continue;
        least = bargain, best = i;
    }
    return best;
}

// Leaves out what a chart does not hold. The ends stay, and in each slice of the pressures the best
// bargain: the others are those a longer search would beat first.
static hw_status thin(const seeker *of, int *front, int *count)
{
    enum { SLICES = HW_SEARCH_FRONT - 2 };
    usual curve = {0};
    bool *kept = NULL;
    if (*count <= HW_SEARCH_FRONT) return HW_OK;
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    HW_TRY(draw_usual(of, tmp.arena, &curve));
    HW_ALLOC(of->job, tmp.arena, kept, *count);
    double low = log(of->designs[front[0]].preview.arch_peak_Pa);
    double high = log(of->designs[front[*count - 1]].preview.arch_peak_Pa);
    int full = 2, next = 0;
    kept[0] = kept[*count - 1] = true;
    for (int slice = 0; slice < SLICES; slice++) {
        double from = low + (high - low) * slice / SLICES, to = from + (high - low) / SLICES;
        int best = best_between(of, &curve, front, kept, *count, from, to);
        if (best >= 0) kept[best] = true, full++;
    }
    for (; full < HW_SEARCH_FRONT; full++) // where a slice was empty
        kept[best_between(of, &curve, front, kept, *count, low, high)] = true;
    for (int i = 0; i < *count; i++)
        if (kept[i]) front[next++] = front[i];
    *count = next;
    hw_scratch_end(tmp);
    return HW_OK;
}

// Which limit or end of a range stands in the way of more relief.
static hw_status say_binds(const seeker *of, hw_search_design *design)
{
    const double near = 0.97;
    const char *text = "";
    const hw_search *search = of->out;
    for (int i = 0; i < HW_SEARCH_LIMITS; i++)
        if (design->preview.held[i] > near * search->limits[i])
            HW_TRY(hw_text_format(of->job, of->into, &text, "%s%s%s", text, text[0] ? "; " : "",
                                  hw_search_limit_word((hw_search_limit)i)));
    for (int k = 0; k < search->term_count; k++) {
        double share = (design->value[k] - search->low[k]) / (search->high[k] - search->low[k]);
        if (share > 0.01 && share < 0.99) continue;
        HW_TRY(hw_text_format(of->job, of->into, &text, "%s%s%s at its %s", text,
                              text[0] ? "; " : "", hw_order_rows()[search->terms[k]].name,
                              share < 0.5 ? "least" : "most"));
    }
    design->binds = text;
    return HW_OK;
}

// What the final solve says to a design of the front.
static void keep_final(seeker *of, trial *mine)
{
    hw_search_design *design = mine->design;
    design->final = mine->numbers;
    design->state = HW_SEARCH_DROPPED;
    const char *over = over_words(of->out, &mine->numbers);
    design->is_final = mine->is_solved;
    double shift = mine->numbers.arch_peak_Pa / design->preview.arch_peak_Pa - 1.0;
    if (!mine->is_solved)
        design->why = "the final solve did not settle";
    else if (over)
        design->why = over;
    else if (fabs(shift) > final_slack)
        design->why = "finally solved, the arch's pressure is another";
    else
        design->state = HW_SEARCH_CONFIRMED, design->why = "";
}

static void drop_beaten(hw_search *of)
{
    for (int i = 0; i < of->front_count; i++)
        for (int j = 0; j < of->front_count; j++)
            if (of->front[i].state == HW_SEARCH_CONFIRMED && i != j &&
                of->front[j].state == HW_SEARCH_CONFIRMED &&
                beats(&of->front[j].final, &of->front[i].final)) {
                of->front[i].state = HW_SEARCH_DROPPED;
                of->front[i].why = "finally solved, another design of the front is better";
            }
}

// The order as it stands is drawn beside the front: by the same solve.
static hw_status solve_now_finally(const seeker *of)
{
    hw_search_design *now = &of->out->now;
    trial mine = {.of = of, .design = now, .effort = HW_PRESS_FINAL_STANCE};
    if (now->state == HW_SEARCH_NOT_MADE) return HW_OK;
    HW_TRY(try_all(of, &mine, 1));
    if (!mine.is_solved) return HW_OK;
    const char *over = over_words(of->out, &mine.numbers);
    now->final = mine.numbers, now->is_final = true;
    now->state = over ? HW_SEARCH_OVER : HW_SEARCH_POSSIBLE;
    now->why = over ? over : "";
    return HW_OK;
}

// Solves the front finally, a few at a time so that it can be stopped and tells how far it is.
static hw_status solve_finally(seeker *of)
{
    enum { BATCH = 4 };
    hw_search *search = of->out;
    double shifts = 0.0;
    int solved = 0;
    for (int first = 0; first < search->front_count; first += BATCH) {
        trial trials[BATCH] = {0};
        int count = search->front_count - first < BATCH ? search->front_count - first : BATCH;
        hw_job_tell(of->job, 0.5 + 0.5 * first / search->front_count,
                    "solving the trade-off finally");
        for (int i = 0; i < count; i++)
            trials[i] = (trial){
                .of = of, .design = &search->front[first + i], .effort = HW_PRESS_FINAL_STANCE};
        HW_TRY(try_all(of, trials, count));
        for (int i = 0; i < count; i++) keep_final(of, &trials[i]);
    }
    drop_beaten(search);
    HW_TRY(solve_now_finally(of));
    for (int i = 0; i < search->front_count; i++) {
        const hw_search_design *design = &search->front[i];
        search->confirmed_count += design->state == HW_SEARCH_CONFIRMED;
        if (!design->is_final) continue;
        shifts += design->final.arch_peak_Pa / design->preview.arch_peak_Pa - 1.0;
        solved++;
    }
    if (solved > 0) search->final_bias = shifts / solved;
    return HW_OK;
}

// -- what is asked

static const hw_order_term usual_terms[] = {HW_TERM_THICKNESS, HW_TERM_ARCH_FILL, HW_TERM_HEEL_CUP};

// Pad and cover have a kind, which is not varied: with one there is no zero, without one nothing to vary.
static hw_status check_kind(hw_job *job, hw_order_term term, const hw_orthosis_order *order,
                            bool *has_kind)
{
    bool is_pad = term == HW_TERM_MET_HEIGHT, is_cover = term == HW_TERM_COVER;
    *has_kind = is_pad || is_cover;
    if ((is_pad && order->met_pad == HW_MET_NONE) || (is_cover && order->cover == HW_COVER_NONE))
        return hw_fail(job, HW_BAD_INPUT,
                       "%s: order its kind first; a search varies how much of it",
                       hw_order_rows()[term].name);
    return HW_OK;
}

static bool is_varied(const hw_search *of, hw_order_term term)
{
    for (int k = 0; k < of->term_count; k++)
        if (of->terms[k] == term) return true;
    return false;
}

static hw_status set_ranges(hw_job *job, const hw_search_ask *ask, const hw_orthosis_order *order,
                            hw_search *out)
{
    const hw_shell_row *shell = hw_shell_row_of(order->material);
    out->term_count = ask->term_count ? ask->term_count : 3;
    if (out->term_count > HW_SEARCH_TERMS)
        return hw_fail(job, HW_BAD_INPUT, "%d terms: at most %d can be varied", out->term_count,
                       HW_SEARCH_TERMS);
    for (int k = 0; k < out->term_count; k++)
        out->terms[k] = ask->term_count ? ask->terms[k] : usual_terms[k];
    for (int k = 0; k < out->term_count; k++) {
        hw_order_term term = out->terms[k];
        const hw_order_row *row = &hw_order_rows()[term];
        bool has_kind = false;
        HW_TRY(check_kind(job, term, order, &has_kind));
        out->low[k] = row->zero_is_none && !has_kind ? fmin(0.0, row->low) : row->low;
        out->high[k] = row->high;
        if (term == HW_TERM_THICKNESS)
            out->low[k] = shell->thinnest, out->high[k] = shell->thickest;
        // the arch stays within -6..0 mm of the scanned one unless the clinician widens it
        if (term == HW_TERM_ARCH_FILL)
            out->high[k] = ask->widest_fill_m > 0.0 ? ask->widest_fill_m : 0.006;
        // a skive needs its cup
        if (term == HW_TERM_HEEL_CUP) {
            bool has_skive = order->skive_depth_m > 0.0 || is_varied(out, HW_TERM_SKIVE);
            out->low[k] = has_skive ? 0.014 : 0.010;
            out->high[k] = 0.022;
        }
    }
    return HW_OK;
}

static void set_limits(const hw_orthosis_order *order, hw_search *out)
{
    double yields = hw_shell_row_of(order->material)->yields;
    out->limits[HW_SEARCH_ARCH_MEAN] = hw_press_limit_of(HW_PRESS_ARCH).mean_high;
    out->limits[HW_SEARCH_HEEL_PEAK] = hw_press_limit_of(HW_PRESS_HEEL).peak_low;
    out->limits[HW_SEARCH_LATERAL_PEAK] = hw_press_limit_of(HW_PRESS_LATERAL).peak_low;
    out->limits[HW_SEARCH_EDGE_PEAK] = hw_press_limit_of(HW_PRESS_EDGE).peak_low;
    out->limits[HW_SEARCH_STRESS] = yields > 0.0 ? 0.5 * yields : INFINITY;
    out->limits[HW_SEARCH_STACK] = hw_orthosis_stack_limit(order);
}

static hw_status try_now(seeker *of)
{
    hw_search_design *now = &of->out->now;
    trial mine = {.of = of, .design = now};
    *now = (hw_search_design){.why = "", .binds = ""};
    for (int k = 0; k < of->out->term_count; k++)
        now->value[k] = hw_order_value(of->foot->order, of->out->terms[k]);
    HW_TRY(try_all(of, &mine, 1));
    return keep_preview(of, &mine);
}

static hw_status look_around(seeker *of, int evaluations)
{
    add_corners(of);
    add_spread(of, evaluations * 2 / 5 - of->count);
    for (int round = 0, tried = 0; round <= ROUNDS; round++) {
        hw_job_tell(of->job, 0.5 * round / (ROUNDS + 1), "trying designs");
        while (tried < of->count) {
            int count = of->count - tried < AT_ONCE ? of->count - tried : AT_ONCE;
            HW_TRY(try_listed(of, tried, count));
            tried += count;
        }
        int left = (evaluations - of->count) / (ROUNDS - round + (round == ROUNDS));
        if (round < ROUNDS && left > 0) HW_TRY(add_promised(of, round, left));
    }
    return HW_OK;
}

static hw_status keep_front(seeker *of)
{
    int *front = NULL;
    hw_search *search = of->out;
    hw_scratch tmp = hw_scratch_begin(of->job, of->into);
    HW_ALLOC(of->job, tmp.arena, front, HW_SEARCH_EVERY);
    int count = find_front(of, front);
    search->volume = volume_of(of, front, count);
    search->looked_at = of->count;
    for (int i = 0; i < of->count; i++)
        search->possible += of->designs[i].state == HW_SEARCH_POSSIBLE;
    HW_TRY(thin(of, front, &count));
    search->front_count = count;
    for (int i = 0; i < search->front_count; i++) {
        search->front[i] = of->designs[front[i]];
        HW_TRY(say_binds(of, &search->front[i]));
    }
    hw_scratch_end(tmp);
    if (search->front_count == 0)
        return hw_fail(of->job, HW_NO_ANSWER,
                       "no design of %d keeps all limits; the first breaks: %s", of->count,
                       of->designs[0].why);
    return HW_OK;
}

// What every search begins with.
static hw_status begin(hw_job *job, const hw_visit *visit, const hw_report_foot *foot,
                       const hw_search_ask *ask, hw_arena *into, seeker *of)
{
    hw_mech_subject *subject = NULL;
    *of = (seeker){.job = job, .into = into, .visit = visit, .foot = foot};
    if (!foot->orthosis) return hw_fail(job, HW_BAD_INPUT, "no device: %s", foot->orthosis_why);
    if (foot->orthosis->is_cup)
        return hw_fail(job, HW_BAD_INPUT, "a heel cup bears no arch: there is nothing to search");
    HW_ALLOC(job, into, subject, 1);
    HW_ALLOC(job, into, of->out, 1);
    HW_ALLOC(job, into, of->designs, HW_SEARCH_EVERY);
    HW_ALLOC(job, into, of->places, HW_SEARCH_EVERY);
    HW_TRY(app_subject(job, visit, foot->orthosis->side, foot, subject));
    of->subject = subject, of->mass_kg = subject->mass_kg;
    HW_TRY(set_ranges(job, ask, foot->order, of->out));
    set_limits(foot->order, of->out);
    return HW_OK;
}

hw_status app_search_random(hw_job *job, const hw_visit *visit, const hw_report_foot *foot,
                            const hw_search_ask *ask, uint64_t seed, hw_arena *into,
                            hw_search_design *out)
{
    seeker of = {0};
    hw_random random = hw_random_begin(seed);
    HW_TRY(begin(job, visit, foot, ask, into, &of));
    HW_ASSERT(ask->evaluations <= HW_SEARCH_EVERY);
    for (int i = 0; i < ask->evaluations; i++) {
        double place[HW_SEARCH_TERMS] = {0};
        for (int k = 0; k < of.out->term_count; k++) place[k] = hw_random_uniform(&random);
        add_place(&of, place);
    }
    for (int first = 0; first < of.count; first += AT_ONCE)
        HW_TRY(try_listed(&of, first, of.count - first < AT_ONCE ? of.count - first : AT_ONCE));
    for (int i = 0; i < of.count; i++) out[i] = of.designs[i];
    return HW_OK;
}

hw_status hw_app_search(hw_job *job, const hw_visit *visit, const hw_report_foot *foot,
                        const hw_search_ask *ask, hw_arena *into, hw_search *out)
{
    const int most = HW_SEARCH_EVERY * 3 / 4;
    seeker of = {0};
    HW_TRY(begin(job, visit, foot, ask, into, &of));
    int evaluations = ask->evaluations > 0 ? ask->evaluations : EVALUATIONS;
    HW_TRY(try_now(&of));
    HW_TRY(look_around(&of, evaluations < most ? evaluations : most));
    HW_TRY(keep_front(&of));
    if (!ask->is_quick) HW_TRY(solve_finally(&of));
    *out = *of.out;
    return HW_OK;
}
