// SPDX-License-Identifier: GPL-3.0-or-later
// One number, large, with its band and its reason.
import { html, classes } from '../lib/ui.js';
import { number, signed, bandText, unitText } from '../lib/format.js';
import { computation } from '../lib/state.js';
import { Why } from './why.js';

/**
 * @param {{label: string, value: number|null|undefined, unit?: string, digits?: number, band?: {p05: number, p95: number}|null,
 *   isChange?: boolean, why: import('../lib/types.d.ts').Reason, absent?: string, size?: 'small'}} props
 */
export function Figure({ label, value, unit = '', digits = 1, band, isChange = false, why, absent, size }) {
    const isKnown = value !== null && value !== undefined;
    return html`
        <div class=${classes('figure', size)}>
            <span class="figure-label">${label}<${Why} label=${label} ...${why} /></span>
            ${isKnown
                ? html`<span class="figure-value">
                    ${isChange ? signed(value, digits) : number(value, digits)}${unit
                        && html`<small>${unit === 'deg' ? '' : '\u202f'}${unitText(unit)}</small>`}
                </span>`
                : html`<span class="figure-absent">${absent ?? notYetText()}</span>`}
            ${isKnown && band && html`<span class="figure-band">${bandText(band, digits, isChange)}</span>`}
        </div>`;
}

/** Whether the program is at it. @returns {string} */
function notYetText() {
    const state = computation.job.value?.state;
    return state === 'waiting' || state === 'running' ? 'being computed' : 'not computed yet';
}

/** What a running computation brings, or that it was not asked for. @param {{children?: any}} props */
export function Awaited({ children }) {
    return html`<p class="not-yet"><span class="tag">${notYetText()}</span> ${children}</p>`;
}

/** A line that says what the program cannot do yet. @param {{children?: any}} props */
export function NotYet({ children }) {
    return html`<p class="not-yet"><span class="tag">not computed yet</span> ${children}</p>`;
}

/** Left and right in words, with a shape of their own. @param {{side: string}} props */
export function SideMark({ side }) {
    return html`<span class=${`side side-${side}`}>${side === 'left' ? 'Left foot' : 'Right foot'}</span>`;
}
