// SPDX-License-Identifier: GPL-3.0-or-later
// "Why?" beside a number: what went in, the formula, the source, how sure.
import { html, useId } from '../lib/ui.js';
import { evidence } from '../lib/state.js';

/** @typedef {import('../lib/types.d.ts').Reason} Reason */

/** A source key as its citation, where the server told it. @param {string} key */
export function citation(key) {
    const sources = evidence.value?.sources ?? [];
    const found = sources.find((/** @type {any} */ one) => one.key === key);
    return found ? `${found.citation}${found.status ? ` (${found.status})` : ''}` : key;
}

/** @param {{label: string} & Reason} props */
export function Why({ label, what, inputs, formula, source, uncertainty }) {
    const id = useId('why');
    const rows = [
        ['What', what],
        ['From', (inputs ?? []).filter(Boolean).join('; ')],
        ['Formula', formula],
        ['Source', source && citation(source)],
        ['How sure', uncertainty ?? 'not computed yet'],
    ];
    return html`
        <button type="button" class="why" popovertarget=${id} aria-label=${`Why? ${label}`} title="Why?">?</button>
        <div id=${id} popover class="why-card" role="dialog" aria-label=${`Why: ${label}`}>
            <strong class="why-title">${label}</strong>
            <dl>${rows.map(([name, text]) => text && html`<div><dt>${name}</dt><dd>${text}</dd></div>`)}</dl>
            <button type="button" class="quiet" popovertarget=${id} popovertargetaction="hide">Close</button>
        </div>`;
}
