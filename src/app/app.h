// SPDX-License-Identifier: GPL-3.0-or-later
//
// app: one function per thing a clinician does. Both doors, the shell and the page, call these.
//
//     hw_report report = {0};
//     HW_TRY(hw_app_visit_at(job, "case.json", HW_APP_ALL, into, &report, &faults));
//     HW_TRY(hw_app_visit_files(job, &report, into, &files));
//     HW_TRY(hw_file_set_write(job, &files, "out"));
//
// It joins the modules and adds no rule, formula or unit of its own.
#ifndef HW_APP_H
#define HW_APP_H

#include "app_caseload.h" // IWYU pragma: export
#include "files/files.h"
#include "report/report.h"
#include "sandbox/sandbox.h"

/// What a job may take: a scan of 20 million triangles needs most of it.
#define HW_APP_MEMORY_BYTES ((size_t)6 << 30)

/// Parts of a visit; a part brings what it stands on.
enum {
    HW_APP_LOAD = 1,
    HW_APP_ORTHOSIS = 2,
    HW_APP_PLAN = 4,
    HW_APP_CAUSES = 8,       // with the load: why it is so high and what would bring it down
    HW_APP_PRESS = 16,       // in full: spread of the measures, all finite elements of the orthosis
    HW_APP_SEARCH_LEFT = 32, // a better device for this foot: with the orthosis; long
    HW_APP_SEARCH_RIGHT = 64,
    HW_APP_ALL = 15,
    HW_APP_MILL = 128,       // milling programs: see hw_app_mill
    HW_APP_LEFT_ALONE = 256, // while a slider moves: nothing of the other foot, no fit map
    HW_APP_RIGHT_ALONE = 512,
};

/// Where the files that a case names come from: a folder, a store.
typedef struct hw_app_source {
    /// The whole file of that name; fails as hw_file_read.
    hw_status (*read)(hw_job *job, void *from, const char *name, hw_arena *into, hw_bytes *out);
    void *from;
} hw_app_source;

/// A folder, which must outlive the source.
hw_app_source hw_app_folder(const char *folder);

/// Files from outside that are parsed in a shut-in process only.
typedef enum hw_app_kind {
    HW_APP_READ_SCAN,     // becomes a PLY
    HW_APP_READ_IMAGE,    // a packed picture: hw_image_unpack
    HW_APP_READ_WALK,     // by hw_app_read_walk; becomes a packed walk
    HW_APP_READ_PRESSURE, // stays as it is where it is a matrix of numbers
    HW_APP_READS,
} hw_app_kind;

/// Their tasks, for hw_sandbox_child at the top of main.
const hw_sandbox_task *hw_app_tasks(int *count);

/// Parses the bytes in a shut-in process.
///
///   fails   as hw_meshfile_read, hw_image_read and hw_sandbox_run
HW_MUST_USE hw_status hw_app_read(hw_job *job, hw_app_kind kind, hw_bytes bytes, hw_arena *into,
                                  hw_bytes *out);

/// A walk in the same way. m_per_unit: of a table that names no unit of length; 0: not said.
///
///   fails   HW_BAD_INPUT a unit there is not, or that must be said;  as hw_gait_read
HW_MUST_USE hw_status hw_app_read_walk(hw_job *job, hw_bytes file, double m_per_unit,
                                       hw_arena *into, hw_bytes *out);

/// An ultrasound picture: read (shut in, unless it is packed already), measured, traced, as asked.
///
///   fails   as hw_app_read, hw_us_measure and hw_us_trace
HW_MUST_USE hw_status hw_app_image(hw_job *job, hw_bytes file, const hw_image_ask *ask,
                                   hw_arena *into, hw_image_result *out);
/// The same of a file on disk.
HW_MUST_USE hw_status hw_app_image_at(hw_job *job, const char *path, const hw_image_ask *ask,
                                      hw_arena *into, hw_image_result *out);

/// The frame as PNG, with the trace drawn in.
HW_MUST_USE hw_status hw_app_image_png(hw_job *job, const hw_image_result *result, hw_arena *into,
                                       hw_bytes *out);

/// What is asked of a recorded walk: which stance, whose arch.
typedef struct hw_walk_ask {
    hw_gait_ask read;
    hw_gait_walker walker; // mass_kg 0: no stance is sought
} hw_walk_ask;

/// A walk, read shut in, with its stance and arch as far as asked; `forces` may be empty.
///
///   fails   as hw_app_read, hw_gait_join, hw_gait_find_stance and hw_gait_arch
HW_MUST_USE hw_status hw_app_walk(hw_job *job, hw_bytes file, hw_bytes forces,
                                  const hw_walk_ask *ask, hw_arena *into, hw_walk_result *out);
