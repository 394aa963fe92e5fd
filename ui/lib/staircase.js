// SPDX-License-Identifier: GPL-3.0-or-later
// Drivers of the load as steps that add up.

/** @typedef {{name: string, from: number, to: number, band: any, isTotal: boolean}} Step */

/** Steps of a staircase from 100 % (the reference foot) to this foot. @param {any} causes @param {string} when @returns {Step[]} */
export function staircase(causes, when) {
    /** @type {Step[]} */
    const steps = [{ name: 'reference foot', from: 0, to: 100, band: null, isTotal: true }];
    let at = 100;
    for (const part of causes.parts) {
        if (!part.known) continue;
        steps.push({ name: part.cause, from: at, to: at + part[when].mean_pct, band: part[when].band_pct, isTotal: false });
        at += part[when].mean_pct;
    }
    steps.push({ name: 'this foot', from: 0, to: 100 + causes.total[when].mean_pct, band: causes.total[when].band_pct, isTotal: true });
    return steps;
}
