// SPDX-License-Identifier: GPL-3.0-or-later
// Papers of the computed visit, each handed over where it is of use.
import { html } from '../lib/ui.js';
import { visit, computation } from '../lib/state.js';
import { api } from '../lib/api.js';

/** @type {Record<string, {name: string, what: string}>} */
export const PAPERS = {
    'plan.pdf': { name: 'Plan', what: 'verdict, feet, measures, load, options and dates' },
    'letter.pdf': { name: 'Letter to the family doctor', what: 'why, found, planned, asked: one page' },
    'patient.pdf': { name: 'Sheet for the patient', what: 'what to do this week, exercises as drawings, when to call' },
    'consent.pdf': { name: 'Record of consent', what: 'a page for each act it is needed for' },
    'plan.ics': { name: 'Calendar', what: 'the dates of the plan, for a calendar program' },
    'load.pdf': { name: 'Picture of the load', what: 'the foot at five instants, the curve, causes and levers' },
    'fit.pdf': { name: 'Picture of the fit', what: 'each device against its foot, gaps in colours and in figures' },
    'order.pdf': { name: 'Order sheet', what: 'for the maker: both devices as ordered and as measured' },
};

/** @param {string} name */
function kindOf(name) {
    return name.endsWith('.ics') ? 'calendar file' : 'PDF';
}

/** Those of the names that the result has; nothing of the others. @param {{names: string[]}} props */
export function Papers({ names }) {
    const result = computation.result.value;
    const there = names.filter((name) => result?.files[name]);
    if (!result || there.length === 0) return null;
    const isOlder = result.version !== visit.value?.version.value;
    return html`
        ${isOlder && html`<p class="caution">These papers are of version ${result.version} of the visit; what changed since is being computed.</p>`}
        <ul class="papers">${there.map((name) => html`<li key=${name}><a href=${api.fileAddress(result.files[name], name)} target="_blank" rel="noopener" download=${name}>${PAPERS[name].name}</a>
            <span class="note">${PAPERS[name].what} (${kindOf(name)})</span></li>`)}</ul>`;
}
