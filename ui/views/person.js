// SPDX-License-Identifier: GPL-3.0-or-later
// Person: who it is (kept apart from the medical record), and what doses and rules need to know.
import { html, useState } from '../lib/ui.js';
import { person, visit, vocabulary, role, closePerson, openPerson, mayWrite } from '../lib/state.js';
import { api } from '../lib/api.js';
import { go } from '../lib/router.js';
import { ofScope } from '../lib/groups.js';
import { momentText } from '../lib/format.js';
import { TextField, NumberField, ChoiceField, FindingField, ListField, DateField } from '../parts/field.js';
import { SaveState } from '../parts/save.js';
import { Dialog } from '../parts/dialog.js';
import { PastTreatments } from '../parts/past.js';

export function Person() {
    const who = person.value;
    const record = visit.value;
    if (!who) return null;
    return html`
        <div class="columns">
            <section class="card"><h2>Who it is</h2>
                <p class="note">Kept apart from the medical record. Files and pages bear the code, never the name.</p>
                <${TextField} record=${who} path="name" label="Name" />
                <${TextField} record=${who} path="code" label="Code" />
                <${DateField} record=${who} path="born" label="Date of birth" />
                <${ChoiceField} record=${who} path="sex" label="Sex, as far as doses and pregnancy are concerned"
                    words=${['female', 'male', 'other']} canBeNotAsked=${false} />
                <${TextField} record=${who} path="contact" label="How to reach them" isLong />
                <${TextField} record=${who} path="family_doctor" label="Family doctor" isLong />
                <${WaitingRoom} id=${who.id} />
                ${mayWrite('treatment') && html`<${Import} id=${who.id} />`}
                ${role.value === 'owner' && html`<${Erase} id=${who.id} code=${who.draft.value.code} />`}
            </section>
            ${record ? html`<${Medical} record=${record} />`
                : html`<section class="card"><h2>Medical background</h2><p>Begin a visit first: “New visit” above.</p></section>`}
        </div>`;
}

/** @param {{record: import('../lib/record.js').EditedRecord}} props */
function Medical({ record }) {
    const rows = vocabulary.value?.findings ?? [];
    const known = vocabulary.value;
    return html`
        <section class="card"><h2>Body and day</h2>
            <${SaveState} record=${record} what="this visit" />
            <${DateField} record=${record} path="visit_date" label="Date of the visit" />
            <div class="fields">
                ${ofScope(rows, 'visit').map((row) => html`<${FindingField} record=${record} path=${row.key} row=${row} key=${row.key} />`)}
                <${DateField} record=${record} path="mass_measured_on" label="Weighed on" />
            </div>
            <h2>Shoe the device goes into</h2>
            <div class="fields">
                <${NumberField} record=${record} path="shoe.inner_length_mm" row=${{ what: 'inner length', unit: 'mm' }} canBeNotAsked=${false} />
                <${NumberField} record=${record} path="shoe.inner_width_mm"
                    row=${{ what: 'insole’s width at the ball', unit: 'mm' }} canBeNotAsked=${false} />
                <${NumberField} record=${record} path="shoe.heel_width_mm"
                    row=${{ what: 'insole’s width at the heel', unit: 'mm' }} canBeNotAsked=${false} />
                <${NumberField} record=${record} path="shoe.pitch_mm" row=${{ what: 'heel above forefoot', unit: 'mm' }} canBeNotAsked=${false} />
                <${TextField} record=${record} path="shoe.kind" label="Kind of shoe" />
            </div>
        </section>
        <section class="card is-broad"><h2>What doses and rules need to know</h2>
            <div class="fields">
                <${ListField} record=${record} path="medicines" label="Medicines" none="none taken" known=${known?.medicines} />
                <${ListField} record=${record} path="conditions" label="Conditions" none="none" known=${known?.conditions} />
                <${ListField} record=${record} path="allergies" label="Allergies" none="none known" />
            </div>
            <div class="answers">${ofScope(rows, 'person').map((row) => html`
                <${FindingField} record=${record} path=${`person.${row.key}`} row=${row} key=${row.key} />`)}</div>
        </section>
        <section class="card is-broad"><h2>What was done before</h2><${PastTreatments} record=${record} /></section>`;
}

/** @param {{id: string}} props */
function WaitingRoom({ id }) {
    const [code, setCode] = useState(/** @type {{code: string, until: string}|null} */ (null));
    const [fault, setFault] = useState('');
    return html`
        <div class="waiting-room"><h3>Waiting-room tablet</h3>
            <p class="note">
                A one-time code opens the score form and nothing else, at the address <span class="code">${location.origin}/#/score</span></p>
            <button type="button"
                onClick=${() => api.scoreCode(id).then(setCode, (/** @type {Error} */ no) => setFault(no.message))}>
                Make a code</button>
            <p role="status">${code && html`<strong class="big-code">${code.code}</strong> good until ${momentText(code.until)}`}${fault}</p>
        </div>`;
}

/** A visit out of a bundle of our own export. @param {{id: string}} props */
function Import({ id }) {
    const [said, say] = useState({ text: '', isFault: false });
    const take = async (/** @type {any} */ event) => {
        const file = event.currentTarget.files?.[0];
        if (!file) return;
        try {
            await api.importBundle(id, await file.text());
            await openPerson(id);
            say({ text: 'The visit is in the record.', isFault: false });
        } catch (trouble) {
            say({ text: /** @type {Error} */ (trouble).message, isFault: true });
        }
    };
    return html`
        <details><summary>Import a visit</summary>
            <div class="field"><label for="import-bundle">A visit-bundle.json that this program exported, of this person’s code</label>
                <input id="import-bundle" type="file" accept=".json,application/json" onChange=${take} /></div>
            <p class="note">Scans are not in a bundle: those it names must be this person’s already.</p>
            <p class=${said.isFault ? 'fault' : 'note'} role=${said.isFault ? 'alert' : 'status'}>${said.text}</p></details>`;
}

/** @param {{id: string, code: string}} props */
function Erase({ id, code }) {
    const [isOpen, open] = useState(false);
    const [why, setWhy] = useState('');
    const [typed, setTyped] = useState('');
    const [fault, setFault] = useState('');
    const erase = async () => {
        try {
            await api.erasePerson(id, why);
            closePerson();
            go('today');
        } catch (trouble) {
            setFault(/** @type {Error} */ (trouble).message);
        }
    };
    return html`
        <details class="danger"><summary>Erase this person</summary>
            <p>Destroys the key of this person's record: it cannot be read again by anybody. Device records stay, without the name.</p>
            <button type="button" onClick=${() => open(true)}>Erase …</button></details>
        ${isOpen && html`<${Dialog} title=${`Erase ${code}`} onClose=${() => open(false)}>
            <div class="field"><label for="erase-why">Why, and on whose demand</label>
                <input id="erase-why" type="text" value=${why} onInput=${(/** @type {any} */ e) => setWhy(e.currentTarget.value)} /></div>
            <div class="field"><label for="erase-code">Type the code ${code} to be sure</label>
                <input id="erase-code" type="text" value=${typed} onInput=${(/** @type {any} */ e) => setTyped(e.currentTarget.value)} /></div>
            <p class="fault" role="alert">${fault}</p>
            <p class="actions">
                <button type="button" class="alarm" disabled=${!why.trim() || typed !== code} onClick=${erase}>Erase for good</button></p>
        </${Dialog}>`}`;
}
