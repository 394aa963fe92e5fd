// SPDX-License-Identifier: GPL-3.0-or-later
// An invented clinic of an invented harbour town, for looking at the program. Its users'
// passphrases are made up anew each time, so that no known one opens any store.
#include "api_internal.h"
#include "meshfile/meshfile.h"

#include <stdio.h>
#include <string.h>

// What the demo is written with.
typedef struct stage {
    hw_job *job;
    hw_store *store;
    hw_arena *into;
    char owner[HW_STORE_ID], person[HW_STORE_ID];
    const char *name; // of the person being written
    hw_file_set files;
} stage;

static const struct {
    const char *login, *name, *role;
} cast[HW_API_DEMO_USERS] = {{"harbour", "Ingrid Molehead, owner (invented)", "owner"},
                             {"quay", "Tobias Quay, podiatrist (invented)", "clinician"},
                             {"ferry", "Lina Ferryman, assistant (invented)", "assistant"},
                             {"slipway", "Oskar Slipway, workshop (invented)", "maker"}};

static void make_passphrase(char out[static HW_API_PASSPHRASE])
{
    static const char *const words[32] = {
        "anchor",  "barge",   "beacon", "buoy",    "cable",  "canvas", "cleat",   "compass",
        "crane",   "dinghy",  "dock",   "eddy",    "ferry",  "fender", "gale",    "gangway",
        "gull",    "harbour", "hawser", "herring", "jetty",  "keel",   "lantern", "mast",
        "mooring", "net",     "oar",    "pier",    "rudder", "sail",   "tide",    "wharf"};
    unsigned char pick[4];
    hw_seal_random(pick, sizeof pick);
    snprintf(out, HW_API_PASSPHRASE, "%s-%s-%s-%u", words[pick[0] % 32], words[pick[1] % 32],
             words[pick[2] % 32], 100u + pick[3]);
}

static hw_status put(stage *on, hw_store_write *write, char id[static HW_STORE_ID])
{
    hw_store_head head;
    write->who = on->owner;
    write->why = "invented demo";
    HW_TRY(hw_store_put(on->job, on->store, write, 1, on->into, &head));
    snprintf(id, HW_STORE_ID, "%s", head.id);
    return HW_OK;
}

static hw_status add_user(stage *on, int i, hw_api_demo_user *out)
{
    api_user user = {.role = api_role_of(cast[i].role)};
    char hash[HW_SEAL_PASSWORD], id[HW_STORE_ID];
    hw_store_write write = {.kind = "user"};
    if (user.role & ROLES_TREATING) user.permissions = MAY_INJECT | MAY_FOCUSED_SHOCKWAVE;
    snprintf(user.login, sizeof user.login, "%s", cast[i].login);
    snprintf(user.name, sizeof user.name, "%s", cast[i].name);
    out->login = cast[i].login;
    out->role = cast[i].role;
    make_passphrase(out->passphrase);
    HW_TRY(hw_seal_password(on->job, out->passphrase, hash));
    HW_TRY(api_user_body(on->job, on->into, &user, hash, true, &write.body));
    if (i == 0) write.id = on->owner;
    return put(on, &write, id);
}

static hw_bytes text(const char *words)
{
    return (hw_bytes){(const unsigned char *)words, strlen(words)};
}

static hw_status find_file(stage *on, const char *name, hw_bytes *out)
{
    for (int i = 0; i < on->files.count; i++) {
        if (strcmp(on->files.files[i].name, name) != 0) continue;
        *out = on->files.files[i].bytes;
        return HW_OK;
    }
    return hw_fail(on->job, HW_NOT_FOUND, "the demo has no file %s", name);
}

static hw_status keep_scan(stage *on, const char *name, char hash[static HW_STORE_HASH])
{
    hw_bytes stl = {0}, ply = {0};
    hw_mesh mesh = {0};
    HW_TRY(find_file(on, name, &stl));
    HW_TRY(hw_meshfile_read(on->job, stl, on->into, &mesh, NULL));
    HW_TRY(hw_meshfile_ply(on->job, &mesh, on->into, &ply));
    hw_store_file file = {.bytes = ply, .person = on->person, .who = on->owner};
    return hw_store_file_put(on->job, on->store, &file, hash);
}

static hw_status write_scan(stage *on, hw_json_out *json, const hw_json *scan)
{
    const char *file = hw_json_text_at(scan, "file", "");
    char hash[HW_STORE_HASH];
    HW_TRY(keep_scan(on, file, hash));
    hw_json_open(json, "scan", '{');
    hw_json_text(json, "file", hash);
    hw_json_text(json, "name", file);
    for (int i = 0; i < scan->count; i++)
        if (strcmp(scan->keys[i], "file") != 0) hw_json_tree(json, scan->keys[i], &scan->items[i]);
    hw_json_close(json);
    return HW_OK;
}

static hw_status write_foot(stage *on, hw_json_out *json, const char *side, const hw_json *foot)
{
    hw_json_open(json, side, '{');
    for (int i = 0; i < foot->count; i++) {
        if (strcmp(foot->keys[i], "scan") == 0)
            HW_TRY(write_scan(on, json, &foot->items[i]));
        else
            hw_json_tree(json, foot->keys[i], &foot->items[i]);
    }
    hw_json_close(json);
    return HW_OK;
}

