// SPDX-License-Identifier: GPL-3.0-or-later
// A program followed line by line with what the machine would then be doing. A line that is not of
// the subset, or comes where it must not, is a fault; nothing is guessed or put right.
#include "gcode_internal.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const double s_per_min = 60.0;
static const double rounding = 2e-6;   // m: what three decimals of a millimetre may hide, twice
static const double feed_slack = 1.02; // of a rounded feed's downward part

enum { PREAMBLE_WORDS = 8 };

// The words that must all have been said before the first move.
static const int preamble[PREAMBLE_WORDS] = {21, 17, 90, 94, 40, 49, 80, 54};

typedef struct reader {
    hw_job *job;
    const hw_gcode_rules *rules;
    hw_faults *faults;
    hw_gcode_program *out;
    hw_arena *into;
    int move_room;

    int line;
    int percents; // seen
    bool is_over; // M30 was read
    bool in_head; // no word yet
    bool said[HW_GCODE_WORDS_MAX];
    bool tool_said[HW_GCODE_TOOLS_MAX];
    bool turn_said; // in the comment before this line
    bool was_said[PREAMBLE_WORDS];
    int tool; // index, -1: none
    bool turns, has_dwelt;
    double feed; // m/s, 0: none
    bool knows[3];
    double at[3];
    int side;
} reader;

hw_status gcode_fault(hw_job *job, hw_faults *faults, int line, const char *format, ...)
{
    char key[32], text[200];
    va_list list;
    if (faults->count >= HW_GCODE_FAULTS_MAX) return HW_OK;
    va_start(list, format);
    vsnprintf(text, sizeof text, format, list);
    va_end(list);
    snprintf(key, sizeof key, "line %d", line);
    return hw_faults_add(job, faults, key, "%s", text);
}

#define FAULT(on, ...) gcode_fault((on)->job, (on)->faults, (on)->line, __VA_ARGS__)

// -- comments

// "TOOL 2 BALL DIAMETER 8.000 ..." must be what the table says of tool 2.
static hw_status read_tool_line(reader *on, const char *text)
{
    int number = 0;
    char kind[8] = "";
    double diameter = 0.0;
    if (sscanf(text, "TOOL %2d %7s DIAMETER %8lf", &number, kind, &diameter) != 3) return HW_OK;
    for (int i = 0; i < on->rules->tool_count; i++) {
        const hw_gcode_tool *tool = &on->rules->tools[i];
        if (tool->number != number) continue;
        bool is_same = strcmp(kind, tool->is_ball ? "BALL" : "FLAT") == 0 &&
                       fabs(diameter - hw_mm_from_m(2.0 * tool->radius_m)) < 2e-3;
        if (!is_same)
            return FAULT(on, "the head says another tool %d than the clinic's table", number);
        on->tool_said[i] = true;
    }
    return HW_OK;
}

static hw_status read_comment(reader *on, const char *text)
{
    on->turn_said = strncmp(text, "TURN THE BLOCK OVER", 19) == 0;
    if (!on->in_head) return HW_OK;
    for (int i = 0; i < on->rules->must_say_count; i++)
        if (strcmp(text, on->rules->must_say[i]) == 0) on->said[i] = true;
    return read_tool_line(on, text);
}

static hw_status leave_head(reader *on)
{
    if (!on->in_head) return HW_OK;
    on->in_head = false;
    if (on->percents != 1) HW_TRY(FAULT(on, "the program does not begin with %%"));
    for (int i = 0; i < on->rules->must_say_count; i++)
        if (!on->said[i]) HW_TRY(FAULT(on, "the head does not say '%s'", on->rules->must_say[i]));
    return HW_OK;
}

// -- words of one line

static const gcode_word *word_of(const gcode_line *line, char letter)
{
    for (int i = 0; i < line->word_count; i++)
        if (line->words[i].letter == letter) return &line->words[i];
    return NULL;
}

static bool is_only(const gcode_line *line, const char *letters)
{
    for (int i = 0; i < line->word_count; i++) {
        if (!strchr(letters, line->words[i].letter)) return false;
        for (int k = 0; k < i; k++)
            if (line->words[k].letter == line->words[i].letter) return false;
    }
    return true;
}

static bool is_word(const gcode_word *word, double value)
{
    return word && !word->has_point && fabs(word->value - value) < 1e-9;
}

static double clear_height(const reader *on)
{
    return on->rules->clear_z_m - rounding;
}

