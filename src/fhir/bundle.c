// SPDX-License-Identifier: GPL-3.0-or-later
// The documents, the whole bundle, and the case file out of one.
#include "fhir_internal.h"

#include <stdio.h>
#include <string.h>

typedef struct paper {
    const char *ending, *type, *loinc, *display;
} paper;

// R4 c80-doc-typecodes.
static const paper papers[] = {
    {"letter.pdf", "application/pdf", "57133-1", "Referral note"},
    {"consent.pdf", "application/pdf", "59284-0", "Patient Consent"},
    {"patient.pdf", "application/pdf", "34895-3", "Education note"},
    {".pdf", "application/pdf", NULL, NULL},
    {".stl", "model/stl", NULL, NULL},
    {".3mf", "model/3mf", NULL, NULL},
    {".ics", "text/calendar", NULL, NULL},
    {".json", "application/json", NULL, NULL},
};

static const paper *paper_of(const char *name)
{
    for (size_t i = 0; i < sizeof papers / sizeof *papers; i++) {
        size_t end = strlen(papers[i].ending), all = strlen(name);
        if (all >= end && strcmp(name + all - end, papers[i].ending) == 0) return &papers[i];
    }
    return NULL;
}

static hw_status document(fhir_out *out, const char *title, hw_bytes bytes, const char *data)
{
    char name[120];
    unsigned char digest[FHIR_SHA1];
    const char *hash = NULL;
    const paper *of = data ? NULL : paper_of(title);
    fhir_sha1(bytes, digest);
    HW_TRY(fhir_base64(out->job, (hw_bytes){digest, FHIR_SHA1}, out->tmp, &hash));
    snprintf(name, sizeof name, "document-%.100s", title);
    fhir_open(out, "DocumentReference", name);
    hw_json_text(&out->json, "status", "current");
    fhir_concept(out, "type", of && of->loinc ? "http://loinc.org" : NULL, of ? of->loinc : NULL,
                 of && of->display ? of->display : title);
    fhir_reference(out, "subject", "patient");
    hw_json_open(&out->json, "content", '[');
    hw_json_open(&out->json, NULL, '{');
    hw_json_open(&out->json, "attachment", '{');
    hw_json_text(&out->json, "contentType",
                 data ? "application/json"
                 : of ? of->type
                      : "application/octet-stream");
    if (data) hw_json_text(&out->json, "data", data);
    hw_json_int(&out->json, "size", (long)bytes.count);
    hw_json_text(&out->json, "hash", hash);
    hw_json_text(&out->json, "title", title);
    fhir_date(out, "creation", fhir_visit_date(out));
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    hw_json_close(&out->json);
    fhir_close(out);
    return HW_OK;
}

hw_status fhir_documents(fhir_out *out)
{
    const char *data = NULL;
    const hw_file_set *set = out->of->papers;
    HW_TRY(fhir_base64(out->job, out->of->case_file, out->tmp, &data));
    HW_TRY(document(out, FHIR_CASE_TITLE, out->of->case_file, data));
    for (int i = 0; set && i < set->count; i++)
        HW_TRY(document(out, set->files[i].name, set->files[i].bytes, NULL));
    return HW_OK;
}

hw_status hw_fhir_bundle(hw_job *job, const hw_fhir_visit *of, hw_arena *into, hw_bytes *out)
{
    if (!of->visit->findings.visit_date.known)
        return hw_fail(job, HW_BAD_INPUT, "the visit has no date: nothing can be exported of it");
    hw_scratch tmp = hw_scratch_begin(job, into);
    fhir_out to = {.json = hw_json_begin(into), .of = of, .job = job, .tmp = tmp.arena};
    char urn[FHIR_URN];
    hw_json_open(&to.json, NULL, '{');
    hw_json_text(&to.json, "resourceType", "Bundle");
    hw_json_text(&to.json, "id", fhir_urn(&to, "bundle", urn) + strlen("urn:uuid:"));
    if (of->visit->is_invented) {
        hw_json_open(&to.json, "meta", '{');
        hw_json_open(&to.json, "tag", '[');
        hw_json_open(&to.json, NULL, '{');
        hw_json_text(&to.json, "display", "INVENTED DATA, for demonstration only");
        hw_json_close(&to.json);
        hw_json_close(&to.json);
        hw_json_close(&to.json);
    }
    hw_json_text(&to.json, "type", "collection");
    hw_json_open(&to.json, "entry", '[');
    fhir_people(&to);
    fhir_conditions(&to);
    fhir_observations(&to);
    fhir_plan(&to);
    fhir_devices(&to);
    HW_TRY(fhir_documents(&to));
    hw_json_close(&to.json);
    hw_json_close(&to.json);
    hw_scratch_end(tmp);
    return hw_json_end(job, &to.json, out);
}

// The attachment that carries the case file; NULL where there is none.
static const hw_json *case_attachment(const hw_json *bundle)
{
    const hw_json *entries = hw_json_get(bundle, "entry");
    for (int i = 0; entries && entries->kind == HW_JSON_LIST && i < entries->count; i++) {
        const hw_json *content =
            hw_json_get(hw_json_get(&entries->items[i], "resource"), "content");
        if (!content || content->kind != HW_JSON_LIST || content->count == 0) continue;
        const hw_json *attachment = hw_json_get(&content->items[0], "attachment");
        const char *title = hw_json_text_at(attachment, "title", NULL);
        if (title && strcmp(title, FHIR_CASE_TITLE) == 0 &&
            hw_json_text_at(attachment, "data", NULL))
            return attachment;
    }
    return NULL;
}

hw_status hw_fhir_case(hw_job *job, hw_bytes bundle, hw_arena *into, hw_bytes *out)
{
    const hw_json *root = NULL;
    hw_bytes bytes = {0};
    unsigned char digest[FHIR_SHA1];
    const char *hash = NULL;
    hw_scratch tmp = hw_scratch_begin(job, into);
    HW_TRY(hw_json_read(job, bundle, tmp.arena, &root));
    const char *type = hw_json_text_at(root, "resourceType", NULL);
    if (!type || strcmp(type, "Bundle") != 0)
        return hw_fail(job, HW_BAD_FORMAT, "this is not a FHIR Bundle: resourceType is %.40s",
                       type ? type : "missing");
    const hw_json *attachment = case_attachment(root);
    if (!attachment)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the bundle carries no heelwright case file: only our own exports are read");
    HW_TRY(fhir_unbase64(job, hw_json_text_at(attachment, "data", NULL), into, &bytes));
    fhir_sha1(bytes, digest);
    HW_TRY(fhir_base64(job, (hw_bytes){digest, FHIR_SHA1}, tmp.arena, &hash));
    const char *wanted = hw_json_text_at(attachment, "hash", NULL);
    if (!wanted || strcmp(wanted, hash) != 0)
        return hw_fail(job, HW_BAD_FORMAT,
                       "the case file in the bundle is not what its hash was made of");
    hw_scratch_end(tmp);
    *out = bytes;
    return HW_OK;
}
