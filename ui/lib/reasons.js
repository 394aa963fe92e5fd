// SPDX-License-Identifier: GPL-3.0-or-later
// What stands behind the numbers of a result: definition, formula, source. Texts follow the comments
// of the headers that compute them (foot.h, mech.h, orthosis.h).

import { keyStem } from './format.js';

/** @typedef {import('./types.d.ts').Reason} Reason */

const NO_SPREAD = 'Uncertainty of single measures: not computed yet.';
const BAND = 'Median with the 5th and 95th percentile over sets of tissue properties: what is not known of this person’s tissue. Both arms of a change use the same set.';

/** @type {Record<string, {what: string, formula?: string, source?: string}>} */
const MEASURES = {
    foot_length_mm: { what: 'From the back of the heel to the longest toe, along the foot’s axis (heel middle to second metatarsal head).',
        source: 'ISO 7250-1, ISO 9407' },
    truncated_length_mm: { what: 'From the back of the heel to the first metatarsal head, along the foot’s axis.',
        source: 'Williams 2000 Phys Ther' },
    ball_breadth_mm: { what: 'First to fifth metatarsal head, straight across.', source: 'ISO 7250-1' },
    heel_breadth_mm: { what: 'Inner to outer edge of the heel, straight across.', source: 'definition in foot.h' },
    dorsum_height_mm: { what: 'Top of the instep at half the foot’s length, above the support plane.', source: 'Williams 2000 Phys Ther' },
    arch_height_index: { what: 'How high the instep stands for this foot’s length.', formula: 'dorsum height ÷ truncated length',
        source: 'Williams 2000 Phys Ther' },
    arch_apex_height_mm: { what: 'Highest place of the inner arch above the support plane.', source: 'definition in foot.h' },
    navicular_height_mm: { what: 'Height of the navicular region above the support plane.', source: 'definition in foot.h' },
    ball_girth_mm: { what: 'Round the ball over both metatarsal heads.', source: 'definition in foot.h' },
    instep_girth_mm: { what: 'Round the instep.', source: 'definition in foot.h' },
    arch_index: { what: 'Middle third of the contact print against all of it, toes left out; the print is computed from this surface, not measured, with an arch that comes down by 8 mm under half the body’s weight; how far this person’s does is in the spread.',
        formula: 'middle third ÷ (rear + middle + front third)', source: 'Cavanagh 1987 J Biomech' },
    staheli_index: { what: 'Narrowest middle foot against the heel, of the computed contact print.',
        formula: 'narrowest midfoot ÷ widest heel', source: 'Staheli 1987 JBJS Am' },
    chippaux_smirak_index: { what: 'Narrowest middle foot against the forefoot, of the computed contact print.',
        formula: 'narrowest midfoot ÷ widest forefoot', source: 'Chippaux and Smirak' },
    heel_bisection_deg: { what: 'Lean of the heel’s middle line.', source: 'definition in foot.h' },
    forefoot_to_rearfoot_deg: { what: 'Forefoot against the heel, seen from behind.', source: 'definition in foot.h' },
    hallux_angle_deg: { what: 'Big toe against the foot’s inner border.', source: 'definition in foot.h' },
    plantar_area_cm2: { what: 'The sole seen from below.', source: 'definition in foot.h' },
    volume_below_ankle_cm3: { what: 'Volume of the foot below the ankle’s height.', source: 'definition in foot.h' },
};

/** @param {string} key @param {any} scan @returns {Reason} */
export function measureReason(key, scan) {
    const known = MEASURES[key] ?? { what: key };
    const isByHand = key in (scan?.by_hand?.measures_found ?? {});
    return {
        ...known,
        inputs: scan
            ? [`scan of ${scan.triangles_kept} triangles, ${scan.unit}`, `foot held: ${scan.loading}`,
                isByHand && `landmarks placed by hand: ${scan.by_hand.landmarks.join(', ').replaceAll('_', ' ')}`]
            : ['typed by hand'],
        uncertainty: isByHand ? 'how well a hand places the landmark again is not known here'
            : scan?.spread ? `spread of the measuring over ${scan.spread.repetitions} repetitions; how the foot was held is not in it` : NO_SPREAD,
    };
}

