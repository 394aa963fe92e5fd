// SPDX-License-Identifier: GPL-3.0-or-later
// Scales: slack is a cool grey, full tension a hot red; light rises as it falls, so that it reads in grey.

/** @typedef {[number, number, number]} Rgb 0..1 */

/** @type {[number, Rgb][]} */
const TENSION = [
    [0.0, [0.42, 0.53, 0.62]],
    [0.35, [0.93, 0.78, 0.36]],
    [0.7, [0.93, 0.45, 0.16]],
    [1.0, [0.72, 0.05, 0.13]],
];
/** @type {[number, Rgb][]} */
const DEVIATION = [
    [0.0, [0.10, 0.30, 0.62]],
    [0.25, [0.45, 0.66, 0.86]],
    [0.5, [0.93, 0.91, 0.85]],
    [0.75, [0.92, 0.60, 0.36]],
    [1.0, [0.62, 0.16, 0.10]],
];

/** What presses: pale to dark, so that it reads in grey. @type {[number, Rgb][]} */
const PRESS = [
    [0.0, [0.95, 0.93, 0.84]],
    [0.3, [0.93, 0.74, 0.42]],
    [0.6, [0.80, 0.38, 0.26]],
    [0.85, [0.48, 0.14, 0.32]],
    [1.0, [0.20, 0.06, 0.26]],
];

/** @param {[number, Rgb][]} stops @param {number} share @returns {Rgb} */
function between(stops, share) {
    const t = Math.min(1, Math.max(0, share));
    for (let i = 0; i + 1 < stops.length; i++) {
        const [a, from] = stops[i];
        const [b, to] = stops[i + 1];
        if (t <= b) return /** @type {Rgb} */ (from.map((value, k) => value + ((t - a) / (b - a)) * (to[k] - value)));
    }
    return stops[stops.length - 1][1];
}

/** @param {number} share of the scale's top */
export function tensionColour(share) {
    return between(TENSION, share);
}

/** @param {number} share 0: lowest, 0.5: no difference, 1: highest */
export function deviationColour(share) {
    return between(DEVIATION, share);
}

/** @param {number} share of the scale's top */
export function pressColour(share) {
    return between(PRESS, share);
}

/** @param {Rgb} colour */
export function css(colour) {
    return `rgb(${colour.map((value) => Math.round(255 * value)).join(' ')})`;
}

/** A round number at or above a value: 0.93 gives 1, 1.24 gives 1.25. @param {number} value */
export function roundTop(value) {
    for (const step of [0.25, 0.5, 0.75, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5]) if (value <= step + 1e-9) return step;
    return Math.ceil(value);
}

/** A round number at or above a value of any size: 249 gives 250, 3.5 gives 4. @param {number} value */
export function roundAbove(value) {
    if (!(value > 0)) return 1;
    const ten = 10 ** Math.floor(Math.log10(value) + 1e-12);
    return [1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10].map((step) => step * ten).find((step) => value <= step * (1 + 1e-9)) ?? 10 * ten;
}
