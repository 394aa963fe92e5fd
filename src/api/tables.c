// SPDX-License-Identifier: GPL-3.0-or-later
// What the tables know, for the page: it holds no clinical word of its own.
#include "api_internal.h"

static const char *scope_word(hw_scope scope)
{
    static const char *const words[] = {"visit", "person", "red_flag", "foot", "heel_pain"};
    return words[scope];
}

static void write_finding(hw_json_out *out, const hw_finding_row *row)
{
    static const char *const kinds[] = {"number", "answer", "word"};
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "key", row->key);
    hw_json_text(out, "scope", scope_word(row->scope));
    hw_json_text(out, "kind", kinds[row->kind]);
    hw_json_text(out, "unit", row->unit);
    if (row->kind == HW_KIND_NUMBER) {
        hw_json_number(out, "low", row->low, 6);
        hw_json_number(out, "high", row->high, 6);
    }
    hw_json_open(out, "words", '[');
    for (int i = 0; i < HW_FINDING_WORDS && row->words[i]; i++)
        hw_json_text(out, NULL, row->words[i]);
    hw_json_close(out);
    hw_json_text(out, "what", row->what);
    hw_json_close(out);
}

static void write_act(hw_json_out *out, const hw_act_row *row)
{
    static const char *const principles[] = {"unload", "settle", "heal"};
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "word", row->word);
    hw_json_text(out, "principle", principles[row->principle]);
    hw_json_bool(out, "per_heel", row->per_heel);
    hw_json_bool(out, "offered", row->offered);
    hw_json_close(out);
}

static void write_names(hw_json_out *out, const char *key, const hw_name_row *rows, int count)
{
    hw_json_open(out, key, '[');
    for (int i = 0; i < count; i++) hw_json_text(out, NULL, rows[i].name);
    hw_json_close(out);
}

static void write_group_words(hw_json_out *out, const char *key, const char *(*word)(int), int n)
{
    hw_json_open(out, key, '[');
    for (int i = 0; i < n; i++) hw_json_text(out, NULL, word(i));
    hw_json_close(out);
}

static void write_acts(hw_json_out *out)
{
    hw_json_open(out, "acts", '[');
    for (int i = 0; i < HW_ACT_COUNT; i++) hw_json_text(out, NULL, hw_act_rows()[i].word);
    hw_json_close(out);
    hw_json_open(out, "act_rows", '[');
    for (int i = 0; i < HW_ACT_COUNT; i++) write_act(out, &hw_act_rows()[i]);
    hw_json_close(out);
}

// What an orthosis may be ordered with: its words, and its numbers with their ranges.
static void write_order_words(hw_json_out *out)
{
    hw_json_open(out, "shells", '[');
    for (int i = 0; i < HW_SHELL_MATERIALS; i++)
        hw_json_text(out, NULL, hw_shell_material_word((hw_shell_material)i));
    hw_json_close(out);
    hw_json_open(out, "lengths", '[');
    for (int i = 0; i < HW_ORTHOSIS_LENGTHS; i++)
        hw_json_text(out, NULL, hw_orthosis_length_word((hw_orthosis_length)i));
    hw_json_close(out);
    hw_json_open(out, "metatarsal_pads", '[');
    for (int i = 0; i < HW_MET_PADS; i++) hw_json_text(out, NULL, hw_met_pad_word((hw_met_pad)i));
    hw_json_close(out);
    hw_json_open(out, "top_covers", '[');
    for (int i = 0; i < HW_COVERS; i++) hw_json_text(out, NULL, hw_top_cover_word((hw_top_cover)i));
    hw_json_close(out);
    hw_json_open(out, "order_terms", '[');
    for (int i = 0; i < HW_TERMS; i++) {
        const hw_order_row *row = &hw_order_rows()[i];
        char key[HW_ORDER_KEY];
        hw_order_key((hw_order_term)i, key);
        hw_json_open(out, NULL, '{');
        hw_json_text(out, "key", key);
        hw_json_text(out, "name", row->name);
        hw_json_number(out, "low",
                       hw_order_in_unit(row, row->zero_is_none ? fmin(0.0, row->low) : row->low),
                       2);
        hw_json_number(out, "high", hw_order_in_unit(row, row->high), 2);
        hw_json_text(out, "unit", row->is_angle ? "deg" : "mm");
        hw_json_text(out, "source", row->source);
        hw_json_close(out);
    }
    hw_json_close(out);
}

hw_status answer_vocabulary(api_call *call)
{
    int substances = 0, conditions = 0;
    hw_json_out out = api_begin(call);
    hw_json_open(&out, "findings", '[');
    for (int i = 0; i < HW_FINDING_COUNT; i++) write_finding(&out, &hw_finding_rows()[i]);
    hw_json_close(&out);
    write_acts(&out);
    write_order_words(&out);
    const hw_name_row *rows = hw_substance_rows(&substances);
    write_names(&out, "medicines", rows, substances);
    rows = hw_condition_rows(&conditions);
    write_names(&out, "conditions", rows, conditions);
    write_group_words(&out, "medicine_groups", hw_medicine_group_word, HW_MED_GROUPS);
    write_group_words(&out, "condition_groups", hw_condition_group_word, HW_COND_GROUPS);
    write_group_words(&out, "allergens", hw_allergen_word, HW_ALLERGEN_GROUPS);
    hw_json_text(&out, "rules", HW_RULES_VERSION);
    return api_end(call, &out);
}

