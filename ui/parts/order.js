// SPDX-License-Identifier: GPL-3.0-or-later
// The order of a device: words and sliders by the server's own table, solved again while a slider moves.
import { html, useState, useRef } from '../lib/ui.js';
import { computation, vocabulary, mayWrite, role } from '../lib/state.js';
import { quantity, keyUnit, sentenceCase } from '../lib/format.js';
import { withValue } from '../lib/paths.js';
import { ChoiceField } from './field.js';

/** @typedef {import('../lib/types.d.ts').OrderTerm} OrderTerm */

/** Terms in groups, as they are thought of; a key of the server's table that is in none goes to the last. */
const GROUPS = [
    { name: 'Shell',
        keys: ['thickness_mm', 'heel_cup_mm', 'arch_fill_mm', 'heel_expansion_mm', 'border_expansion_mm', 'arch_height_mm'],
        isOpen: true },
    { name: 'Posts, skive and raise', keys: ['rearfoot_post_deg', 'forefoot_post_deg', 'skive_mm', 'heel_raise_mm'], isOpen: true },
    { name: 'Relief of fascia and heel',
        keys: ['groove_depth_mm', 'groove_width_mm', 'recess_depth_mm', 'recess_width_mm', 'tender_x_mm', 'tender_y_mm'] },
    { name: 'Pads, flanges, edges, cover',
        keys: ['met_pad_mm', 'medial_flange_mm', 'lateral_flange_mm', 'ray_cut_mm', 'cover_thickness_mm', 'distal_gap_mm'] },
];
const SIGNED = new Map([['rearfoot_post_deg', ', varus positive'], ['forefoot_post_deg', ', varus positive']]);

/** @param {string} key of a term @param {OrderTerm[]} terms */
function termOf(key, terms) {
    return terms.find((one) => one.key === key);
}

/** @param {{side: string, record: import('../lib/record.js').EditedRecord, built: any}} props */
export function Order({ side, record, built }) {
    const path = `feet.${side}.orthosis`;
    const [moving, setMoving] = useState(/** @type {Record<string, number>} */ ({}));
    const may = mayWrite('visit') && role.value !== 'assistant';
    const timer = useRef(0);
    const words = vocabulary.value;
    const terms = words?.order_terms ?? [];
    const tryIt = (/** @type {string} */ key, /** @type {number} */ value) => {
        const next = { ...moving, [key]: value };
        setMoving(next);
        clearTimeout(timer.current);
        timer.current = globalThis.setTimeout(() => {
            const body = withValue(record.draft.peek(), path, { ...record.at(path), ...next });
            computation.try(record.version.peek(), body, ['orthosis', `${side}-alone`]);
        }, 60);
    };
    const keep = (/** @type {string} */ key, /** @type {number} */ value) => {
        clearTimeout(timer.current);
        setMoving({});
        record.set(`${path}.${key}`, value);
    };
    const choice = (/** @type {string} */ key, /** @type {string} */ label, /** @type {string[]} */ options) =>
        html`<${ChoiceField} record=${record} path=${`${path}.${key}`} label=${label} words=${options} canBeNotAsked=${false} disabled=${!may} />`;
    const tick = (/** @type {string} */ key, /** @type {string} */ label) =>
        html`<label class="pick"><input type="checkbox" checked=${record.at(`${path}.${key}`) === true} disabled=${!may}
            onChange=${(/** @type {any} */ e) => record.set(`${path}.${key}`, e.currentTarget.checked ? true : undefined)} /> ${label}</label>`;
    const slider = (/** @type {OrderTerm} */ term) =>
        html`<${Slider} key=${term.key} term=${term} moving=${moving[term.key]} given=${record.at(`${path}.${term.key}`)}
            made=${built?.order?.[term.key]}
        why=${built?.order_why?.[term.key]} may=${may} onTry=${(/** @type {number} */ value) => tryIt(term.key, value)}
        onKeep=${(/** @type {number} */ value) => keep(term.key, value)}
        onReset=${() => record.set(`${path}.${term.key}`, undefined)} />`;
    return html`
        ${choice('shell', 'Shell', words?.shells ?? [])}
        ${choice('length', 'Length', words?.lengths ?? [])}
        ${GROUPS.map((group) => html`<details class="terms" open=${group.isOpen}><summary>${group.name}</summary>
            ${group.keys.map((key) => termOf(key, terms)).filter((term) => term !== undefined).map(slider)}
            ${group.name.startsWith('Posts')
                && html`${choice('rearfoot_post_kind', 'Rearfoot post is',
                    ['extrinsic', 'intrinsic'])}${choice('forefoot_post_kind', 'Forefoot post is', ['extrinsic', 'intrinsic'])}
                    ${tick('heel_balanced', 'heel balanced to the vertical, by its measured bisection')}`}
            ${group.name.startsWith('Relief') && tick('recess_plugged', 'recess filled with a soft plug')}
            ${group.name.startsWith('Pads')
                && html`${choice('metatarsal_pad', 'Metatarsal pad', words?.metatarsal_pads ?? [])}${choice('top_cover',
                    'Top cover', words?.top_covers ?? [])}${tick('embossed', 'side and code raised on the underside')}`}
        </details>`)}
        ${built
            && html`<details><summary>What was done to the surface</summary>
                <ol>${built.steps.map((/** @type {any} */ one) => html`<li>${one.name}: ${quantity(one.value, one.unit)}</li>`)}</ol></details>`}`;
}

/**
 * @param {{term: OrderTerm, moving: number|undefined, given: number|undefined, made: number|undefined, why: string|undefined, may: boolean,
 *   onTry: (value: number) => void, onKeep: (value: number) => void, onReset: () => void}} props
 */
function Slider({ term, moving, given, made, why, may, onTry, onKeep, onReset }) {
    const value = moving ?? given ?? made;
    const name = `${sentenceCase(term.name)}${SIGNED.get(term.key) ?? ''}`;
    const reading = value === undefined ? 'unknown' : quantity(value, keyUnit(term.key));
    return html`<div class="term">
        <label>
            <span class="term-name">${name} <strong class="reading">${reading}</strong>
                ${given === undefined && moving === undefined && html`<small class="default" title=${why}>default</small>`}</span>
        <input type="range" min=${term.low} max=${term.high} step="0.5" value=${value ?? term.low} disabled=${!may} aria-valuetext=${reading}
            onInput=${(/** @type {any} */ e) => onTry(Number(e.currentTarget.value))}
            onChange=${(/** @type {any} */ e) => onKeep(Number(e.currentTarget.value))} />
        </label>
        ${given !== undefined && may
            && html`<button type="button" class="quiet" aria-label=${`reset ${name} to the default`} onClick=${onReset}>reset</button>`}
    </div>`;
}