/** Half of a measure's 95 % interval, in its unit; null where it was not computed. @param {any} scan @param {string} key @returns {number|null} */
export function halfWidth(scan, key) {
    const stem = keyStem(key);
    return scan?.spread?.[`${stem}_half_width_95${key.slice(stem.length)}`] ?? null;
}

export const MEASURE_KEYS = Object.keys(MEASURES);

/** @type {Record<string, {what: string, formula?: string}>} */
const LOADS = {
    peak: { what: 'Greatest tension of the plantar fascia through one slow step, in body weights.' },
    midstance: { what: 'Mean tension from 30 to 55 % of stance: the foot flat on the ground.' },
    impulse: { what: 'Tension summed over stance (12 to 94 %), in body weights times the share of stance.' },
    peak_percent: { what: 'When in stance the tension is greatest.' },
};

/** @param {'peak'|'midstance'|'impulse'|'peak_percent'} key @param {any} load a foot of visit.json @param {any} findings the case @returns {Reason} */
export function loadReason(key, load, findings) {
    return {
        ...LOADS[key],
        inputs: [findings?.mass_kg && `body mass ${findings.mass_kg} kg`, 'shape of this foot (scan or measures)',
            'calf range as typed', ...(load?.assumptions ?? [])],
        formula: 'hindfoot and five rays under normative ground forces of a walk; balance of forces and moments solved at each instant (docs/mechanics.md, 1)',
        source: 'model of docs/mechanics.md, calibrated on six published targets',
        uncertainty: `${BAND} ${load?.members ?? '?'} sets, ${load?.members_failed ?? 0} left out.`,
    };
}

/** @param {any} change a row of visit.json's changes @returns {Reason} */
export function changeReason(change) {
    return {
        what: `Change of the load on the fascia with: ${change.name}.`,
        inputs: [`its own numbers: ${change.numbers_from}`,
            ...(change.peak_pct_why ? [`hardest pull not known: ${change.peak_pct_why}`] : []), ...change.cautions],
        formula: '(tension with − tension today) ÷ tension today, set by set',
        source: `grade ${change.grade}: ${{ A: 'statics, and a match with data that were held out',
            B: 'calibrated on one data set',
            C: 'low confidence: patched or contradicted' }[/** @type {'A'|'B'|'C'} */ (change.grade)]
            ?? ''}`,
        uncertainty: `${BAND}${change.members_left_out ? ` ${change.members_left_out} sets left out.` : ''}`,
    };
}

/** @type {Record<string, {what: string, source?: string}>} */
const DEVICE = {
    volume_cm3: { what: 'Volume of the closed solid.' },
    mass_g: { what: 'Volume times the density of the shell’s material.', source: 'material density: common practice' },
    thickness_min_mm: { what: 'Least distance from the top to the bottom surface, measured on the solid.' },
    deviation_from_scan_max_mm: { what: 'Greatest distance of the device’s top from the foot as scanned; ordered corrections count.' },
    deviation_from_scan_mean_mm: { what: 'Mean distance of the device’s top from the foot as scanned; ordered corrections count.' },
    distal_edge_behind_heads_min_mm: { what: 'Front edge behind the line of the first and fifth metatarsal heads, least.' },
    distal_edge_behind_heads_max_mm: { what: 'Front edge behind the line of the first and fifth metatarsal heads, greatest.' },
    rim_radius_mm: { what: 'Radius the rim is rounded to: half the thickness.' },
    sole_filled_mm2: { what: 'Part of the sole the scan does not show and that was filled.' },
    lift_mm: { what: 'How far the device rises so that its lowest place stands on the ground.' },
};

export const DEVICE_KEYS = Object.keys(DEVICE);

/** @param {string} key @returns {Reason} */
export function deviceReason(key) {
    return { ...DEVICE[key], formula: 'measured on the built solid',
        uncertainty: 'exact for the file that is written; how well a workshop keeps it is not known here' };
}
