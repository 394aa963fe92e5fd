// SPDX-License-Identifier: GPL-3.0-or-later
#include "rules.h"
#include "readings.h"
#include <math.h>
#include <string.h>

bool hw_compare(double value, hw_comparison comparison, double limit)
{
    // Typed decimals and their products differ from the limit by rounding only: far less than any
    // figure a clinician types, far more than double arithmetic loses.
    const double slack = 1e-9 * fmax(1.0, fabs(limit));
    switch (comparison) {
    case HW_IS:
        return fabs(value - limit) <= slack;
    case HW_BELOW:
        return value < limit - slack;
    case HW_ABOVE:
        return value > limit + slack;
    case HW_AT_LEAST:
        return value >= limit - slack;
    }
    return false;
}

const char *hw_urgency_word(hw_urgency urgency)
{
    static const char *const words[] = {"none", "soon", "urgent", "same day", "emergency"};
    return words[urgency];
}

const char *hw_eligibility_word(hw_eligibility state)
{
    static const char *const words[] = {"available", "held", "stopped", "never"};
    return words[state];
}

static hw_verdict judge_test(const hw_test *test, const hw_situation *one)
{
    const hw_reading reading = hw_read(test, one);
    if (reading.given != HW_GIVEN_VALUE) return HW_VERDICT_UNKNOWN;
    if (hw_compare(reading.number, test->comparison, test->limit)) return HW_VERDICT_YES;
    return reading.may_be_graver ? HW_VERDICT_UNKNOWN : HW_VERDICT_NO;
}

// Both must hold: one no decides, whatever is unknown.
static hw_verdict both(hw_verdict a, hw_verdict b)
{
    if (a == HW_VERDICT_NO || b == HW_VERDICT_NO) return HW_VERDICT_NO;
    return a == HW_VERDICT_YES && b == HW_VERDICT_YES ? HW_VERDICT_YES : HW_VERDICT_UNKNOWN;
}

static hw_verdict judge_here(const hw_rule *rule, const hw_situation *one)
{
    const hw_verdict when = judge_test(&rule->when, one);
    if (rule->only_if.subject == HW_SUBJECT_NOTHING) return when;
    return both(when, judge_test(&rule->only_if, one));
}

// The feet a row looks at: the case's own, or for an act of the whole person those that hurt.
static int feet_of(const hw_rule *rule, const hw_situation *one, hw_side sides[2])
{
    sides[0] = one->side;
    if (!hw_test_is_of_foot(&rule->when) || one->side != HW_SIDE_UNKNOWN) return 1;
    int count = 0;
    for (int foot = 0; foot < 2; foot++)
        if (one->findings->feet[foot].heel_pain == HW_ANSWER_YES)
            sides[count++] = foot ? HW_SIDE_RIGHT : HW_SIDE_LEFT;
    return count;
}

hw_verdict hw_rule_judge(const hw_rule *rule, const hw_situation *one)
{
    hw_side sides[2] = {HW_SIDE_UNKNOWN};
    const int count = feet_of(rule, one, sides);
    hw_verdict worst = HW_VERDICT_NO;
    for (int i = 0; i < count; i++) {
        hw_situation here = *one;
        here.side = sides[i];
        const hw_verdict verdict = judge_here(rule, &here);
        if (verdict == HW_VERDICT_YES) return verdict;
        if (verdict == HW_VERDICT_UNKNOWN) worst = verdict;
    }
    return worst;
}

hw_status hw_questions_add(hw_job *job, hw_questions *questions, hw_arena *into,
                           hw_question question)
{
    for (int i = 0; i < questions->count; i++) {
        if (strcmp(questions->rows[i].key, question.key) != 0) continue;
        questions->rows[i].holds |= question.holds;
        return HW_OK;
    }
    if (questions->count == questions->capacity) {
        const int capacity = questions->capacity ? 2 * questions->capacity : 16;
        hw_question *rows = NULL;
        HW_ALLOC(job, into, rows, capacity);
        if (questions->count > 0)
            memcpy(rows, questions->rows, (size_t)questions->count * sizeof *rows);
        questions->rows = rows, questions->capacity = capacity;
    }
    questions->rows[questions->count++] = question;
    return HW_OK;
}

