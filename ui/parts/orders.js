// SPDX-License-Identifier: GPL-3.0-or-later
// What is ordered, worked out by the server: numbers with formula and source, what is wrong, and a course
// of shockwave against what was given.
import { html, useState, useId } from '../lib/ui.js';
import { computation, mayWrite, role } from '../lib/state.js';
import { number, sentenceCase } from '../lib/format.js';
import { today } from '../lib/dates.js';
import { AddForm } from './form.js';
import { citation } from './why.js';

/** @typedef {import('./form.js').FormRow} FormRow */

const ANAESTHETIC = /** @type {FormRow[]} */ ([{ key: 'substance', label: 'Substance', kind: 'text', isNeeded: true },
    { key: 'concentration_percent', label: 'Concentration', kind: 'number', low: 0.05, high: 5, unit: '%', isNeeded: true },
    { key: 'volume_mL', label: 'Volume', kind: 'number', low: 0.1, high: 60, unit: 'mL', isNeeded: true }]);
const SHOCKWAVE = /** @type {FormRow[]} */ ([{ key: 'sessions', label: 'Sessions', kind: 'number', low: 1, high: 12, isNeeded: true },
    { key: 'pulses', label: 'Pulses a session', kind: 'number', low: 1, high: 6000, isNeeded: true },
    { key: 'rate_Hz', label: 'Rate', kind: 'number', low: 0.5, high: 35, unit: 'Hz' },
    { key: 'pressure_bar', label: 'Pressure, at most', kind: 'number', low: 0, high: 6, unit: 'bar', hint: 'never converted to energy' },
    { key: 'energy_mJ_per_mm2', label: 'Energy as the maker declares it', kind: 'number', low: 0, high: 1.5, unit: 'mJ/mm²' },
    { key: 'energy_declared_by', label: 'Declared in', kind: 'text', hint: 'sheet, head, distance, rate' },
    { key: 'head', label: 'Handpiece serial number', kind: 'text' }]);
const ROWS = /** @type {Record<string, FormRow[]>} */ ({
    'local anaesthetic': ANAESTHETIC, 'local anaesthetic with adrenaline': ANAESTHETIC, 'radial shockwave': SHOCKWAVE, 'focused shockwave': SHOCKWAVE,
    'corticosteroid injection': [{ key: 'substance', label: 'Substance', kind: 'text', isNeeded: true },
        { key: 'dose_mg', label: 'Dose', kind: 'number', low: 0, high: 200, unit: 'mg', isNeeded: true },
        { key: 'vial_mg_per_mL', label: 'The vial in hand', kind: 'number', low: 0.1, high: 500, unit: 'mg/mL' }],
    'platelet-rich plasma': [{ key: 'blood_mL', label: 'Blood', kind: 'number', low: 1, high: 200, unit: 'mL', isNeeded: true },
        { key: 'citrate_mL', label: 'Citrate', kind: 'number', low: 0, high: 50, unit: 'mL', isNeeded: true },
        { key: 'plasma_mL', label: 'Plasma injected', kind: 'number', low: 0.1, high: 50, unit: 'mL', isNeeded: true },
        { key: 'radius_cm', label: 'Radius of the centrifuge', kind: 'number', low: 1, high: 50, unit: 'cm' },
        { key: 'first_spin_rpm', label: 'First spin', kind: 'number', low: 100, high: 20000, unit: 'rpm' },
        { key: 'second_spin_rpm', label: 'Second spin', kind: 'number', low: 100, high: 20000, unit: 'rpm' }],
});

/** @param {{record: import('../lib/record.js').EditedRecord}} props */
export function Orders({ record }) {
    const [act, setAct] = useState('');
    const [foot, setFoot] = useState('');
    const id = useId('order');
    /** @type {any[]} */
    const kept = record.at('orders') ?? [];
    const worked = computation.result.value?.visit?.plan?.orders ?? [];
    const may = mayWrite('visit') && role.value !== 'assistant';
    const add = async (/** @type {any} */ typed) => {
        record.set('orders', [...kept, { act, foot, ordered_on: record.at('visit_date') ?? today(), ...typed }]);
        setAct('');
        return 'Ordered.';
    };
    return html`
        <section class="card" id="orders"><h2>Ordered <small>worked out; the most in a day counts both feet</small></h2>
            ${kept.length === 0 && html`<p class="empty">Nothing is ordered.</p>`}
            ${kept.map((one, i) =>
                html`<${Sheet} key=${`${i} ${one.act}`} order=${one} worked=${worked[i]?.act === one.act ? worked[i] : null}
                    onDrop=${may ? () => record.set('orders', kept.length > 1 ? kept.filter((_, k) => k !== i) : undefined) : null} />`)}
            ${may && html`<details><summary>Order something</summary><div class="fields">
                <div class="field"><label for=${`${id}-act`}>What</label>
                    <select id=${`${id}-act`} value=${act} onChange=${(/** @type {any} */ e) => setAct(e.currentTarget.value)}>
                        <option value="">…</option>
                        ${Object.keys(ROWS).map((name) => html`<option selected=${name === act}>${name}</option>`)}</select>
                </div>
                <div class="field"><label for=${`${id}-foot`}>Which heel</label>
                    <select id=${`${id}-foot`} value=${foot} onChange=${(/** @type {any} */ e) => setFoot(e.currentTarget.value)}>
                        <option value="">…</option><option>left</option><option>right</option></select>
                </div>
            </div>
                ${act && foot && html`<${AddForm} key=${act} button="Order it" rows=${ROWS[act]} onSubmit=${add} />`}</details>`}
        </section>`;
}

/** @param {{order: any, worked: any, onDrop: (() => void)|null}} props */
function Sheet({ order, worked, onDrop }) {
    return html`
        <h3>
            ${sentenceCase(order.act)}, ${order.foot} heel ${order.substance ?? ''} ${onDrop
                && html`<button type="button" class="quiet" aria-label=${`Take back ${order.act}, ${order.foot}`} onClick=${onDrop}>×</button>`}
        </h3>
        ${!worked ? html`<p class="not-yet"><span class="tag">being computed</span></p>` : html`
            ${worked.faults.map((/** @type {any} */ fault) =>
                html`<p class="caution" role="alert" key=${fault.sentence}><strong>${fault.key}:</strong> ${fault.sentence}</p>`)}
            ${worked.limit_that_bound && html`<p>The limit that bound: <strong>${worked.limit_that_bound}</strong>.</p>`}
            <div class="table-room" tabindex="0" role="region" aria-label=${`${order.act}, ${order.foot}, worked out`}>
                <table>
                    <tbody>
                        ${worked.lines.map((/** @type {any} */ line) =>
                            html`<tr key=${`${line.name}${line.unit}`}><th scope="row">${sentenceCase(line.name)}</th>
                <td class="num">
                    ${number(line.value, line.value < 10 ? 2 : 0)} ${line.unit}${line.low !== undefined
                        ? ` (${number(line.low, 2)} to ${number(line.high, 2)})` : ''}
                </td>
                    <td>${line.formula} <small>${citation(line.source)}</small></td>
                            </tr>`)}
                    </tbody>
                </table>
            </div>`}`;
}
