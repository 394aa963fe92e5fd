// SPDX-License-Identifier: GPL-3.0-or-later
// The books as JSON for the page and as tables to take away.
#include "app/app.h"
#include "csv.h"
#include "json/json.h"

static void write_quality(hw_json_out *json, const hw_app_books *of)
{
    hw_json_open(json, "quality", '[');
    for (int i = 0; i < of->quality_count; i++) {
        hw_json_open(json, NULL, '{');
        hw_json_text(json, "what", of->quality[i].what);
        hw_json_int(json, "have", of->quality[i].have);
        hw_json_int(json, "of", of->quality[i].of);
        hw_json_close(json);
    }
    hw_json_close(json);
}

static void write_recalls(hw_json_out *json, const hw_app_books *of)
{
    char date[HW_DATE_TEXT];
    hw_json_open(json, "recalls", '[');
    for (int i = 0; i < of->recall_count; i++) {
        const hw_app_recall *one = &of->recalls[i];
        hw_json_open(json, NULL, '{');
        hw_json_text(json, "person", one->person);
        hw_json_text(json, "code", one->code);
        hw_json_text(json, "name", one->name);
        if (one->side != HW_SIDE_UNKNOWN) hw_json_text(json, "foot", hw_side_word(one->side));
        hw_json_text(json, "last_seen", hw_date_text(one->last_seen, date));
        hw_json_int(json, "days", one->days);
        hw_json_int(json, "urgency", one->urgency);
        hw_json_text(json, "why", one->why);
        hw_json_close(json);
    }
    hw_json_close(json);
}

static void write_events(hw_json_out *json, const hw_app_books *of)
{
    char date[HW_DATE_TEXT];
    hw_json_open(json, "adverse_events", '[');
    for (int i = 0; i < of->given_count; i++) {
        const hw_app_given *act = &of->given[i];
        if (!act->event) continue;
        hw_json_open(json, NULL, '{');
        hw_json_text(json, "person", act->person);
        hw_json_text(json, "code", act->code);
        hw_json_text(json, "act", act->act);
        if (act->side != HW_SIDE_UNKNOWN) hw_json_text(json, "foot", hw_side_word(act->side));
        hw_json_text(json, "date", hw_date_text(act->date, date));
        hw_json_text(json, "event", act->event);
        hw_json_close(json);
    }
    hw_json_close(json);
}

hw_status hw_app_books_json(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    hw_bytes caseload = {0};
    char date[HW_DATE_TEXT];
    HW_TRY(hw_report_caseload_json(job, &of->caseload, into, &caseload));
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "today", hw_date_text(of->today, date));
    hw_json_int(&json, "people", of->people);
    hw_json_int(&json, "visits", of->visits);
    hw_json_raw(&json, "caseload", caseload);
    write_events(&json, of);
    write_recalls(&json, of);
    write_quality(&json, of);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}

// -- tables

static const char *yes_or_no(bool truth)
{
    return truth ? "yes" : "no";
}

static const char *side_word(hw_side side)
{
    return side == HW_SIDE_UNKNOWN ? NULL : hw_side_word(side);
}

static hw_maybe weeks_until_gone(const hw_heel_course *course, double gone)
{
    for (int i = 0; i < course->count; i++)
        if (course->scores[i].score <= gone) return hw_known(course->scores[i].week);
    return (hw_maybe){0};
}

static void heel_row(csv *to, const hw_app_books *of, int index)
{
    const hw_app_heel *heel = &of->heels[index];
    const hw_heel_course *course = &of->courses[index];
    const hw_pain_score *first = &course->scores[0], *last = &course->scores[course->count - 1];
    bool is_followed = course->count > 1;
    csv_text(to, heel->code);
    csv_text(to, side_word(heel->side));
    csv_text(to, heel->sex);
    csv_maybe(to, course->age_years, 0);
    csv_maybe(to, heel->bmi, 1);
    csv_maybe(to, course->onset_weeks, 0);
    csv_date(to, heel->first_visit);
    csv_date(to, heel->first_rated);
    csv_date(to, heel->last_rated);
    csv_int(to, course->count);
    csv_maybe(to, hw_known(first->score), 1);
    csv_maybe(to, hw_known(last->score), 1);
    csv_maybe(to, hw_known(last->week), 4);
    csv_text(to, is_followed ? yes_or_no(first->score - last->score >= of->caseload.matters - 1e-9)
                             : NULL);
    csv_text(to, is_followed ? yes_or_no(last->score <= of->caseload.gone) : NULL);
    csv_maybe(to, weeks_until_gone(course, of->caseload.gone), 4);
    csv_text(to, course->act);
    csv_int(to, heel->given);
    csv_int(to, heel->events);
    csv_row(to);
}

static hw_status heels_table(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("heels.csv", into);
    for (int i = 0; i < of->heel_count; i++) heel_row(&to, of, i);
    return csv_end(job, &to, out);
}

static hw_status scores_table(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("scores.csv", into);
    for (int i = 0; i < of->heel_count; i++)
        for (int k = 0; k < of->courses[i].count; k++) {
            csv_text(&to, of->heels[i].code);
            csv_text(&to, side_word(of->heels[i].side));
            csv_maybe(&to, hw_known(of->courses[i].scores[k].week), 4);
            csv_maybe(&to, hw_known(of->courses[i].scores[k].score), 1);
            csv_row(&to);
        }
    return csv_end(job, &to, out);
}