static bool is_clear(const reader *on)
{
    return on->knows[2] && on->at[2] >= clear_height(on);
}

// -- moves

static hw_status keep_move(reader *on, const double to[3], double feed)
{
    bool is_upright = to[0] == on->at[0] && to[1] == on->at[1] && to[2] < on->at[2];
    double plunge = on->rules->tools[on->tool].plunge_max_m_per_s * feed_slack;
    hw_gcode_program *out = on->out;
    if (out->move_count == on->move_room) {
        int room = on->move_room ? 2 * on->move_room : 4096;
        hw_gcode_move *grown = NULL;
        HW_ALLOC(on->job, on->into, grown, room);
        if (out->move_count > 0) memcpy(grown, out->moves, (size_t)out->move_count * sizeof *grown);
        out->moves = grown;
        on->move_room = room;
    }
    out->moves[out->move_count++] = (hw_gcode_move){{on->at[0], on->at[1], on->at[2]},
                                                    {to[0], to[1], to[2]},
                                                    feed,
                                                    on->tool,
                                                    on->side,
                                                    on->line,
                                                    feed == 0.0 || (is_upright && feed > plunge)};
    return HW_OK;
}

// Time without stops, and from rest to rest at the machine's acceleration.
static void count_time(reader *on, const double to[3], double speed, bool is_rapid)
{
    double dx = to[0] - on->at[0], dy = to[1] - on->at[1], dz = to[2] - on->at[2];
    double length = sqrt(dx * dx + dy * dy + dz * dz), a = on->rules->acceleration_m_per_s2;
    *(is_rapid ? &on->out->travel_m : &on->out->cut_m) += length;
    on->out->time_low_s += length / speed;
    double ramp = speed * speed / a; // length to speed up and slow down
    on->out->time_high_s += length >= ramp ? length / speed + speed / a : 2.0 * sqrt(length / a);
}

static hw_status read_target(reader *on, const gcode_line *line, double to[3], bool given[3])
{
    static const char letters[] = "XYZ";
    const hw_box *travel = &on->rules->travel;
    const double low[3] = {travel->low.x, travel->low.y, travel->low.z};
    const double high[3] = {travel->high.x, travel->high.y, travel->high.z};
    for (int k = 0; k < 3; k++) {
        const gcode_word *word = word_of(line, letters[k]);
        given[k] = word != NULL;
        to[k] = word ? hw_m_from_mm(word->value) : on->at[k];
        if (!word) continue;
        if (!word->has_point)
            HW_TRY(FAULT(on, "%c has no point: some controls read it as thousandths", letters[k]));
        if (to[k] < low[k] - rounding || to[k] > high[k] + rounding)
            HW_TRY(FAULT(on, "%c %.3f is outside the machine's travel of %.1f to %.1f mm",
                         letters[k], word->value, hw_mm_from_m(low[k]), hw_mm_from_m(high[k])));
    }
    return HW_OK;
}

static double gap(double low, double high, double a, double b)
{
    return fmax(0.0, fmax(low - fmax(a, b), fmin(a, b) - high));
}

// The whole tool against pins and clamps: the box around its way.
static hw_status check_keep_outs(reader *on, const double to[3])
{
    if (!on->knows[0] || !on->knows[1]) return HW_OK; // at the clear height: see check_rapid
    double radius = on->rules->tools[on->tool].radius_m;
    for (int i = 0; i < on->rules->keep_out_count; i++) {
        const hw_box *out = &on->rules->keep_outs[i];
        if (fmin(on->at[2], to[2]) >= out->high.z) continue;
        double x = gap(out->low.x, out->high.x, on->at[0], to[0]);
        double y = gap(out->low.y, out->high.y, on->at[1], to[1]);
        if (hypot(x, y) < radius)
            return FAULT(on, "the tool comes upon a pin or clamp near X %.1f Y %.1f",
                         hw_mm_from_m(to[0]), hw_mm_from_m(to[1]));
    }
    return HW_OK;
}

static hw_status check_rapid(reader *on, const gcode_line *line, const double to[3],
                             const bool given[3])
{
    if (word_of(line, 'F')) HW_TRY(FAULT(on, "a rapid has a feed"));
    if ((given[0] || given[1]) && given[2])
        return FAULT(on, "a rapid goes sideways and up or down at once");
    if ((given[0] || given[1]) && !is_clear(on))
        return FAULT(on, "a rapid goes sideways below the clear height of %.1f mm",
                     hw_mm_from_m(on->rules->clear_z_m));
    if (given[2] && to[2] < clear_height(on))
        return FAULT(on, "a rapid goes down to %.3f mm, into the block's height",
                     hw_mm_from_m(to[2]));
    if (!on->knows[2] && !given[2])
        return FAULT(on, "after a stop the first move must raise the tool");
    return HW_OK;
}

