// SPDX-License-Identifier: GPL-3.0-or-later
// The only place that makes text of numbers, units and dates.

const MINUS = '\u2212';
const THIN = '\u202f';

/** How a unit is written beside its number. @type {Record<string, string>} */
const UNIT_TEXT = { deg: '°', percent: '%', pct: '%', bw: 'BW', '10^9/L': '10⁹/L' };

/** @param {string} unit */
export function unitText(unit) {
    return UNIT_TEXT[unit] ?? unit;
}

/** A number with a true minus sign. @param {number} value @param {number} [digits] decimals at most */
export function number(value, digits = 1) {
    if (!Number.isFinite(value)) return 'unknown';
    const text = String(Number(value.toFixed(digits)));
    return text.startsWith('-') ? MINUS + text.slice(1) : text;
}

/** @param {number} value @param {number} [digits] */
export function signed(value, digits = 1) {
    const text = number(value, digits);
    return value > 0 && text !== '0' ? `+${text}` : text;
}

/** Value and unit; the unit stands apart but for degrees. @param {number} value @param {string} unit @param {number} [digits] */
export function quantity(value, unit, digits = 1) {
    const written = unitText(unit);
    if (!written) return number(value, digits);
    return number(value, digits) + (written === '°' ? '' : THIN) + written;
}

/** "0.68 to 1.23". @param {{p05: number, p95: number}} band @param {number} [digits] @param {boolean} [withSign] */
export function bandText(band, digits = 2, withSign = false) {
    const one = withSign ? signed : number;
    return `${one(band.p05, digits)} to ${one(band.p95, digits)}`;
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];

/** "2 Mar 2026" of "2026-03-02". @param {string|undefined|null} iso */
export function dateText(iso) {
    const parts = /^(\d{4})-(\d{2})-(\d{2})/.exec(iso ?? '');
    if (!parts) return 'no date';
    return `${Number(parts[3])} ${MONTHS[Number(parts[2]) - 1]} ${parts[1]}`;
}

/** "2 Mar 2026, 14:05" of an instant. @param {string|undefined} instant */
export function momentText(instant) {
    const time = /T(\d{2}:\d{2})/.exec(instant ?? '');
    return dateText(instant) + (time ? `, ${time[1]}` : '');
}

const UNIT_END = /_(mm2|mm|cm2|cm3|cm|deg|kg|kPa|MPa|percent|pct|bw|g)$/;

/** A key without its unit: "foot_length" of "foot_length_mm". @param {string} key */
export function keyStem(key) {
    return key.replace(UNIT_END, '');
}

/** "foot_length_mm" as words: "foot length". @param {string} key */
export function keyText(key) {
    return keyStem(key.replace(/_0_10$/, '')).replaceAll('_', ' ').replace('chippaux smirak', 'Chippaux-Smirak');
}

/** The unit a key ends in. @param {string} key */
export function keyUnit(key) {
    const found = UNIT_END.exec(key);
    return found ? { mm2: 'mm²', cm2: 'cm²', cm3: 'cm³' }[found[1]] ?? found[1] : '';
}

/** @param {string} text */
export function sentenceCase(text) {
    return text.charAt(0).toUpperCase() + text.slice(1);
}

/** A plan's verdict as its word and its reason: "Released: all was answered". @param {string} verdict */
export function verdictParts(verdict) {
    const end = verdict.indexOf(': ');
    if (end < 0) return { word: verdict, reason: '' };
    return { word: verdict.slice(0, end), reason: sentenceCase(verdict.slice(end + 2)) };
}

/** "1 visit", "2 visits". @param {number} count @param {string} one @param {string} [many] */
export function plural(count, one, many = `${one}s`) {
    return `${count} ${count === 1 ? one : many}`;
}

/** Bytes as people say them. @param {number} bytes */
export function bytesText(bytes) {
    if (bytes < 1e6) return `${Math.max(1, Math.round(bytes / 1e3))} kB`;
    return `${number(bytes / 1e6)} MB`;
}

/** How a day lies against the planned one. @param {number} days */
export function daysText(days) {
    if (days === 0) return 'on the day';
    return `${plural(Math.abs(days), 'day')} ${days > 0 ? 'later' : 'earlier'}`;
}