/// The same of files on disk; `forces_path` may be NULL.
HW_MUST_USE hw_status hw_app_walk_at(hw_job *job, const char *path, const char *forces_path,
                                     const hw_walk_ask *ask, hw_arena *into, hw_walk_result *out);

/// Plantar pressure by region, and the stance of a film where mass_kg is over 0.
///
///   fails   as hw_pressure_read, hw_pressure_measure and hw_pressure_stance
HW_MUST_USE hw_status hw_app_pressure(hw_job *job, hw_bytes file, const hw_pressure_ask *ask,
                                      double mass_kg, hw_arena *into, hw_pressure_result *out);
/// The same of a file on disk.
HW_MUST_USE hw_status hw_app_pressure_at(hw_job *job, const char *path, const hw_pressure_ask *ask,
                                         double mass_kg, hw_arena *into, hw_pressure_result *out);

/// The forces this foot walks with: recorded ones where the case names a walk or a film of pressure, the norm's
/// for what they do not hold.
///
///   is_own  false: nothing was recorded, out is the norm's
///   fails   as hw_app_walk, hw_app_pressure and source->read
HW_MUST_USE hw_status hw_app_own_walk(hw_job *job, const hw_visit *visit, hw_side side,
                                      hw_maybe foot_length_m, const hw_app_source *source,
                                      hw_arena *into, hw_mech_own_walk *out, bool *is_own);

/// One scan file, posed and measured.
///
///   fails   HW_BAD_FORMAT, HW_BAD_INPUT (not a foot, a question that must be answered),
///           HW_NO_MEMORY
HW_MUST_USE hw_status hw_app_foot(hw_job *job, hw_bytes file, const hw_scan_ask *ask,
                                  hw_arena *into, hw_scan_result *out);

/// The same from a path; fails also as hw_file_read.
HW_MUST_USE hw_status hw_app_foot_at(hw_job *job, const char *path, const hw_scan_ask *ask,
                                     hw_arena *into, hw_scan_result *out);

/// One or both feet of a scan file: hw_scan_feet.
HW_MUST_USE hw_status hw_app_feet(hw_job *job, hw_bytes file, const hw_scan_ask *ask,
                                  hw_arena *into, hw_scan_pair *out);
/// The same of a file on disk.
HW_MUST_USE hw_status hw_app_feet_at(hw_job *job, const char *path, const hw_scan_ask *ask,
                                     hw_arena *into, hw_scan_pair *out);

/// Two scan files laid onto each other, both with spread.
///
///   scans   gets both
///   fails   as hw_app_foot_at and hw_scan_compare
HW_MUST_USE hw_status hw_app_compare_at(hw_job *job, const char *const paths[2],
                                        const hw_scan_ask *ask, hw_arena *into,
                                        hw_scan_result scans[2], hw_scan_comparison *out);

/// A visit from its case and the scans it names.
///
///   parts    HW_APP_...; the plan is always computed: it says whether anything is released
///   faults   all faults of the case file
///   fails    as hw_app_foot, source->read and hw_visit_read; HW_BAD_INPUT when the case's side and
///            the side inferred from its scan disagree: then nothing is made
HW_MUST_USE hw_status hw_app_visit(hw_job *job, hw_bytes case_file, const hw_app_source *source,
                                   int parts, hw_arena *into, hw_report *out, hw_faults *faults);

/// The same from the path of a case file, scans beside it.
HW_MUST_USE hw_status hw_app_visit_at(hw_job *job, const char *case_path, int parts, hw_arena *into,
                                      hw_report *out, hw_faults *faults);

/// What a search varies and how long it looks.
typedef struct hw_search_ask {
    hw_order_term terms[HW_SEARCH_TERMS];
    int term_count;       // 0: thickness, arch fill, heel cup
    double widest_fill_m; // the arch is kept within so much of the scanned one; 0: 6 mm
    int evaluations;      // designs shaped and pressed; 0: 180
    bool is_quick;        // the front is not solved finally
} hw_search_ask;

/// The trade-off between relief of the fascia in mid-stance and the greatest pressure under the arch,
/// over the chosen terms, subject to pressures elsewhere, stress, shoe room and what can be made.
/// Relief is what all but one in twenty tissue sets get.
///
///   foot     with scan, order and orthosis
///   fails    HW_BAD_INPUT no device, no mass; HW_NO_ANSWER no design keeps all limits;
///            HW_NO_MEMORY; HW_CANCELLED
///   cost     about 0.7 core-seconds a design and 1.5 a design of the front, over all cores
HW_MUST_USE hw_status hw_app_search(hw_job *job, const hw_visit *visit, const hw_report_foot *foot,
                                    const hw_search_ask *ask, hw_arena *into, hw_search *out);

