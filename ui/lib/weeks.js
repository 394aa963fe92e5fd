// SPDX-License-Identifier: GPL-3.0-or-later
// The weeks of a plan: which row and week an act stands in, and the case that asks the rules about
// another week. The rules themselves are the server's.
import { addDays } from './dates.js';

/** @typedef {{date: string, week: number, what: string, foot: string|null, session?: number, sessions?: number, text: string, only_if: string|null, moved_by: string|null}} Dated */

/** The name a dated act is moved by. @param {Dated} one */
export function nameOfDated(one) {
    return [one.what, one.foot ?? '', one.session ?? ''].join('|');
}

/** Rows of the timeline: one an act and foot, its sessions in order. @param {Dated[]} timeline */
export function rowsOf(timeline) {
    /** @type {Map<string, {what: string, foot: string|null, dated: Dated[]}>} */
    const rows = new Map();
    for (const one of timeline) {
        const key = `${one.what}|${one.foot ?? ''}`;
        if (!rows.has(key)) rows.set(key, { what: one.what, foot: one.foot, dated: [] });
        rows.get(key)?.dated.push(one);
    }
    return [...rows.values()];
}

/**
 * The visit as it would stand in that week: the rules are asked about the day itself, and what the
 * plan does before it counts as done.
 * @param {any} body the visit @param {Dated[]} timeline @param {Dated} one @param {number} week @param {Record<string, number>} moved
 */
export function caseInWeek(body, timeline, one, week, moved) {
    const day = addDays(body.visit_date, 7 * week);
    const before = timeline.flatMap((other) => {
        const at = addDays(body.visit_date, 7 * (moved[nameOfDated(other)] ?? other.week));
        const isAct = other.what !== 'review' && nameOfDated(other) !== nameOfDated(one);
        return isAct && at < day ? [{ act: other.what, date: at, ...(other.foot ? { foot: other.foot } : {}) }] : [];
    });
    return { ...body, visit_date: day, past_treatments: [...(body.past_treatments ?? []), ...before] };
}
