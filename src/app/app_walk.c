// SPDX-License-Identifier: GPL-3.0-or-later
// Recorded walks and plantar pressure.
#include "app/app.h"

#include <string.h>

#define RECORDING_BYTES_MAX ((size_t)256 << 20)

static hw_status read_one(hw_job *job, hw_bytes file, const hw_gait_ask *ask, hw_arena *into,
                          hw_gait_record *out)
{
    hw_bytes plain = file;
    if (!hw_gait_is_packed(file))
        HW_TRY(hw_app_read_walk(job, file, ask->m_per_unit, into, &plain));
    return hw_gait_unpack(job, plain, into, out);
}

hw_status hw_app_walk(hw_job *job, hw_bytes file, hw_bytes forces, const hw_walk_ask *ask,
                      hw_arena *into, hw_walk_result *out)
{
    hw_walk_result result = {0};
    const hw_gait_names *names = &ask->walker.names;
    HW_TRY(read_one(job, file, &ask->read, into, &result.record));
    if (forces.count) {
        hw_gait_record plates = {0}, joined = {0};
        HW_TRY(read_one(job, forces, &ask->read, into, &plates));
        HW_TRY(hw_gait_join(job, &result.record, &plates, &joined));
        result.record = joined;
    }
    if (ask->walker.mass_kg > 0.0) {
        HW_TRY(hw_gait_find_stance(job, &result.record, &ask->walker, &result.stance));
        result.has_stance = true;
    }
    if (result.has_stance && names->arch) {
        HW_TRY(hw_gait_arch(job, &result.record, &result.stance, names, &result.arch));
        result.has_arch = true;
    }
    *out = result;
    return HW_OK;
}

hw_status hw_app_walk_at(hw_job *job, const char *path, const char *forces_path,
                         const hw_walk_ask *ask, hw_arena *into, hw_walk_result *out)
{
    hw_bytes file = {0}, forces = {0};
    HW_TRY(hw_file_read(job, path, RECORDING_BYTES_MAX, into, &file));
    if (forces_path) HW_TRY(hw_file_read(job, forces_path, RECORDING_BYTES_MAX, into, &forces));
    return hw_app_walk(job, file, forces, ask, into, out);
}

hw_status hw_app_pressure(hw_job *job, hw_bytes file, const hw_pressure_ask *ask, double mass_kg,
                          hw_arena *into, hw_pressure_result *out)
{
    hw_pressure_result result = {0};
    HW_TRY(hw_pressure_read(job, file, ask, into, &result.map));
    HW_TRY(hw_pressure_measure(job, &result.map, into, &result.measures));
    result.has_stance = mass_kg > 0.0 && result.map.frames > 1;
    if (result.has_stance)
        HW_TRY(hw_pressure_stance(job, &result.map, mass_kg, into, &result.stance));
    *out = result;
    return HW_OK;
}

hw_status hw_app_pressure_at(hw_job *job, const char *path, const hw_pressure_ask *ask,
                             double mass_kg, hw_arena *into, hw_pressure_result *out)
{
    hw_bytes file = {0};
    HW_TRY(hw_file_read(job, path, RECORDING_BYTES_MAX, into, &file));
    return hw_app_pressure(job, file, ask, mass_kg, into, out);
}

// -- in a visit: the load model walks as this person was recorded

// What the stance does not hold stays the norm's.
static void put_stance(const hw_gait_stance *stance, hw_mech_own_walk *walk)
{
    for (int i = 0; i < HW_MECH_SOLVED; i++) {
        double percent = 2.5 * (HW_MECH_FIRST + i);
        if (stance->has_force) walk->force_z_bw[i] = hw_gait_at(stance->force_z, percent);
        if (stance->has_fore_aft) walk->force_x_bw[i] = hw_gait_at(stance->force_x, percent);
        if (stance->has_pressure) walk->pressure_x[i] = hw_gait_at(stance->pressure_x, percent);
    }
}

static hw_status read_recorded(hw_job *job, const hw_app_source *source, const char *name,
                               hw_arena *into, hw_bytes *out)
{
    *out = (hw_bytes){0};
    return name ? source->read(job, source->from, name, into, out) : HW_OK;
}

hw_status hw_app_own_walk(hw_job *job, const hw_visit *visit, hw_side side, hw_maybe foot_length_m,
                          const hw_app_source *source, hw_arena *into, hw_mech_own_walk *out,
                          bool *is_own)
{
    const hw_visit_foot *foot = hw_visit_foot_of(visit, side);
    hw_maybe mass = hw_finding_number(visit->findings.values[HW_FINDING_MASS_KG]);
    hw_bytes file = {0}, forces = {0};
    *out = hw_mech_norm_walk();
    *is_own = false;
    if (foot->walk.file) {
        hw_walk_result walk = {0};
        const hw_walk_ask ask = {hw_visit_gait_ask(visit, side),
                                 hw_visit_walker(visit, side, foot_length_m)};
        HW_TRY(read_recorded(job, source, foot->walk.file, into, &file));
        HW_TRY(read_recorded(job, source, foot->walk.forces_file, into, &forces));
        HW_TRY(hw_app_walk(job, file, forces, &ask, into, &walk));
        put_stance(&walk.stance, out);
        *is_own = walk.has_stance;
    }
    if (foot->pressure.file && !*is_own) {
        hw_pressure_result pressure = {0};
        const hw_pressure_ask ask = hw_visit_pressure_ask(visit, side);
        HW_TRY(read_recorded(job, source, foot->pressure.file, into, &file));
        HW_TRY(hw_app_pressure(job, file, &ask, mass.known ? mass.value : 0.0, into, &pressure));
        if (pressure.has_stance) put_stance(&pressure.stance, out);
        *is_own = pressure.has_stance;
    }
    return HW_OK;
}