static bool is_text(const char *text)
{
    return text && text[0];
}

static hw_status check_overrule(hw_job *job, const hw_overrule *overrule)
{
    const hw_rule *rule = overrule->rule_id ? hw_rule_by_id(overrule->rule_id) : NULL;
    if (!rule)
        return hw_fail(job, HW_BAD_INPUT, "there is no rule row '%s' to overrule",
                       overrule->rule_id ? overrule->rule_id : "");
    if (rule->kind == HW_RULE_NEVER)
        return hw_fail(job, HW_BAD_INPUT, "rule row %s cannot be overruled: %s", rule->id,
                       rule->sentence);
    if (!is_text(overrule->reason) || !is_text(overrule->clinician))
        return hw_fail(job, HW_BAD_INPUT, "overruling %s needs a reason and a clinician", rule->id);
    if (rule->kind == HW_RULE_STOP && !is_text(overrule->second))
        return hw_fail(job, HW_BAD_INPUT, "overruling %s needs a second person", rule->id);
    if (rule->kind == HW_RULE_STOP && strcmp(overrule->second, overrule->clinician) == 0)
        return hw_fail(job, HW_BAD_INPUT, "who overrules %s cannot confirm it too", rule->id);
    return HW_OK;
}

static hw_status check_overrules(hw_job *job, const hw_findings *findings)
{
    for (int i = 0; i < findings->overrule_count; i++)
        HW_TRY(check_overrule(job, &findings->overrules[i]));
    return HW_OK;
}

bool hw_rule_overruled(const hw_rule *rule, const hw_findings *findings)
{
    for (int i = 0; i < findings->overrule_count; i++)
        if (strcmp(findings->overrules[i].rule_id, rule->id) == 0) return true;
    return false;
}

// Room for every row standing on both feet.
typedef struct builder {
    hw_job *job;
    hw_arena *into;
    hw_judgement *out;
    hw_acts about; // rows about these acts; 0: rows about the plan as a whole
    hw_acts holds; // the acts an open question holds
} builder;

static hw_status add_reason(builder *build, const hw_rule *rule, const hw_situation *one)
{
    hw_judgement *out = build->out;
    hw_reason *reason = &out->reasons[out->reason_count];
    const char *reading = NULL;
    HW_TRY(hw_reading_text(build->job, &rule->when, one, build->into, &reading));
    const bool overruled = hw_rule_overruled(rule, one->findings);
    *reason = (hw_reason){rule, hw_test_is_of_foot(&rule->when) ? one->side : HW_SIDE_UNKNOWN,
                          reading, overruled};
    out->reason_count++;
    if (overruled || rule->kind == HW_RULE_CAUTION) return HW_OK;
    const hw_eligibility state = rule->kind == HW_RULE_NEVER ? HW_REFUSED : HW_STOPPED;
    if (state > out->state) out->state = state;
    return HW_OK;
}

static hw_status add_question(builder *build, const hw_rule *rule, const hw_situation *one)
{
    // What is asked first is whether the row applies at all.
    const bool gate_open = rule->only_if.subject != HW_SUBJECT_NOTHING &&
                           judge_test(&rule->only_if, one) == HW_VERDICT_UNKNOWN;
    hw_question question = {0};
    HW_TRY(hw_reading_question(build->job, gate_open ? &rule->only_if : &rule->when, one,
                               build->into, &question));
    const bool holds = rule->unanswered == HW_UNANSWERED_HOLDS;
    question.holds = holds ? build->holds : 0;
    if (holds && build->out->state < HW_HELD) build->out->state = HW_HELD;
    return hw_questions_add(build->job, &build->out->questions, build->into, question);
}

