// SPDX-License-Identifier: GPL-3.0-or-later
// How the device bears the foot, as far as the page reads it (docs/press.md): its maps, limits, reasons.

/** @typedef {import('./types.d.ts').Reason} Reason */
/** @typedef {'pressure_kPa'|'sink_mm'|'stress_MPa'} MapKey */
/** @typedef {{rows: number, columns: number, top_mm: number[], moment: string} & Record<MapKey, number[]>} PressMap */

/** @type {{key: MapKey, name: string, unit: string, what: string}[]} */
export const MAPS = [
    { key: 'pressure_kPa', name: 'Pressure', unit: 'kPa', what: 'Pressure on the device’s top' },
    { key: 'sink_mm', name: 'Sinking', unit: 'mm', what: 'How far the device’s top goes down' },
    { key: 'stress_MPa', name: 'Stress', unit: 'MPa', what: 'Stress of the shell, the greater of top and bottom' },
];

/** The grid of the device's top as triangles. @param {{rows: number, columns: number, top_mm: number[]}} map @returns {import('./mesh.js').Surface} */
export function gridSurface({ rows, columns, top_mm }) {
    if (top_mm.length !== 3 * rows * columns) throw new Error('The map of the device does not fit its grid.');
    const corners = new Uint32Array(6 * (rows - 1) * (columns - 1));
    let at = 0;
    for (let i = 0; i + 1 < rows; i++)
        for (let j = 0; j + 1 < columns; j++) {
            const a = i * columns + j;
            const c = a + columns;
            corners.set([a, c, a + 1, a + 1, c, c + 1], at);
            at += 6;
        }
    return { points: new Float32Array(top_mm), corners };
}

/** Lowest and greatest of a map. @param {number[]} values */
export function rangeOf(values) {
    let [low, high] = [Infinity, -Infinity];
    for (const value of values) {
        if (value < low) low = value;
        if (value > high) high = value;
    }
    return { low, high };
}

/** "60 to 100", "150", or nothing where no limit is known. @param {any} limit @param {'mean'|'peak'} which */
export function limitText(limit, which) {
    const [low, high] = [limit?.[`${which}_low_kPa`], limit?.[`${which}_high_kPa`]];
    if (low === undefined) return '';
    return high === undefined || high === low ? String(low) : `${low} to ${high}`;
}

const MODEL = 'shell of bricks of 20 nodes on a floor it may lift from; tissue that presses and never pulls; bone behind it under parts of the body’s weight';

/** @type {Record<string, {what: string, uncertainty: string}>} */
const KEYS = {
    arch_sink_mm: { what: 'Most that the device’s top goes down under the medial arch at this moment.',
        uncertainty: 'loads and tissue are proposals with wide bands; friction and the shoe’s insole, left out, may take 20 to 40 % away (proposal)' },
    stress_max_MPa: { what: 'Greatest stress of the shell at this moment.',
        uncertainty: 'a harsh case on purpose; not calibrated on returned devices' },
    stress_over_fatigue_limit: { what: 'Greatest stress in mid-stance over what the material bears a million times; above 1 is over it.',
        uncertainty: 'band over what is published of the material, warmth and print; not calibrated on returned devices' },
    shell_stiffness_N_per_mm: { what: 'Load on the medial arch over its mean sinking. The load on the fascia is computed with this stiffness.',
        uncertainty: 'short-term stiffness at room temperature; polypropylene has about half after months in a warm shoe' },
};

/** @param {string} key @param {any} press of visit.json @returns {Reason} */
export function pressReason(key, press) {
    return {
        ...KEYS[key],
        inputs: ['this foot’s scan', 'the device as built', 'body mass',
            `shell: Young’s modulus ${press.young_MPa} MPa, Poisson’s ratio ${press.poisson}`],
        formula: `${MODEL} (${press.effort === 'final' ? '60 × 15 bricks, large rotations' : 'preview: 30 × 10 bricks, small rotations'})`,
        source: 'model of docs/press.md, proved against a general finite element program',
    };
}

/** @param {any} part of a moment @returns {Reason} */
export function partReason(part) {
    return {
        what: `Pressure on the ${part.region}: mean over the part that touches, and the greatest at a point of the grid.`,
        inputs: [`load put on ${part.load_N} N`, `contact ${part.contact_cm2} cm²`],
        formula: MODEL, source: `limit: ${part.limit?.source ?? 'none known'}`,
        uncertainty: 'peaks within some 20 % where two regions meet; over a limit is a caution, not a prediction of what this person will feel',
    };
}