static hw_status check_feed(reader *on, const gcode_line *line)
{
    const gcode_word *word = word_of(line, 'F');
    if (word) on->feed = hw_m_from_mm(word->value) / s_per_min;
    if (word && !(word->value > 0.0)) return FAULT(on, "a feed of %.1f", word->value);
    if (!(on->feed > 0.0)) return FAULT(on, "a cut has no feed since the last stop");
    double most = fmin(on->rules->feed_max_m_per_s, on->rules->tools[on->tool].feed_max_m_per_s);
    if (on->feed > most * 1.0001)
        return FAULT(on, "a feed of %.0f mm/min; the tool and the machine allow %.0f",
                     hw_mm_from_m(on->feed) * s_per_min, hw_mm_from_m(most) * s_per_min);
    return HW_OK;
}

// The downward part of a cut's speed, and how deep the tool may go.
static hw_status check_down(reader *on, const double to[3])
{
    const hw_gcode_tool *tool = &on->rules->tools[on->tool];
    double dx = to[0] - on->at[0], dy = to[1] - on->at[1], dz = to[2] - on->at[2];
    double length = sqrt(dx * dx + dy * dy + dz * dz);
    // A move of a few rounding steps has no direction worth the name.
    double down = length > 4.0 * rounding ? on->feed * -dz / length : 0.0;
    bool is_upright = dx == 0.0 && dy == 0.0; // through air it may be faster: carving looks
    if (!is_upright && down > tool->plunge_max_m_per_s * feed_slack)
        HW_TRY(FAULT(on, "tool %d goes down at %.0f mm/min; it may at %.0f", tool->number,
                     hw_mm_from_m(down) * s_per_min,
                     hw_mm_from_m(tool->plunge_max_m_per_s) * s_per_min));
    if (to[2] < on->rules->stock.high.z - tool->reach_m - rounding)
        HW_TRY(FAULT(on, "tool %d is %.1f mm deep in the block; its holder comes upon it at %.1f",
                     tool->number, hw_mm_from_m(on->rules->stock.high.z - to[2]),
                     hw_mm_from_m(tool->reach_m)));
    return HW_OK;
}

static hw_status check_cut(reader *on, const gcode_line *line, const double to[3])
{
    HW_TRY(check_feed(on, line));
    if (!on->knows[0] || !on->knows[1] || !on->knows[2])
        return FAULT(on, "a cut begins where nobody knows where the tool is");
    if (!on->turns) return FAULT(on, "a cut with the spindle standing");
    if (!on->has_dwelt) return FAULT(on, "a cut before the spindle came up to speed");
    return check_down(on, to);
}

static hw_status check_preamble(reader *on)
{
    for (int i = 0; i < PREAMBLE_WORDS; i++)
        if (!on->was_said[i]) return FAULT(on, "a move before G%d was said", preamble[i]);
    return HW_OK;
}

static hw_status read_move(reader *on, const gcode_line *line, bool is_rapid)
{
    double to[3] = {0};
    bool given[3] = {false};
    if (!is_only(line, "GXYZF")) return FAULT(on, "a move with words that are not its own");
    HW_TRY(check_preamble(on));
    if (on->tool < 0) return FAULT(on, "a move before a tool was called");
    HW_TRY(read_target(on, line, to, given));
    if (!given[0] && !given[1] && !given[2]) return FAULT(on, "a move that goes nowhere");
    HW_TRY(is_rapid ? check_rapid(on, line, to, given) : check_cut(on, line, to));
    HW_TRY(check_keep_outs(on, to));
    if (on->knows[0] && on->knows[1] && on->knows[2]) {
        double speed = is_rapid ? on->rules->rapid_m_per_s : on->feed;
        if (speed > 0.0) count_time(on, to, speed, is_rapid);
        HW_TRY(keep_move(on, to, is_rapid ? 0.0 : on->feed));
    }
    for (int k = 0; k < 3; k++) {
        on->at[k] = to[k];
        on->knows[k] |= given[k];
    }
    return HW_OK;
}

// -- everything else

