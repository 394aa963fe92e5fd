// SPDX-License-Identifier: GPL-3.0-or-later
// A colour scale with its numbers printed beside it.
import { html } from '../lib/ui.js';
import { number } from '../lib/format.js';

const STEPS = 24;

/** @param {{label: string, low: number, high: number, unit: string, colour: (share: number) => string, marker?: number|null}} props */
export function Scale({ label, low, high, unit, colour, marker }) {
    const ticks = [0, 0.25, 0.5, 0.75, 1];
    return html`
        <svg class="scale" viewBox="0 0 560 52" role="img" aria-label=${`${label}: from ${number(low, 2)} to ${number(high, 2)} ${unit}`}>
            ${Array.from({ length: STEPS },
                (_, i) => html`<rect x=${(i * 400) / STEPS + 10} y="14" width=${400 / STEPS + 0.5} height="16" fill=${colour((i + 0.5) / STEPS)} />`)}
            ${ticks.map((t) =>
                html`<text x=${10 + 400 * t} y="48" text-anchor=${t === 0 ? 'start' : 'middle'}>${number(low + t * (high - low), 2)}</text>`)}
            <text x="420" y="28">${unit}</text>
            ${marker !== null && marker !== undefined
                && html`<path class="marker" d=${`M${10 + 400 * Math.min(1, Math.max(0, (marker - low) / (high - low)))} 13 l-6 -11 h12 z`} />`}
        </svg>`;
}
