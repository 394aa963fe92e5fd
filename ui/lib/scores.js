// SPDX-License-Identifier: GPL-3.0-or-later
// Scores of one person over time, as rows for a chart and a table: gathered, never judged here.
import { daysBetween } from './dates.js';

/** @typedef {import('./types.d.ts').Row} Row */
/** @typedef {{date: string, weeks: number, foot: string, from: string, first: number|null, average: number|null, activity: number|null}} Score */

const KEYS = { first: 'first_step_pain_0_10', average: 'average_pain_0_10', activity: 'activity_pain_0_10' };

/** @param {any} from @returns {{first: number|null, average: number|null, activity: number|null}} */
function numbersOf(from) {
    const one = (/** @type {string} */ key) => (typeof from?.[key] === 'number' ? from[key] : null);
    return { first: one(KEYS.first), average: one(KEYS.average), activity: one(KEYS.activity) };
}

/** Visits' pain and follow-up scores in one list, oldest first. @param {Row[]} visits @param {Row[]} scores @returns {Score[]} */
export function scoresOf(visits, scores) {
    /** @type {{date: string, foot: string, from: string, numbers: any}[]} */
    const all = [];
    for (const row of visits)
        for (const side of ['left', 'right']) {
            const pain = row.body.feet?.[side]?.heel_pain;
            if (pain && typeof pain === 'object') all.push({ date: row.body.visit_date, foot: side, from: 'visit', numbers: numbersOf(pain) });
        }
    for (const row of scores) {
        const body = row.body.scores ?? row.body; // a form handed in on the tablet wraps its answers
        const date = String(body.date ?? row.body.entered ?? '').slice(0, 10);
        if (date) all.push({ date, foot: body.foot ?? 'not said', from: row.body.entered_by === 'person' ? 'tablet' : 'follow-up',
            numbers: numbersOf(body) });
    }
    const known = all.filter((one) => Object.values(one.numbers).some((value) => value !== null)).sort((a, b) => a.date.localeCompare(b.date));
    const start = known[0]?.date;
    return known.map(({ date, foot, from, numbers }) => ({ date, foot, from, weeks: daysBetween(start, date) / 7, ...numbers }));
}

/** First and newest value of one foot and kind; null where there are not two. @param {Score[]} scores @param {string} foot @param {'first'|'average'|'activity'} key */
export function firstAndLast(scores, foot, key) {
    const known = scores.filter((one) => one.foot === foot && one[key] !== null);
    if (known.length < 2) return null;
    const [a, b] = [known[0], known[known.length - 1]];
    return { from: /** @type {number} */ (a[key]), to: /** @type {number} */ (b[key]), weeks: b.weeks - a.weeks };
}