/// The files of a visit: an STL and a 3MF a foot, plan.pdf, letter.pdf, patient.pdf,
/// order.pdf and fit.pdf where there is a device, consent.pdf where an injection or shockwave is available,
/// plan.ics of a released plan, visit.json. What is not released says so in its name and inside.
HW_MUST_USE hw_status hw_app_visit_files(hw_job *job, const hw_report *report, hw_arena *into,
                                         hw_file_set *out);

/// What the page shows while a slider moves: visit.json, press.json and the surfaces; no papers.
HW_MUST_USE hw_status hw_app_sketch_files(hw_job *job, const hw_report *report, hw_arena *into,
                                          hw_file_set *out);

/// What the page shows: the files above, visit-bundle.json where `case_file` is given,
/// walk.json, press.json, fit.json, load.pdf, and for each foot SIDE_foot.mesh and SIDE_orthosis.mesh:
/// hw_meshfile_page, foot frame, in the side's own shape (a right foot's y is medial +).
HW_MUST_USE hw_status hw_app_page_files(hw_job *job, const hw_report *report, hw_bytes case_file,
                                        hw_arena *into, hw_file_set *out);

/// The visit as an HL7 FHIR R4 Bundle, visit-bundle.json, with size and hash of its papers.
///
///   fails   as hw_app_visit_at and hw_fhir_bundle
HW_MUST_USE hw_status hw_app_fhir_at(hw_job *job, const char *case_path, hw_arena *into,
                                     hw_file_set *out, hw_faults *faults);

/// The same of a visit that is computed already.
///
///   case_file   its bytes, carried in the bundle
///   papers      named in it with size and hash
HW_MUST_USE hw_status hw_app_fhir(hw_job *job, const hw_report *report, hw_bytes case_file,
                                  const hw_file_set *papers, hw_arena *into, hw_bytes *out);

/// The case file of a bundle of ours, its hash checked.
///
///   fails   as hw_fhir_case
HW_MUST_USE hw_status hw_app_fhir_read(hw_job *job, hw_bytes bundle, hw_arena *into, hw_bytes *out);

/// The case.json of a bundle of ours; the scans it names are not in it.
///
///   fails   as hw_file_read, hw_fhir_case and hw_visit_read
HW_MUST_USE hw_status hw_app_fhir_read_at(hw_job *job, const char *bundle_path, hw_arena *into,
                                          hw_file_set *out, hw_faults *faults);

/// A folder of scans (and case.json files) to read.
typedef struct hw_app_batch_ask {
    const char *folder;
    const char *out;                                         // the CSV
    void (*tell)(void *user, int done, int all, int failed); // progress; may be NULL
    void *user;
    int processes; // 0: one a core
} hw_app_batch_ask;

typedef struct hw_app_batch_sum {
    int done, failed, kept; // kept: lines that stood in `out` already
} hw_app_batch_sum;

/// The files of a batch that are still to be done, and where their lines go.
typedef struct hw_app_batch_list {
    const hw_app_batch_ask *ask;
    const char *const *names; // below ask->folder, sorted
    int count;
    size_t at; // bytes of `out` that stand
    hw_app_batch_sum sum;
} hw_app_batch_list;

/// What a batch still has to do: lines of an earlier run stay, one that was cut off is taken away.
///
///   fails   HW_BAD_INPUT `out` is some other file;  as hw_file_list and hw_file_write_at
HW_MUST_USE hw_status hw_app_batch_open(hw_job *job, const hw_app_batch_ask *ask, hw_arena *into,
                                        hw_app_batch_list *out);

/// The line of one file, and that of one that failed.
HW_MUST_USE hw_status hw_app_batch_line(hw_job *job, const char *folder, const char *name,
                                        hw_arena *into, hw_bytes *out);
/// The line of a file that failed: `why` stands in its last column.
HW_MUST_USE hw_status hw_app_batch_failed(hw_job *job, const char *name, const char *why,
                                          hw_arena *into, hw_bytes *out);

/// Writes the next line of the list, synced.
HW_MUST_USE hw_status hw_app_batch_keep(hw_job *job, hw_app_batch_list *list, hw_bytes line,
                                        bool is_wrong);

/// Reads every scan and case.json of the tree in a process a core and writes a line each, synced; a
/// failure, also a crash, is a line with its sentence. Where `out` holds lines of an earlier run that was
/// ended, it goes on.
///
///   fails   as hw_app_batch_open and hw_crew_run
HW_MUST_USE hw_status hw_app_batch(hw_job *job, const hw_app_batch_ask *ask, hw_arena *into,
                                   hw_app_batch_sum *out);

