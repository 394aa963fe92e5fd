// SPDX-License-Identifier: GPL-3.0-or-later
// Devices really handed over: fit, wear-in, every later change in millimetres, breakage, remake.
// A device's record outlives its person and bears only the code.
import { html, useState } from '../lib/ui.js';
import { person, visit, computation, mayWrite } from '../lib/state.js';
import { api } from '../lib/api.js';
import { dateText, number, sentenceCase } from '../lib/format.js';
import { today } from '../lib/dates.js';
import { AddForm } from './form.js';
import { useRows } from './use_rows.js';

const FIT = ['sits flat on the ground', 'heel sits in the cup', 'arch touches without pressing', 'front edge behind the ball',
    'goes into the shoe', 'ten steps without a sore place'];
const WHERE = ['heel cup', 'inner arch', 'outer border', 'front edge', 'rearfoot post', 'top cover', 'all over'];

/** What a maker may read of a released device: the server checks each. @param {string} side */
function filesOf(side) {
    const files = computation.result.peek()?.files ?? {};
    return Object.fromEntries(Object.entries(files).filter(([name]) => /\.(stl|3mf|nc)$/i.test(name) && name.includes(side)));
}

/** @param {{side: 'left'|'right', built: any}} props */
export function Devices({ side, built }) {
    const who = person.value;
    const { rows } = useRows(() => api.records(who?.id ?? '', 'device'), [who?.id]);
    const mine = (rows ?? []).filter((row) => row.body.foot === side);
    const may = mayWrite('device');
    // The server takes only files of the visit's kept result: not those of a computation under way.
    const isBusy = ['waiting', 'running'].includes(computation.job.value?.state ?? '');
    const issue = (/** @type {any} */ typed) => api.addRecord(who?.id ?? '', 'device', {
        code: who?.draft.peek().code, foot: side, visit: visit.peek()?.id, issued: typed.issued, serial: typed.serial, files: filesOf(side),
        order: built?.order ?? null, fit: FIT.filter((_, i) => typed[`fit${i}`]), wear_in_given: typed.wear_in === true, adjustments: [],
    }, 'device issued');
    return html`
        <section class="card"><h2>Devices handed over</h2>
            ${mine.length === 0 && html`<p class="empty">None for the ${side} foot.</p>`}
            ${mine.map((row) => html`<${Device} key=${row.id} row=${row} may=${may} />`)}
            ${may && built && isBusy && html`<p class="note">A device can be handed over once all is computed.</p>`}
            ${may && built && !isBusy && html`<details><summary>Hand over a device</summary>
                <${AddForm} button="Hand over" start=${{ issued: today() }} onSubmit=${issue} rows=${[
                    { key: 'issued', label: 'Date', kind: 'date', isNeeded: true }, { key: 'serial', label: 'Mark on the device', kind: 'text' },
                    ...FIT.map((text, i) => ({ key: `fit${i}`, label: sentenceCase(text), kind: /** @type {'check'} */ ('check') })),
                    { key: 'wear_in',
                        label: 'Wear-in sheet given: one hour the first day, one hour more each day; stop at a sore place',
                        kind: 'check' }]} />
            </details>`}
        </section>`;
}

/** @param {{row: any, may: boolean}} props */
function Device({ row, may }) {
    const [isAdding, add] = useState(false);
    const { body } = row;
    const change = async (/** @type {any} */ typed) => {
        const now = await api.record('device', row.id);
        await api.saveRecord('device', row.id, now.version, { ...now.body, adjustments: [...(now.body.adjustments ?? []), typed] }, typed.kind);
        add(false);
    };
    const sum = (body.adjustments ?? []).reduce((/** @type {number} */ total, /** @type {any} */ one) => total + (one.change_mm ?? 0), 0);
    return html`
        <article class="device"><h3>${body.serial || 'Without a mark'} <small>since ${dateText(body.issued)}</small></h3>
            <p>
                Fit: ${body.fit?.length ?? 0} of ${FIT.length} points
                good. ${body.wear_in_given ? 'Wear-in sheet given.'
                    : 'Wear-in sheet not given.'} ${body.adjustments?.length ? `Material in all: ${number(sum)} mm.` : ''}
            </p>
            ${body.adjustments?.length > 0
                && html`<table>
                    <thead>
                        <tr><th scope="col">Date</th><th scope="col">What</th><th scope="col">Where</th>
                            <th scope="col" class="num">mm</th><th scope="col">Note</th></tr>
                    </thead>
                <tbody>
                    ${body.adjustments.map((/** @type {any} */ one) =>
                        html`<tr><td class="when">${dateText(one.date)}</td><th scope="row">${one.kind}</th>
                            <td>${one.where ?? ''}</td>
                            <td class="num">${one.change_mm === undefined ? '' : number(one.change_mm)}</td>
                            <td>${one.note ?? ''}</td></tr>`)}
                </tbody>
                </table>`}
            ${may
                && html`<button type="button" class="quiet" aria-expanded=${isAdding} onClick=${() => add(!isAdding)}>
                    Adjustment, breakage or remake</button>
                ${isAdding && html`<${AddForm} button="Add" start=${{ date: today() }} onSubmit=${change} rows=${[
                    { key: 'date', label: 'Date', kind: 'date', isNeeded: true },
                    { key: 'kind', label: 'What', kind: 'choice', options: ['adjusted', 'broken', 'remade', 'given back'], isNeeded: true },
                    { key: 'where', label: 'Where', kind: 'choice', options: WHERE },
                    { key: 'change_mm', label: 'Added (+) or removed (−)', kind: 'number', low: -10, high: 10, unit: 'mm' },
                    { key: 'note', label: 'Note', kind: 'text' }]} />`}`}
        </article>`;
}