static const char *why_not(int code)
{
    switch (code) {
    case 2:
    case 3:
        return "arcs are not of the subset";
    case 20:
        return "inches";
    case 91:
        return "moves counted from the last place";
    case 10:
    case 52:
    case 92:
        return "it moves the zero";
    case 28:
    case 30:
        return "it moves to a place the program does not know";
    case 41:
    case 42:
    case 43:
        return "corrections of radius and length are cancelled throughout";
    default:
        return "it is not of the subset";
    }
}

static hw_status read_modes(reader *on, const gcode_line *line)
{
    for (int i = 0; i < line->word_count; i++) {
        const gcode_word *word = &line->words[i];
        int known = -1;
        for (int k = 0; k < PREAMBLE_WORDS; k++)
            if (word->letter == 'G' && is_word(word, preamble[k])) known = k;
        if (word->letter == 'G' && known < 0)
            return FAULT(on, "G%.4g: %s", word->value, why_not((int)word->value));
        if (known < 0) return FAULT(on, "%c among words that set the mode", word->letter);
        if (on->was_said[known]) return FAULT(on, "G%d a second time", preamble[known]);
        on->was_said[known] = true;
    }
    return HW_OK;
}

static hw_status read_dwell(reader *on, const gcode_line *line)
{
    const gcode_word *time = word_of(line, 'P');
    if (line->word_count != 2 || !time) return FAULT(on, "a dwell is G4 with P");
    double seconds = time->value * (on->rules->dwells_in_ms ? 1e-3 : 1.0);
    if (seconds < 0.0 || seconds > s_per_min) return FAULT(on, "a dwell of %.1f s", seconds);
    if (on->turns && seconds >= on->rules->dwell_min_s - 1e-9) on->has_dwelt = true;
    on->out->time_low_s += seconds, on->out->time_high_s += seconds;
    return HW_OK;
}

static hw_status read_tool(reader *on, const gcode_line *line)
{
    const gcode_word *number = word_of(line, 'T');
    if (line->word_count != 2 || line->words[0].letter != 'T' || !is_word(word_of(line, 'M'), 6.0))
        return FAULT(on, "a tool is called by T and M6 alone");
    if (on->turns) return FAULT(on, "a tool is changed while the spindle turns");
    on->tool = -1;
    for (int i = 0; i < on->rules->tool_count; i++)
        if (is_word(number, on->rules->tools[i].number)) on->tool = i;
    if (on->tool < 0)
        return FAULT(on, "tool %.4g is not one of this program's tools", number->value);
    if (!on->tool_said[on->tool])
        HW_TRY(FAULT(on, "the head says nothing of tool %.0f", number->value));
    return HW_OK;
}

static hw_status read_spindle(reader *on, const gcode_line *line)
{
    const gcode_word *speed = word_of(line, 'S');
    if (line->word_count != 2 || !speed || !is_word(word_of(line, 'M'), 3.0))
        return FAULT(on, "the spindle is started by S and M3 alone");
    if (on->tool < 0) return FAULT(on, "the spindle is started without a tool");
    double asked = on->rules->tools[on->tool].spindle_per_min;
    if (speed->value < on->rules->spindle_min_per_min ||
        speed->value > on->rules->spindle_max_per_min)
        return FAULT(on, "the spindle cannot turn at %.0f per minute", speed->value);
    if (fabs(speed->value - asked) > 1.0)
        return FAULT(on, "the spindle turns at %.0f per minute; the tool's speed is %.0f",
                     speed->value, asked);
    on->turns = true;
    on->has_dwelt = false;
    return HW_OK;
}

// What a person does while the machine stands changes where the tip is.
static void forget(reader *on)
{
    on->knows[0] = on->knows[1] = on->knows[2] = false;
    on->feed = 0.0;
}

static hw_status read_stop(reader *on)
{
    on->out->stop_count++;
    if (on->turns) HW_TRY(FAULT(on, "a stop for a person while the spindle turns"));
    if (on->out->move_count > 0 && !is_clear(on) && on->knows[2])
        HW_TRY(FAULT(on, "a stop for a person with the tool in the block"));
    if (on->turn_said) on->side++;
    if (on->side >= on->rules->side_count)
        return FAULT(on, "the block is turned over more often than it has sides");
    on->tool = -1;
    forget(on);
    return HW_OK;
}

