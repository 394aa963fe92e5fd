// SPDX-License-Identifier: GPL-3.0-or-later
// A search's designs as the page reads them (docs/orthosis.md 4).
import { quantity, keyUnit } from './format.js';

/** @typedef {{order: Record<string, number>, state: string, why: string, binds: string, preview?: any, final?: any}} Design */

/** The design's numbers, the final ones where there are. @param {Design} design */
export function numbersOf(design) {
    return design.final ?? design.preview;
}

/** "shell thickness 3.4 mm, arch fill 1.0 mm". @param {Design} design @param {any[]} ranges */
export function designText(design, ranges) {
    return ranges.map((range) => `${range.name} ${quantity(design.order[range.key], keyUnit(range.key))}`).join(', ');
}
