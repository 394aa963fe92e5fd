// SPDX-License-Identifier: GPL-3.0-or-later
// The maker's bench: devices of a code, their orders and files; nothing that says who wears them.
import { html, useState, useId } from '../lib/ui.js';
import { api } from '../lib/api.js';
import { dateText, number, quantity, keyText, keyUnit, sentenceCase } from '../lib/format.js';
import { SideMark } from '../parts/figure.js';

export function MakersBench() {
    const [code, setCode] = useState('');
    const [found, setFound] = useState(/** @type {any[]|null} */ (null));
    const [fault, setFault] = useState('');
    const id = useId('code');
    const look = (/** @type {Event} */ event) => {
        event.preventDefault();
        setFault('');
        api.devices(code.trim()).then(setFound, (/** @type {Error} */ no) => setFault(no.message));
    };
    return html`
        <form class="today-head" onSubmit=${look}><div class="field search"><label for=${id}>Code on the order sheet</label>
            <input id=${id} type="text" required autocomplete="off" value=${code}
                onInput=${(/** @type {any} */ e) => setCode(e.currentTarget.value)} />
        </div>
            <button type="submit" class="main">Show its devices</button></form>
        <p class="fault" role="alert">${fault}</p>
        ${found?.length === 0 && html`<p class="empty" role="status">No released device of this code.</p>`}
        ${(found ?? []).map((one) => html`<${Device} key=${one.id} one=${one} />`)}`;
}

/** @param {{one: any}} props */
function Device({ one }) {
    return html`
        <section class="card"><h2><${SideMark} side=${one.foot} /> ${one.serial ?? ''} <small>issued ${dateText(one.issued)}</small></h2>
            <div class="columns">
                <dl class="pairs">${Object.entries(one.order ?? {}).map(([key, value]) => html`<div><dt>${sentenceCase(keyText(key))}</dt>
                    <dd><strong>${typeof value === 'number' ? quantity(value, keyUnit(key)) : value}</strong></dd></div>`)}</dl>
                <ul class="files">
                    ${Object.entries(one.sealed_files ?? {})
                        .map(([name, hash]) =>
                            html`<li><a href=${`${api.fileAddress(String(hash), name)}&device=${one.id}`} download=${name}>${name}</a></li>`)}
                </ul>
            </div>
            ${one.adjustments?.length > 0
                && html`<table>
                    <thead>
                        <tr><th scope="col">Date</th><th scope="col">What</th><th scope="col">Where</th><th scope="col" class="num">mm</th></tr>
                    </thead>
                <tbody>
                    ${one.adjustments.map((/** @type {any} */ row) =>
                        html`<tr><td class="when">${dateText(row.date)}</td><th scope="row">${row.kind}</th>
                            <td>${row.where ?? ''}</td>
                            <td class="num">${row.change_mm === undefined ? '' : number(row.change_mm)}</td></tr>`)}
                </tbody>
                </table>`}
        </section>`;
}