static hw_status read_end(reader *on)
{
    if (on->turns) HW_TRY(FAULT(on, "the program ends while the spindle turns"));
    if (on->out->move_count == 0) HW_TRY(FAULT(on, "the program cuts nothing"));
    if (on->knows[2] && !is_clear(on))
        HW_TRY(FAULT(on, "the program ends with the tool in the block"));
    if (on->side != on->rules->side_count - 1)
        HW_TRY(FAULT(on, "the program cuts %d of %d sides", on->side + 1, on->rules->side_count));
    on->is_over = true;
    return HW_OK;
}

static hw_status read_machine_word(reader *on, const gcode_line *line)
{
    const gcode_word *m = word_of(line, 'M');
    if (word_of(line, 'T')) return read_tool(on, line);
    if (word_of(line, 'S')) return read_spindle(on, line);
    if (line->word_count != 1) return FAULT(on, "M%.4g stands with other words", m->value);
    if (is_word(m, 5.0)) {
        if (on->turns && on->knows[2] && !is_clear(on))
            HW_TRY(FAULT(on, "the spindle is stopped in the block"));
        on->turns = false;
        return HW_OK;
    }
    if (is_word(m, 9.0)) return HW_OK;
    if (is_word(m, 0.0)) return read_stop(on);
    if (is_word(m, 30.0)) return read_end(on);
    return FAULT(on, "M%.4g is not of the subset", m->value);
}

static hw_status read_words(reader *on, const gcode_line *line)
{
    const gcode_word *first = &line->words[0];
    HW_TRY(leave_head(on));
    if (on->is_over) return FAULT(on, "words after the end");
    if (is_word(first, 0.0) && first->letter == 'G') return read_move(on, line, true);
    if (is_word(first, 1.0) && first->letter == 'G') return read_move(on, line, false);
    if (is_word(first, 4.0) && first->letter == 'G') return read_dwell(on, line);
    if (first->letter == 'G') return read_modes(on, line);
    if (word_of(line, 'M')) return read_machine_word(on, line);
    return FAULT(on, "a line that begins with %c is not of the subset", first->letter);
}

static hw_status read_line(reader *on, const char *text, int count)
{
    char room[LINE_LONGEST + 1];
    gcode_line line;
    const char *wrong = gcode_split(text, count, room, &line);
    if (wrong) {
        HW_TRY(leave_head(on));
        return FAULT(on, "%s", wrong);
    }
    if (line.comment) return read_comment(on, line.comment);
    if (line.is_percent) {
        on->percents++;
        if ((on->percents == 1 && on->line != 1) || (on->percents > 1 && !on->is_over))
            return FAULT(on, "%% stands only before and after the program");
        return HW_OK;
    }
    HW_TRY(read_words(on, &line));
    on->turn_said = false;
    return HW_OK;
}

static hw_status check_end(reader *on)
{
    if (!on->is_over) HW_TRY(FAULT(on, "the program has no end: M30 is missing"));
    if (on->percents != 2)
        HW_TRY(FAULT(on, "%% stands %d times, not before and after", on->percents));
    return HW_OK;
}

// Lines end alike throughout: LF, or CR LF.
static hw_status read_lines(reader *on, hw_bytes text)
{
    const char *at = (const char *)text.at, *end = at + text.count;
    while (at < end && on->faults->count < HW_GCODE_FAULTS_MAX) {
        const char *stop = memchr(at, '\n', (size_t)(end - at));
        on->line++;
        if (!stop) return FAULT(on, "the last line has no end: the file was cut");
        size_t count = (size_t)(stop - at);
        if (count > 0 && stop[-1] == '\r') count--;
        HW_TRY(read_line(on, at, count > LINE_LONGEST ? LINE_LONGEST + 1 : (int)count));
        if (on->line % 4096 == 0) HW_TRY(hw_job_ask(on->job));
        at = stop + 1;
    }
    return on->faults->count < HW_GCODE_FAULTS_MAX ? check_end(on) : HW_OK;
}

hw_status hw_gcode_read(hw_job *job, hw_bytes text, const hw_gcode_rules *rules, hw_arena *into,
                        hw_gcode_program *out, hw_faults *faults)
{
    hw_gcode_program made = {0};
    reader on = {.job = job,
                 .rules = rules,
                 .faults = faults,
                 .out = &made,
                 .into = into,
                 .in_head = true,
                 .tool = -1};
    HW_TRY(read_lines(&on, text));
    made.line_count = on.line;
    *out = made;
    return hw_faults_status(job, faults);
}