static hw_status judge_row(builder *build, const hw_rule *rule, const hw_situation *one)
{
    hw_side sides[2] = {HW_SIDE_UNKNOWN};
    const int count = feet_of(rule, one, sides);
    for (int i = 0; i < count; i++) {
        hw_situation here = *one;
        here.side = sides[i];
        const hw_verdict verdict = judge_here(rule, &here);
        if (verdict == HW_VERDICT_YES) HW_TRY(add_reason(build, rule, &here));
        if (verdict == HW_VERDICT_UNKNOWN) HW_TRY(add_question(build, rule, &here));
    }
    return HW_OK;
}

static bool is_graver(const hw_reason *a, const hw_reason *b)
{
    if (a->rule->kind != b->rule->kind) return a->rule->kind > b->rule->kind;
    return a->rule->urgency > b->rule->urgency;
}

// Few reasons, and rows of one gravity keep the table's order.
static void put_gravest_first(hw_reason *reasons, int count)
{
    for (int i = 1; i < count; i++)
        for (int j = i; j > 0 && is_graver(&reasons[j], &reasons[j - 1]); j--) {
            const hw_reason swap = reasons[j];
            reasons[j] = reasons[j - 1], reasons[j - 1] = swap;
        }
}

typedef struct table {
    const hw_rule *rows;
    int count;
} table;

static hw_status judge_table(builder *build, table rules, const hw_situation *one)
{
    hw_judgement *out = build->out;
    *out = (hw_judgement){0};
    HW_TRY(check_overrules(build->job, one->findings));
    HW_ALLOC(build->job, build->into, out->reasons, 2 * rules.count);
    for (int i = 0; i < rules.count; i++) {
        const hw_rule *rule = &rules.rows[i];
        if (rule->retired || (build->about && !(rule->acts & build->about))) continue;
        HW_TRY(judge_row(build, rule, one));
    }
    put_gravest_first(out->reasons, out->reason_count);
    return HW_OK;
}

hw_status hw_judge(hw_job *job, const hw_situation *one, hw_act act, hw_arena *into,
                   hw_judgement *out)
{
    HW_ASSERT(one->date.known);
    table rules = {0};
    rules.rows = hw_rule_rows(&rules.count);
    hw_judgement judged = {0};
    builder build = {job, into, &judged, 1u << act, 1u << act};
    HW_TRY(judge_table(&build, rules, one));
    *out = judged;
    return HW_OK;
}

hw_status hw_judge_red_flags(hw_job *job, const hw_situation *one, hw_arena *into,
                             hw_judgement *out)
{
    HW_ASSERT(one->date.known);
    table rules = {0};
    rules.rows = hw_red_flag_rows(&rules.count);
    hw_judgement judged = {0};
    builder build = {job, into, &judged, 0, (1u << HW_ACT_COUNT) - 1u};
    HW_TRY(judge_table(&build, rules, one));
    *out = judged;
    return HW_OK;
}
static uint64_t mix(uint64_t digest, const void *bytes, size_t count)
{
    const unsigned char *at = bytes;
    for (size_t i = 0; i < count; i++) digest = (digest ^ at[i]) * 0x100000001b3u; // FNV-1a
    return digest;
}

static uint64_t mix_test(uint64_t digest, const hw_test *test)
{
    const int numbers[3] = {(int)test->subject, (int)test->key, (int)test->comparison};
    digest = mix(digest, numbers, sizeof numbers);
    return mix(digest, &test->limit, sizeof test->limit);
}

uint64_t hw_rule_digest(const hw_rule *rule)
{
    const int numbers[5] = {(int)rule->kind, (int)rule->acts, (int)rule->unanswered,
                            (int)rule->urgency, (int)rule->retired};
    uint64_t digest = mix(0xcbf29ce484222325u, numbers, sizeof numbers);
    digest = mix_test(mix_test(digest, &rule->when), &rule->only_if);
    digest = mix(digest, rule->id, strlen(rule->id));
    digest = mix(digest, rule->sentence, strlen(rule->sentence));
    return mix(digest, rule->source, strlen(rule->source));
}
