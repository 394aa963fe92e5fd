// SPDX-License-Identifier: GPL-3.0-or-later
// Treatments given before, here or elsewhere: spacing rules stand on their dates.
import { html, useState, useId } from '../lib/ui.js';
import { vocabulary } from '../lib/state.js';
import { dateText } from '../lib/format.js';
import { isDate } from '../lib/dates.js';
import { faultAt } from './field.js';

/** @param {{record: import('../lib/record.js').EditedRecord}} props */
export function PastTreatments({ record }) {
    /** @type {any[]|undefined} */
    const list = record.at('past_treatments');
    const [typed, setTyped] = useState({ act: '', date: '', foot: '', substance: '', dose: '' });
    const [fault, setFault] = useState('');
    const ids = { act: useId('act'), date: useId('when'), foot: useId('foot'), substance: useId('substance'), dose: useId('dose') };
    const set = (/** @type {string} */ key) => (/** @type {any} */ e) => setTyped({ ...typed, [key]: e.currentTarget.value });
    const add = () => {
        if (!typed.act || !isDate(typed.date)) return setFault('An act and a date are needed.');
        const dose = Number(typed.dose.replace(',', '.'));
        if (typed.dose && !(dose > 0)) return setFault(`“${typed.dose}” is not a dose in mg.`);
        record.set('past_treatments', [...(list ?? []), {
            act: typed.act, date: typed.date, ...(typed.foot ? { foot: typed.foot } : {}),
            ...(typed.substance ? { substance: typed.substance } : {}), ...(typed.dose ? { dose_mg: dose } : {}),
        }]);
        setTyped({ act: '', date: '', foot: '', substance: '', dose: '' });
        return setFault('');
    };
    return html`
        ${list === undefined
            && html`<p class="unknown">
                not asked <button type="button" class="quiet" onClick=${() => record.set('past_treatments', [])}>None was given</button></p>`}
        ${list?.length === 0
            && html`<p>
                <span class="chip is-none">none was given</span> <button type="button" class="quiet"
                    onClick=${() => record.set('past_treatments', undefined)}>Not asked after all</button>
            </p>`}
        ${list && list.length > 0
            && html`<table>
                <thead>
                    <tr><th scope="col">Date</th><th scope="col">Act</th><th scope="col">Foot</th>
                        <th scope="col">Substance and dose</th><th scope="col"><span class="unseen">Remove</span></th></tr>
                </thead>
            <tbody>
                ${list.map((one, i) =>
                    html`<tr><td class="when">${dateText(one.date)}</td><th scope="row">${one.act}</th><td>${one.foot ?? 'not said'}</td>
                <td>${one.substance ?? ''} ${one.dose_mg ? `${one.dose_mg} mg` : ''}</td>
                <td>
                    <button type="button" class="quiet" aria-label=${`Remove ${one.act} of ${dateText(one.date)}`}
                        onClick=${() => record.set('past_treatments', list.filter((_, k) => k !== i))}>×</button>
                </td>
                    </tr>`)}
            </tbody>
            </table>`}
        <p class="fault">${faultAt(record, 'past_treatments')}</p>
        <div class="fields add-line">
            <div class="field"><label for=${ids.act}>Act</label>
                <select id=${ids.act} value=${typed.act} onChange=${set('act')}><option value="">…</option>
                ${(vocabulary.value?.acts ?? []).map((act) => html`<option>${nameOf(act)}</option>`)}</select></div>
            <div class="field"><label for=${ids.date}>Date</label>
                <input id=${ids.date} type="date" value=${typed.date} onChange=${set('date')} /></div>
            <div class="field"><label for=${ids.foot}>Foot</label>
                <select id=${ids.foot} value=${typed.foot} onChange=${set('foot')}><option value="">not said</option>
                    <option>left</option><option>right</option></select>
            </div>
            <div class="field"><label for=${ids.substance}>Substance</label>
                <input id=${ids.substance} type="text" autocomplete="off" value=${typed.substance} onInput=${set('substance')} /></div>
            <div class="field"><label for=${ids.dose}>Dose, mg</label>
                <input id=${ids.dose} type="text" inputmode="decimal" autocomplete="off" value=${typed.dose} onInput=${set('dose')} /></div>
            <button type="button" onClick=${add}>Add</button>
        </div>
        <p class="fault" role="alert">${fault}</p>`;
}

/** Acts come as names or as rows with a name. @param {any} act @returns {string} */
export function nameOf(act) {
    return typeof act === 'string' ? act : act.name ?? act.act;
}