static hw_status treatments_table(hw_job *job, const hw_app_books *of, hw_arena *into,
                                  hw_bytes *out)
{
    csv to = csv_begin("treatments.csv", into);
    for (int i = 0; i < of->given_count; i++) {
        csv_text(&to, of->given[i].code);
        csv_text(&to, side_word(of->given[i].side));
        csv_date(&to, of->given[i].date);
        csv_text(&to, of->given[i].act);
        csv_text(&to, of->given[i].event);
        csv_row(&to);
    }
    return csv_end(job, &to, out);
}

static void share_fields(csv *to, const hw_heel_share *share)
{
    bool has = share->of > 0;
    csv_int(to, share->count);
    csv_maybe(to, (hw_maybe){share->share.estimate, has}, 4);
    csv_maybe(to, (hw_maybe){share->share.low, has}, 4);
    csv_maybe(to, (hw_maybe){share->share.high, has}, 4);
}

static void group_row(csv *to, const hw_heel_group *group)
{
    bool has = group->followed > 0, has_funnel = has && group->act;
    csv_text(to, group->act ? group->act : "all");
    csv_int(to, group->heels);
    csv_int(to, group->followed);
    csv_int(to, group->lost);
    csv_maybe(to, group->first_score, 1);
    csv_maybe(to, group->onset_weeks, 0);
    csv_maybe(to, group->age_years, 0);
    share_fields(to, &group->better);
    share_fields(to, &group->gone);
    csv_maybe(to, (hw_maybe){group->median_change, has}, 2);
    csv_maybe(to, has ? group->until_gone.median : (hw_maybe){0}, 1);
    csv_maybe(to, group->against_forecast, 2);
    csv_maybe(to, (hw_maybe){group->against_low, group->against_forecast.known}, 2);
    csv_maybe(to, (hw_maybe){group->against_high, group->against_forecast.known}, 2);
    csv_maybe(to, (hw_maybe){group->funnel_low, has_funnel}, 4);
    csv_maybe(to, (hw_maybe){group->funnel_high, has_funnel}, 4);
    csv_text(to, has_funnel ? yes_or_no(group->outside_funnel) : NULL);
    csv_row(to);
}

static hw_status summary_table(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("summary.csv", into);
    group_row(&to, &of->caseload.all);
    for (int i = 0; i < of->caseload.act_count; i++) group_row(&to, &of->caseload.acts[i]);
    return csv_end(job, &to, out);
}

static hw_status control_table(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("control.csv", into);
    for (int i = 0; i < of->caseload.control_count; i++) {
        const hw_control_step *step = &of->caseload.control[i];
        csv_date(&to, (hw_date){step->day, true});
        csv_text(&to, yes_or_no(step->better));
        csv_maybe(&to, hw_known(step->sum), 4);
        csv_text(&to, yes_or_no(step->signal));
        csv_row(&to);
    }
    return csv_end(job, &to, out);
}

static hw_status harms_table(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("harms.csv", into);
    for (int i = 0; i < of->caseload.harm_count; i++) {
        const hw_act_harm *harm = &of->caseload.harms[i];
        csv_text(&to, harm->act);
        csv_int(&to, harm->given);
        csv_int(&to, harm->events);
        csv_maybe(&to, hw_known(harm->share.estimate), 4);
        csv_maybe(&to, hw_known(harm->share.low), 4);
        csv_maybe(&to, hw_known(harm->share.high), 4);
        csv_row(&to);
    }
    return csv_end(job, &to, out);
}

static hw_status quality_table(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("quality.csv", into);
    for (int i = 0; i < of->quality_count; i++) {
        csv_text(&to, of->quality[i].what);
        csv_int(&to, of->quality[i].have);
        csv_int(&to, of->quality[i].of);
        csv_row(&to);
    }
    return csv_end(job, &to, out);
}

static hw_status recalls_table(hw_job *job, const hw_app_books *of, hw_arena *into, hw_bytes *out)
{
    csv to = csv_begin("recalls.csv", into);
    for (int i = 0; i < of->recall_count; i++) {
        csv_text(&to, of->recalls[i].code);
        csv_text(&to, of->recalls[i].name);
        csv_text(&to, side_word(of->recalls[i].side));
        csv_date(&to, of->recalls[i].last_seen);
        csv_text(&to, of->recalls[i].why);
        csv_row(&to);
    }
    return csv_end(job, &to, out);
}

hw_status hw_app_books_tables(hw_job *job, const hw_app_books *of, hw_arena *into, hw_file_set *out)
{
    static const struct {
        const char *name;
        hw_status (*write)(hw_job *, const hw_app_books *, hw_arena *, hw_bytes *);
    } tables[] = {
        {"heels.csv", heels_table},           {"scores.csv", scores_table},
        {"treatments.csv", treatments_table}, {"summary.csv", summary_table},
        {"control.csv", control_table},       {"harms.csv", harms_table},
        {"quality.csv", quality_table},       {"recalls.csv", recalls_table},
    };
    enum { TABLES = sizeof tables / sizeof *tables };
    const char *names[TABLES + 2] = {0};
    hw_file_set files = {0};
    hw_bytes bytes = {0};
    for (int i = 0; i < TABLES; i++) {
        names[i] = tables[i].name;
        HW_TRY(tables[i].write(job, of, into, &bytes));
        HW_TRY(hw_file_set_add(job, &files, tables[i].name, bytes));
    }
    names[TABLES] = "dictionary.csv";
    HW_TRY(csv_dictionary(job, names, into, &bytes));
    HW_TRY(hw_file_set_add(job, &files, "dictionary.csv", bytes));
    *out = files;
    return HW_OK;
}
