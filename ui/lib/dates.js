// SPDX-License-Identifier: GPL-3.0-or-later
// Calendar days as "YYYY-MM-DD"; no time zones, no clock but today().

const DAY = 86400000;

/** @param {string} iso */
function utc(iso) {
    const [year, month, day] = iso.split('-').map(Number);
    return Date.UTC(year, month - 1, day);
}

/** @param {number} time */
function iso(time) {
    return new Date(time).toISOString().slice(0, 10);
}

/** Today where the browser stands. */
export function today() {
    const now = new Date();
    return iso(Date.UTC(now.getFullYear(), now.getMonth(), now.getDate()));
}

/** @param {string} from @param {number} days */
export function addDays(from, days) {
    return iso(utc(from) + days * DAY);
}

/** Days from one to the other. @param {string} from @param {string} to */
export function daysBetween(from, to) {
    return Math.round((utc(to) - utc(from)) / DAY);
}

/** Whole weeks from one to the other, rounded down. @param {string} from @param {string} to */
export function weeksBetween(from, to) {
    return Math.floor(daysBetween(from, to) / 7);
}

/** True for a day that exists: 2026-02-30 does not. @param {string} text */
export function isDate(text) {
    return /^\d{4}-\d{2}-\d{2}$/.test(text) && iso(utc(text)) === text;
}
