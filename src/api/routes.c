// SPDX-License-Identifier: GPL-3.0-or-later
// The table of routes. Rights, sizes and the documents come from it, and a test calls every row
// without rights, with others' rights, from elsewhere, and with bodies too long or cut.
#include "api_internal.h"

enum {
    NO_BODY = 256, // an empty object may come
    SMALL = 16 << 10,
    RECORD = 1 << 20,
    BUNDLE = 8 << 20,
    UPLOAD = 256 << 20,
};

static const api_route routes[] = {
    {"GET", "/api/session", ROLES_ANYONE, 0, HW_HTTP_QUICK, answer_session,
     "who is signed in, and the token for changes", false},
    {"POST", "/api/session", ROLES_ANYONE, SMALL, HW_HTTP_SLOW, answer_login, "sign in", false},
    {"DELETE", "/api/session", ROLES_ALL, NO_BODY, HW_HTTP_QUICK, answer_logout, "sign out", false},
    {"POST", "/api/first-use", ROLES_ANYONE, SMALL, HW_HTTP_SLOW, answer_first_use,
     "makes the first owner, with the code the program printed", false},
    {"POST", "/api/session/passphrase", ROLES_ALL, SMALL, HW_HTTP_SLOW, answer_new_passphrase,
     "a new passphrase for oneself", false},
    {"POST", "/api/second", ROLES_TREATING, SMALL, HW_HTTP_SLOW, answer_second,
     "a second clinician agrees to overrule a stop, by their own passphrase", false},

    {"GET", "/api/vocabulary", ROLES_ALL, 0, HW_HTTP_QUICK, answer_vocabulary,
     "findings, acts and the names the tables know", false},
    {"GET", "/api/rules", ROLES_ALL, 0, HW_HTTP_QUICK, answer_rules,
     "all rule rows with source and status", false},
    {"GET", "/api/evidence", ROLES_ALL, 0, HW_HTTP_QUICK, answer_evidence,
     "what was found about each act, and the sources", false},
    {"GET", "/api/milling", ROLES_ALL, 0, HW_HTTP_QUICK, answer_milling,
     "the clinic's milling table: machine, blocks, tools, choice to begin with", false},
    {"GET", "/api/trials", ROLES_ALL, 0, HW_HTTP_QUICK, answer_trials,
     "the trials, recomputed and pooled", false},
    {"GET", "/api/caseload", ROLES_MEDICAL, 0, HW_HTTP_SLOW, answer_caseload,
     "what became of all heels", false},
    {"GET", "/api/caseload/report", ROLES_MEDICAL, 0, HW_HTTP_SLOW, answer_audit_report,
     "the audit report as a PDF", false},
    {"POST", "/api/caseload/export", ROLE_OWNER, SMALL, HW_HTTP_SLOW, answer_export,
     "one table of the caseload, with or without people; written into the audit", false},
    {"POST", "/api/course", ROLES_MEDICAL, SMALL, HW_HTTP_QUICK, answer_course,
     "where one heel's ratings are going", false},
    {"GET", "/api/scales", ROLES_ALL, 0, HW_HTTP_QUICK, answer_scales,
     "the questionnaires that are scored, without anybody's wording", false},
    {"POST", "/api/scores", ROLES_MEDICAL, RECORD, HW_HTTP_QUICK, answer_scores,
     "questionnaires scored, with what matters and what is error", false},

    {"GET", "/api/people", ROLES_MEDICAL, 0, HW_HTTP_QUICK, answer_people, "search people", false},
    {"POST", "/api/people", ROLES_MEDICAL, SMALL, HW_HTTP_QUICK, answer_person_add, "a new person",
     false},
    {"GET", "/api/people/{id}", ROLES_MEDICAL, 0, HW_HTTP_QUICK, answer_person, "one person",
     false},
    {"PUT", "/api/people/{id}", ROLES_MEDICAL, SMALL, HW_HTTP_QUICK, answer_person_change,
     "change a person's data", false},
    {"POST", "/api/people/{id}/erase", ROLE_OWNER, SMALL, HW_HTTP_QUICK, answer_person_erase,
     "destroy the key of all that is this person's", false},
    {"POST", "/api/people/{id}/import", ROLES_TREATING, BUNDLE, HW_HTTP_QUICK, answer_import,
     "a visit out of a FHIR bundle of our own export", false},
    {"GET", "/api/people/{id}/treatment-record", ROLES_MEDICAL, 0, HW_HTTP_SLOW,
     answer_treatment_record, "all acts given to a person, as a PDF", false},
    {"POST", "/api/people/{id}/code", ROLES_MEDICAL, NO_BODY, HW_HTTP_QUICK, answer_person_code,
     "a one-time code for the score form in the waiting room", false},
    {"POST", "/api/score-form", ROLES_ANYONE, SMALL, HW_HTTP_QUICK, answer_score_form,
     "hand in a score form with its code", false},

    {"GET", "/api/people/{id}/records", ROLES_MEDICAL, 0, HW_HTTP_QUICK, answer_records,
     "a person's records of one kind", false},
    {"POST", "/api/people/{id}/records/{kind}", ROLES_MEDICAL, RECORD, HW_HTTP_QUICK,
     answer_record_add, "a new record", false},
    {"GET", "/api/records/{kind}/{id}", ROLES_MEDICAL, 0, HW_HTTP_QUICK, answer_record,
     "one record, one version", false},
    {"GET", "/api/records/{kind}/{id}/history", ROLES_MEDICAL, 0, HW_HTTP_QUICK,
     answer_record_history, "all versions of a record", false},
    {"PUT", "/api/records/{kind}/{id}", ROLES_MEDICAL, RECORD, HW_HTTP_QUICK, answer_record_change,
     "a new version of a record", false},
    {"POST", "/api/records/{kind}/{id}/undo", ROLES_MEDICAL, SMALL, HW_HTTP_QUICK,
     answer_record_undo, "a new version with an older body", false},

    {"PUT", "/api/people/{id}/files", ROLES_MEDICAL, UPLOAD, HW_HTTP_SLOW, answer_file_add,
     "keep a scan, read in a shut-in process", true},
    {"GET", "/api/files/{hash}", ROLES_ALL, 0, HW_HTTP_QUICK, answer_file,
     "a file's bytes; for makers those of released devices", false},
    {"PUT", "/api/people/{id}/images", ROLES_MEDICAL, UPLOAD, HW_HTTP_SLOW, answer_image_add,
     "keep an ultrasound picture, read in a shut-in process", true},
    {"GET", "/api/images/{hash}", ROLES_MEDICAL, 0, HW_HTTP_SLOW, answer_image,
     "one frame of a kept picture as PNG", false},
    {"POST", "/api/images/{hash}", ROLES_MEDICAL, SMALL, HW_HTTP_SLOW, answer_image_measure,
     "measure on a kept picture; propose the two edges of a band", false},
    {"POST", "/api/thickness-change", ROLES_MEDICAL, SMALL, HW_HTTP_QUICK, answer_thickness_change,
     "what became of a thickness between two visits, where it may be said", false},
    {"PUT", "/api/people/{id}/walks", ROLES_MEDICAL, UPLOAD, HW_HTTP_SLOW, answer_walk_add,
     "keep a recorded walk, read in a shut-in process", true},
    {"POST", "/api/walks/{hash}", ROLES_MEDICAL, SMALL, HW_HTTP_SLOW, answer_walk,
     "one stance of a kept walk, and the arch through it", false},
    {"PUT", "/api/people/{id}/pressures", ROLES_MEDICAL, UPLOAD, HW_HTTP_SLOW, answer_pressure_add,
     "keep plantar pressure, read in a shut-in process", true},
    {"POST", "/api/pressures/{hash}", ROLES_MEDICAL, SMALL, HW_HTTP_SLOW, answer_pressure,
     "plantar pressure by region", false},
    {"GET", "/api/devices", ROLES_ALL, 0, HW_HTTP_QUICK, answer_devices,
     "devices of a person's code: all that a maker sees", false},

    {"POST", "/api/visits/{id}/compute", ROLES_MEDICAL, RECORD, HW_HTTP_QUICK, answer_compute,
     "compute a visit, or a trial of it", false},
    {"GET", "/api/jobs/{id}", ROLES_MEDICAL, 0, HW_HTTP_QUICK, answer_job, "how far a job is",
     false},
    {"POST", "/api/jobs/{id}/cancel", ROLES_MEDICAL, NO_BODY, HW_HTTP_QUICK, answer_job_cancel,
     "stop a job", false},
    {"GET", "/api/events", ROLES_ALL, 0, HW_HTTP_QUICK, answer_events,
     "progress of jobs and changes of records, as they happen", false},

    {"GET", "/api/users", ROLE_OWNER, 0, HW_HTTP_QUICK, answer_users, "who may sign in", false},
    {"POST", "/api/users", ROLE_OWNER, SMALL, HW_HTTP_SLOW, answer_user_add, "a new user", false},
    {"PUT", "/api/users/{id}", ROLE_OWNER, SMALL, HW_HTTP_SLOW, answer_user_change,
     "change a user's name, role, permissions or passphrase, or shut the user out", false},
    {"GET", "/api/workers", ROLE_OWNER, 0, HW_HTTP_QUICK, answer_guests,
     "machines that compute for this clinic without its key", false},
    {"POST", "/api/workers", ROLE_OWNER, SMALL, HW_HTTP_QUICK, answer_guest_add,
     "register such a machine by its line", false},
    {"POST", "/api/workers/{id}/withdraw", ROLE_OWNER, NO_BODY, HW_HTTP_QUICK,
     answer_guest_withdraw, "no job is open to that machine any more", false},
    {"GET", "/api/clinic", ROLES_ALL, 0, HW_HTTP_QUICK, answer_clinic, "the clinic's settings",
     false},
    {"PUT", "/api/clinic", ROLE_OWNER, RECORD, HW_HTTP_QUICK, answer_clinic_change,
     "change the clinic's settings", false},
    {"GET", "/api/audit", ROLE_OWNER, 0, HW_HTTP_QUICK, answer_audit, "who wrote what and when",
     false},
    {"POST", "/api/backup", ROLE_OWNER, NO_BODY, HW_HTTP_SLOW, answer_backup,
     "a sealed backup beside the data", false},
    {"GET", "/api/verify", ROLE_OWNER, 0, HW_HTTP_SLOW, answer_verify,
     "walk the whole chain and say what is wrong", false},
};

const api_route *api_routes(int *count)
{
    *count = sizeof routes / sizeof *routes;
    return routes;
}

static void write_route(hw_json_out *out, const api_route *route)
{
    hw_json_open(out, NULL, '{');
    hw_json_text(out, "method", route->method);
    hw_json_text(out, "path", route->pattern);
    hw_json_open(out, "who", '[');
    for (unsigned role = 1; role <= ROLE_MAKER; role *= 2)
        if (route->who & role) hw_json_text(out, NULL, api_role_word(role));
    hw_json_close(out);
    hw_json_int(out, "limit_bytes", (long)route->limit);
    hw_json_text(out, "body", route->is_binary ? "bytes" : route->limit ? "json" : "none");
    hw_json_text(out, "what", route->what);
    hw_json_close(out);
}

hw_status hw_api_routes(hw_job *job, hw_arena *into, hw_bytes *out)
{
    hw_json_out json = hw_json_begin(into);
    hw_json_open(&json, NULL, '[');
    for (size_t i = 0; i < sizeof routes / sizeof *routes; i++) write_route(&json, &routes[i]);
    hw_json_close(&json);
    return hw_json_end(job, &json, out);
}
