// SPDX-License-Identifier: GPL-3.0-or-later
// How findings are gathered on the page: order and headings only. What exists, its unit and range
// come from the server's vocabulary; a key no group names stands under "Other".

/** @typedef {import('./types.d.ts').Finding} Finding */

export const FOOT_GROUPS = [
    { name: 'Where it is tender, and tests',
        keys: ['tender_at', 'windlass_test_standing', 'windlass_test_unloaded', 'squeeze_test', 'heel_pad_feel', 'bruise_or_gap',
            'arch_nodule', 'resisted_tendon_test'] },
    { name: 'Nerves',
        keys: ['burning', 'tinel_test', 'dorsiflexion_eversion_test', 'triple_compression_test', 'abductor_tender',
            'fifth_toe_abduction', 'straight_leg_raise', 'ankle_reflex'] },
    { name: 'Protective sensation and pulses', keys: ['monofilament', 'pulses'] },
    { name: 'Range of the ankle and the big toe',
        keys: ['lunge_deg', 'lunge_cm', 'dorsiflexion_knee_extended_deg', 'dorsiflexion_knee_bent_deg',
            'weight_bearing_knee_straight_deg', 'first_mtp_dorsiflexion_deg'] },
    { name: 'Posture, tissue and strength',
        keys: ['foot_posture_index', 'navicular_drop_mm', 'fascia_thickness_mm', 'heel_pad_thickness_mm', 'heel_pad_loaded_mm', 'heel_raises'] },
    { name: 'What changes what may be done',
        keys: ['open_wound', 'skin_infection', 'fragile_skin', 'tumour_in_field', 'suspected_rupture',
            'suspected_stress_fracture', 'open_growth_plate', 'implant_at_heel', 'past_ulcer'] },
];

/** @param {Finding[]} findings @param {Finding['scope']} scope */
export function ofScope(findings, scope) {
    return findings.filter((one) => one.scope === scope);
}

/** Groups with their rows; rows of no group last. @param {Finding[]} rows @param {{name: string, keys: string[]}[]} groups */
export function grouped(rows, groups) {
    const named = new Set(groups.flatMap((group) => group.keys));
    const out = groups.map((group) => ({
        name: group.name,
        rows: group.keys.flatMap((key) => rows.filter((row) => row.key === key)),
    }));
    out.push({ name: 'Other', rows: rows.filter((row) => !named.has(row.key)) });
    return out.filter((group) => group.rows.length > 0);
}

/**
 * What is typed for a number, as a value or a fault. A comma may stand for the point.
 * @param {string} text @param {{low?: number, high?: number, unit?: string}} row
 * @returns {{value?: number, fault?: string, isEmpty?: boolean}}
 */
export function readNumber(text, row) {
    const plain = text.trim().replace(',', '.').replace('\u2212', '-');
    if (plain === '') return { isEmpty: true };
    if (!/^[-+]?(\d+\.?\d*|\.\d+)$/.test(plain)) return { fault: `“${text.trim()}” is not a number` };
    const value = Number(plain);
    const { low, high } = row;
    if (low !== undefined && high !== undefined && high > low && (value < low || value > high))
        return { fault: `${text.trim()} cannot be: from ${low} to ${high} ${row.unit ?? ''}`.trim() };
    return { value };
}

/** Counts of one scope's answers. @param {Finding[]} rows @param {Record<string, any>|undefined} answers */
export function tally(rows, answers) {
    const given = rows.map((row) => answers?.[row.key]);
    return {
        all: rows.length,
        yes: given.filter((one) => one === 'yes').length,
        no: given.filter((one) => one === 'no').length,
        notAsked: given.filter((one) => one === 'not asked').length,
        open: given.filter((one) => one === undefined).length,
    };
}