static void write_acts_of(hw_json_out *out, hw_acts acts)
{
    hw_json_open(out, "acts", '[');
    for (int i = 0; i < HW_ACT_COUNT; i++)
        if (acts & 1u << i) hw_json_text(out, NULL, hw_act_rows()[i].word);
    hw_json_close(out);
}

static void write_rule(hw_json_out *out, const hw_rule *rule)
{
    static const char *const kinds[] = {"caution", "stop", "never"};
    const hw_source *source = hw_source_by_key(rule->source);
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "id", rule->id);
    hw_json_text(out, "kind", kinds[rule->kind]);
    write_acts_of(out, rule->acts);
    hw_json_bool(out, "unanswered_holds", rule->unanswered == HW_UNANSWERED_HOLDS);
    hw_json_text(out, "urgency", hw_urgency_word(rule->urgency));
    hw_json_text(out, "sentence", rule->sentence);
    hw_json_text(out, "source", rule->source);
    hw_json_text(out, "citation", source ? source->citation : NULL);
    hw_json_text(out, "status", source ? source->status : NULL);
    hw_json_bool(out, "retired", rule->retired);
    hw_json_close(out);
}

static void write_rules(hw_json_out *out, const char *key, const hw_rule *rules, int count)
{
    hw_json_open(out, key, '[');
    for (int i = 0; i < count; i++) write_rule(out, &rules[i]);
    hw_json_close(out);
}

hw_status answer_rules(api_call *call)
{
    int count = 0;
    hw_json_out out = api_begin(call);
    hw_json_text(&out, "version", HW_RULES_VERSION);
    const hw_rule *rules = hw_rule_rows(&count);
    write_rules(&out, "rules", rules, count);
    rules = hw_red_flag_rows(&count);
    write_rules(&out, "red_flags", rules, count);
    return api_end(call, &out);
}

static void write_source(hw_json_out *out, const hw_source *source)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "key", source->key);
    hw_json_text(out, "citation", source->citation);
    hw_json_text(out, "says", source->says);
    hw_json_text(out, "design", source->design);
    hw_json_text(out, "size", source->size);
    hw_json_text(out, "status", source->status);
    hw_json_text(out, "checked_by", source->checked_by);
    hw_json_text(out, "checked_on", source->checked_on);
    hw_json_close(out);
}

static void write_evidence(hw_json_out *out, const hw_evidence *row)
{
    hw_json_open(out, NULL, '{');
    write_acts_of(out, row->acts);
    hw_json_number(out, "weeks_low", row->weeks_low, 1);
    hw_json_number(out, "weeks_high", row->weeks_high, 1);
    hw_json_text(out, "text", row->text);
    hw_json_text(out, "source", row->source);
    hw_json_close(out);
}

hw_status answer_evidence(api_call *call)
{
    int count = 0;
    hw_json_out out = api_begin(call);
    const hw_evidence *rows = hw_evidence_rows(&count);
    hw_json_open(&out, "evidence", '[');
    for (int i = 0; i < count; i++) write_evidence(&out, &rows[i]);
    hw_json_close(&out);
    const hw_source *sources = hw_source_rows(&count);
    hw_json_open(&out, "sources", '[');
    for (int i = 0; i < count; i++) write_source(&out, &sources[i]);
    hw_json_close(&out);
    return api_end(call, &out);
}

hw_status answer_trials(api_call *call)
{
    hw_bytes text = {0};
    hw_store_rows kept = {0};
    const hw_store_query query = {.kind = "trial"};
    const hw_json **bodies = NULL;
    hw_trial *own = NULL;
    HW_TRY(hw_store_list(call->job, call->api->store, &query, call->into, &kept));
    HW_ALLOC(call->job, call->into, bodies, kept.count + 1);
    for (int i = 0; i < kept.count; i++)
        HW_TRY(hw_json_read(call->job, kept.rows[i].body, call->into, &bodies[i]));
    HW_TRY(hw_trials_read(call->job, bodies, kept.count, call->into, &own, &call->faults));
    HW_TRY(hw_report_trials_json(call->job, own, kept.count, call->into, &text));
    return api_json(call, text);
}

hw_status answer_scales(api_call *call)
{
    hw_bytes text = {0};
    HW_TRY(hw_report_scales_json(call->job, call->into, &text));
    return api_json(call, text);
}

hw_status answer_scores(api_call *call)
{
    hw_bytes text = {0};
    HW_TRY(hw_app_scores(call->job, call->request->body, call->into, &text, &call->faults));
    return api_json(call, text);
}

// Ratings are asked about, not stored: the page sends what it shows.
hw_status answer_course(api_call *call)
{
    hw_bytes text = {0};
    HW_TRY(hw_app_follow(call->job, call->request->body, call->into, NULL, &text, &call->faults));
    return api_json(call, text);
}
