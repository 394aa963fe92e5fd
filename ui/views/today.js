// SPDX-License-Identifier: GPL-3.0-or-later
// Today: find somebody, begin somebody new, who is to be called.
import { html, useEffect, useState, useId } from '../lib/ui.js';
import { api, Refusal } from '../lib/api.js';
import { mayWrite, changeNumber, role } from '../lib/state.js';
import { MakersBench } from './makers_bench.js';
import { isDate } from '../lib/dates.js';
import { go, address } from '../lib/router.js';
import { dateText, momentText, plural } from '../lib/format.js';
import { Dialog } from '../parts/dialog.js';
import { RecallsToday } from '../parts/recalls.js';

/** @typedef {import('../lib/types.d.ts').Row} Row */

export function Today() {
    return role.value === 'maker' ? html`<${MakersBench} />` : html`<${People} />`;
}

function People() {
    const [search, setSearch] = useState('');
    const [rows, setRows] = useState(/** @type {Row[]|null} */ (null));
    const [isNew, openNew] = useState(false);
    const [trouble, setTrouble] = useState('');
    const id = useId('search');
    useEffect(() => {
        let isOld = false;
        const timer = setTimeout(() => api.people(search).then(
            (found) => !isOld && (setRows(found), setTrouble('')),
            (fault) => !isOld && setTrouble(fault.message)), search ? 120 : 0);
        return () => {
            isOld = true;
            clearTimeout(timer);
        };
    }, [search, changeNumber.value]);
    return html`
        <div class="today-head">
            <div class="field search"><label for=${id}>Find a person by name, code or date of birth</label>
                <input id=${id} type="search" value=${search} onInput=${(/** @type {any} */ e) => setSearch(e.currentTarget.value)} /></div>
            ${mayWrite('person') && html`<button type="button" class="main" onClick=${() => openNew(true)}>New person</button>`}
        </div>
        ${trouble && html`<p class="trouble" role="alert">${trouble}</p>`}
        ${!search && html`<${RecallsToday} />`}
        ${rows && rows.length === 0
            && html`<p class="empty">${search ? `Nobody found for “${search}”.` : 'Nobody here yet: begin with “New person”.'}</p>`}
        ${rows && rows.length > 0 && html`
            <div class="table-room" tabindex="0" role="region" aria-label="People"><table class="people">
                <caption>${plural(rows.length, 'person', 'people')}</caption>
                <thead><tr><th scope="col">Name</th><th scope="col">Code</th><th scope="col">Born</th><th scope="col">Last change</th></tr></thead>
                <tbody>${rows.map((row) => html`<tr>
                    <th scope="row"><a href=${address('findings', row.id)}>${row.body.name ?? row.body.code}</a></th>
                    <td class="code">${row.body.code}</td><td>${row.body.born ? dateText(row.body.born) : 'not asked'}</td>
                    <td class="when">${row.when ? momentText(row.when) : ''}</td></tr>`)}</tbody>
            </table></div>`}
        ${isNew && html`<${NewPerson} onClose=${() => openNew(false)} />`}`;
}

/** @param {{onClose: () => void}} props */
function NewPerson({ onClose }) {
    const [typed, setTyped] = useState({ name: '', code: '', born: '', sex: '' });
    const [fault, setFault] = useState('');
    const ids = { name: useId('name'), code: useId('code'), born: useId('born'), sex: useId('sex') };
    const set = (/** @type {string} */ key) => (/** @type {any} */ e) => setTyped({ ...typed, [key]: e.currentTarget.value });
    const submit = async (/** @type {Event} */ event) => {
        event.preventDefault();
        const body = { code: typed.code.trim(), name: typed.name.trim(), ...(isDate(typed.born) ? { born: typed.born } : {}),
            ...(typed.sex ? { sex: typed.sex } : {}) };
        try {
            const head = await api.addPerson(body);
            go('findings', head.id);
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            setFault(trouble.message);
        }
    };
    return html`
        <${Dialog} title="New person" onClose=${onClose}>
            <form onSubmit=${submit}>
                <div class="field"><label for=${ids.name}>Name</label>
                    <input id=${ids.name} type="text" required autocomplete="off" value=${typed.name} onInput=${set('name')} /></div>
                <div class="field"><label for=${ids.code}>Code: stands on every file and page instead of the name</label>
                    <input id=${ids.code} type="text" required pattern="[A-Za-z0-9\\-]{2,24}" autocomplete="off"
                        value=${typed.code} onInput=${set('code')} />
                </div>
                <div class="field"><label for=${ids.born}>Date of birth</label>
                    <input id=${ids.born} type="date" value=${typed.born} onInput=${set('born')} /></div>
                <div class="field"><label for=${ids.sex}>Sex, as far as doses and pregnancy are concerned</label>
                    <select id=${ids.sex} value=${typed.sex} onChange=${set('sex')}><option value="">not asked</option>
                        <option>female</option><option>male</option><option>other</option></select>
                </div>
                <p class="fault" role="alert">${fault}</p>
                <p class="actions"><button type="submit" class="main">Begin</button></p>
            </form>
        </${Dialog}>`;
}