static hw_status write_feet(stage *on, hw_json_out *json, const hw_json *feet)
{
    hw_json_open(json, "feet", '{');
    for (int i = 0; i < feet->count; i++)
        HW_TRY(write_foot(on, json, feet->keys[i], &feet->items[i]));
    hw_json_close(json);
    return HW_OK;
}

// An invented day in the year of birth that the case has; the code scatters it.
static void write_born(hw_json_out *json, const hw_json *year, const char *code)
{
    char born[HW_DATE_TEXT];
    hw_date first = {0};
    int n = 0;
    for (const char *c = code; *c; c++) n = (31 * n + *c) % 1009;
    snprintf(born, sizeof born, "%04d-01-01", (int)year->number);
    if (!hw_date_parse(born, &first)) return;
    hw_json_text(json, "born", hw_date_text(hw_date_plus(first, n % 365), born));
}

static hw_status add_person(stage *on, const hw_json *the_case)
{
    const hw_json *person = hw_json_get(the_case, "person");
    const hw_json *year = hw_json_get(person, "birth_year");
    const char *code = hw_json_text_at(person, "code", "HB-0001");
    const char *sex = hw_json_text_at(person, "sex", NULL);
    hw_store_write write = {.kind = "person"};
    hw_json_out json = hw_json_begin(on->into);
    hw_json_open(&json, NULL, '{');
    hw_json_text(&json, "code", code);
    hw_json_text(&json, "name", on->name);
    if (year && year->kind == HW_JSON_NUMBER) write_born(&json, year, code);
    if (sex) hw_json_text(&json, "sex", sex);
    hw_json_bool(&json, "invented", true);
    hw_json_close(&json);
    HW_TRY(hw_json_end(on->job, &json, &write.body));
    return put(on, &write, on->person);
}

static hw_status add_visit(stage *on, const hw_json *the_case)
{
    char id[HW_STORE_ID];
    hw_store_write write = {.kind = "visit", .person = on->person};
    hw_json_out json = hw_json_begin(on->into);
    hw_json_open(&json, NULL, '{');
    for (int i = 0; i < the_case->count; i++) {
        if (strcmp(the_case->keys[i], "feet") == 0)
            HW_TRY(write_feet(on, &json, &the_case->items[i]));
        else
            hw_json_tree(&json, the_case->keys[i], &the_case->items[i]);
    }
    hw_json_close(&json);
    HW_TRY(hw_json_end(on->job, &json, &write.body));
    return put(on, &write, id);
}

static hw_status add_files(stage *on)
{
    hw_bytes case_file = {0};
    const hw_json *the_case = NULL;
    HW_TRY(find_file(on, "case.json", &case_file));
    HW_TRY(hw_json_read(on->job, case_file, on->into, &the_case));
    HW_TRY(add_person(on, the_case));
    return add_visit(on, the_case);
}

static hw_status add_bodies(stage *on, const char *kind, const hw_bytes *bodies, int count)
{
    for (int i = 0; i < count; i++) {
        char id[HW_STORE_ID];
        hw_store_write write = {.kind = kind, .person = on->person, .body = bodies[i]};
        HW_TRY(put(on, &write, id));
    }
    return HW_OK;
}

static hw_status add_other(stage *on, int index)
{
    hw_demo_person person = {0};
    hw_arena_mark mark = hw_arena_here(on->into);
    HW_TRY(hw_app_demo_person(on->job, 1, index, on->into, &person));
    on->files = person.visit;
    on->name = person.name;
    HW_TRY(add_files(on));
    HW_TRY(add_bodies(on, "treatment", person.treatments, person.treatment_count));
    HW_TRY(add_bodies(on, "score", person.scores, person.score_count));
    hw_arena_rewind(on->into, mark);
    return HW_OK;
}

static hw_status fill(stage *on, hw_api_demo_user *users)
{
    char id[HW_STORE_ID];
    hw_store_write clinic = {
        .kind = "clinic",
        .id = "clinic",
        .body = text("{\"name\": \"Harbour Street Foot Clinic (invented)\", \"invented\": true}")};
    hw_seal_id(on->owner);
    for (int i = 0; i < HW_API_DEMO_USERS; i++) HW_TRY(add_user(on, i, &users[i]));
    HW_TRY(put(on, &clinic, id));
    // The first is the person of `heelwright demo`; the others fill two years of the clinic's books.
    on->name = "Mara Tideway (invented)";
    HW_TRY(hw_app_demo_files(on->job, 1, on->into, &on->files));
    HW_TRY(add_files(on));
    for (int i = 0; i < HW_DEMO_PEOPLE; i++) HW_TRY(add_other(on, i));
    return HW_OK;
}

hw_status hw_api_demo(hw_job *job, hw_store *store,
                      hw_api_demo_user users[static HW_API_DEMO_USERS])
{
    bool has_users = false;
    stage on = {.job = job, .store = store, .into = hw_arena_new((size_t)1 << 30)};
    if (!on.into) return hw_fail(job, HW_NO_MEMORY, "no memory for the demo");
    hw_status status = hw_seal_start(job);
    if (status == HW_OK) status = api_has_users(job, store, on.into, &has_users);
    if (status == HW_OK && has_users)
        status = hw_fail(job, HW_CLASH, "the store is in use: the demo needs an empty one");
    if (status == HW_OK) status = fill(&on, users);
    hw_arena_free(on.into);
    return status;
}
