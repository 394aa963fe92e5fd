// SPDX-License-Identifier: GPL-3.0-or-later
// Where the page is: "#/today", "#/p/PERSON/findings". The browser's own back and forward work.
import { signal } from './ui.js';

/** @typedef {{area: string, person: string|null}} Route */

export const PERSON_AREAS = ['person', 'findings', 'foot', 'load', 'orthosis', 'plan', 'treatment', 'follow-up'];
export const CLINIC_AREAS = ['today', 'caseload', 'trials', 'settings'];

/** @param {string} hash @returns {Route} */
export function parse(hash) {
    const [first, second, third] = hash.replace(/^#\/?/, '').split('/');
    if (first === 'p' && second && PERSON_AREAS.includes(third)) return { area: third, person: second };
    if (first === 'score') return { area: 'score', person: null };
    return { area: CLINIC_AREAS.includes(first) ? first : 'today', person: null };
}

/** @param {string} area @param {string|null} [person] */
export function address(area, person = null) {
    return person ? `#/p/${person}/${area}` : `#/${area}`;
}

export const route = signal(parse(globalThis.location?.hash ?? ''));

globalThis.addEventListener?.('hashchange', () => {
    route.value = parse(location.hash);
});

/** @param {string} area @param {string|null} [person] */
export function go(area, person = null) {
    location.hash = address(area, person);
}
