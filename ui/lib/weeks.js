// SPDX-License-Identifier: GPL-3.0-or-later
// The weeks of a plan: which row and week an act stands in, and what moves one by hand. Whether it may
// stand there the server says.

/** @typedef {{date: string, week: number, what: string, foot: string|null, session?: number, sessions?: number, text: string, only_if: string|null, moved_by: string|null, by_hand?: boolean, refused?: string, against?: string, against_sentence?: string}} Dated */

/** The name a dated act is moved by. @param {Dated} one */
export function nameOfDated(one) {
    return [one.what, one.foot ?? '', isAct(one) ? one.session ?? '' : one.date].join('|');
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

/** What is a dated act, and no review or step. @param {Dated} one */
export function isAct(one) {
    return one.what !== 'review' && one.what !== 'next step';
}

/**
 * The acts moved by hand with one more, or one less where `date` is null.
 * @param {any[]|undefined} moved @param {Dated} one @param {string|null} date
 */
export function movedWith(moved, one, date) {
    const session = one.session ?? 1;
    const rest = (moved ?? []).filter((old) => !(old.act === one.what && (old.foot ?? null) === one.foot && (old.session ?? 1) === session));
    const next = date ? [...rest, { act: one.what, ...(one.foot ? { foot: one.foot } : {}), ...(one.session ? { session } : {}), date }] : rest;
    return next.length > 0 ? next : undefined;
}