/// Lays the devices of a report on earlier ones, read from `path`: a case file, shaped again with its scans, or
/// the STL of one device as it was written (then the report has one device, of the same side). What the case has
/// no device for stays without.
///
///   fails   HW_BAD_INPUT two devices and one STL, no device of that case goes with the report's; as
///           hw_app_visit_at, hw_meshfile_read and hw_orthosis_lay_on
HW_MUST_USE hw_status hw_app_lay_on_previous(hw_job *job, const char *path, hw_arena *into,
                                             hw_report *report, hw_faults *faults);

/// The same on the devices of an earlier case that is at hand as bytes, its scans read from `source`.
///
///   parts  those of `report`: HW_APP_LEFT_ALONE and HW_APP_RIGHT_ALONE hold here too
HW_MUST_USE hw_status hw_app_lay_on_visit(hw_job *job, hw_bytes case_file,
                                          const hw_app_source *source, int parts, hw_arena *into,
                                          hw_report *report);

/// Only the files that make a device, with fit.pdf and orthosis.json.
HW_MUST_USE hw_status hw_app_orthosis_files(hw_job *job, const hw_report *report, hw_arena *into,
                                            hw_file_set *out);

/// An invented person's case with invented scans of both feet, to be written to one folder.
///
///   seed    the same seed gives the same bytes
HW_MUST_USE hw_status hw_app_demo_files(hw_job *job, unsigned seed, hw_arena *into,
                                        hw_file_set *out);

enum { HW_DEMO_PEOPLE = 30, HW_DEMO_SCORES = 6, HW_DEMO_TREATMENTS = 4 };

/// An invented person of the invented clinic, with what happened to them since.
typedef struct hw_demo_person {
    const char *code, *name;
    hw_file_set visit;                       // case.json and both scans
    hw_bytes treatments[HW_DEMO_TREATMENTS]; // JSON bodies of acts really given
    hw_bytes scores[HW_DEMO_SCORES];         // of later ratings
    int treatment_count, score_count;
} hw_demo_person;

/// Person `index`, 0..HW_DEMO_PEOPLE-1, of the clinic of `seed`. Their visits lie in 2024-12 to 2026-11;
/// some answered a red flag with yes, take anticoagulants, were not weighed, or never came back.
HW_MUST_USE hw_status hw_app_demo_person(hw_job *job, unsigned seed, int index, hw_arena *into,
                                         hw_demo_person *out);

/// One heel's ratings followed: from the request's JSON (record.h) to the answer's.
///
///   out      may be NULL, likewise `json`
///   fails   as hw_follow_read and hw_follow_pain
HW_MUST_USE hw_status hw_app_follow(hw_job *job, hw_bytes request, hw_arena *into,
                                    hw_follow_up *out, hw_bytes *json, hw_faults *faults);

/// Whether a request is one of questionnaires and not of ratings: it names a scale or brings its text.
bool hw_app_is_scores(hw_job *job, hw_bytes request, hw_arena *into);

/// Questionnaires scored: from the request's JSON (record.h) to the answer's.
///
///   fails   as hw_score_read and hw_score_items
HW_MUST_USE hw_status hw_app_scores(hw_job *job, hw_bytes request, hw_arena *into, hw_bytes *json,
                                    hw_faults *faults);

/// A person's code as part of a file name: letters, digits and dashes; anything else a dash.
HW_MUST_USE hw_status hw_app_code_in_name(hw_job *job, const char *code, hw_arena *into,
                                          const char **out);

/// Milling programs of a report's devices: a pair in one block where it has room, else one each. Each
/// was read again, cut in memory and compared with the design before it stands in report->milling.
///
///   mill    must outlive the report
///   fails   as hw_toolpath_make; HW_BAD_INPUT no device; HW_NO_ANSWER a program did not pass
HW_MUST_USE hw_status hw_app_mill(hw_job *job, const hw_mill *mill, hw_arena *into,
                                  hw_report *report);

/// Adds the programs, milling.pdf, milling-map.json and milling.json.
HW_MUST_USE hw_status hw_app_mill_files(hw_job *job, const hw_report *report, hw_arena *into,
                                        hw_file_set *out);

/// Trials of one's own from a file: a JSON list of them, or one object.
///
///   fails   HW_BAD_FORMAT not JSON; as hw_trials_read
HW_MUST_USE hw_status hw_app_trials(hw_job *job, hw_bytes file, hw_arena *into, hw_trial **out,
                                    int *count, hw_faults *faults);

#endif
