// SPDX-License-Identifier: GPL-3.0-or-later
// Settings: how the page looks; the clinic, its users, its rules; backup, proof, who did what.
import { html, useState } from '../lib/ui.js';
import { role, session } from '../lib/state.js';
import { api, Refusal } from '../lib/api.js';
import { theme, textSize, THEMES, SIZES } from '../lib/theme.js';
import { momentText, sentenceCase, plural } from '../lib/format.js';
import { AddForm } from '../parts/form.js';
import { citation } from '../parts/why.js';
import { useRows } from '../parts/use_rows.js';

export function Settings() {
    return html`
        <section class="card"><h2>How the page looks</h2>
            <${Pick} name="Ground" words=${THEMES} of=${theme} />
            <${Pick} name="Text" words=${SIZES} of=${textSize} />
        </section>
        <section class="card"><h2>Your passphrase</h2>
            <${AddForm} button="Change it" onSubmit=${(/** @type {any} */ typed) => api.newPassphrase(typed.old, typed.fresh).then(() => 'Changed.')}
            rows=${[{ key: 'old', label: 'The old one', kind: 'password', isNeeded: true },
                { key: 'fresh', label: 'The new one', kind: 'password', isNeeded: true }]} />
        </section>
        ${role.value === 'owner' && html`<${Clinic} /><${OwnQuestionnaires} /><${Users} /><${Workers} /><${Keep} />`}
        <${Rules} />
        ${role.value === 'owner' && html`<${Audit} />`}
        <section class="card"><h2>What this program is</h2>
            <p>
                It advises a licensed clinician, who decides. It does not diagnose and does not prescribe. Local rules and the
                product's own leaflet go first.
                Load is not pain. Values marked “from memory” or “common practice” are defaults, not evidence.</p></section>`;
}

/** @param {{name: string, words: string[], of: import('../vendor/signals.js').Signal<string>}} props */
function Pick({ name, words, of }) {
    return html`<fieldset class="field choice"><legend>${name}</legend><span class="segments">${words.map((word) => html`
        <label class=${of.value === word ? 'is-chosen' : ''}>
            <input type="radio" name=${name} checked=${of.value === word} onChange=${() => (of.value = word)} />
            <span>${word}</span></label>`)}
    </span>
    </fieldset>`;
}

function Clinic() {
    const { rows: now } = useRows(() => api.clinic(), []);
    if (!now) return null;
    const body = now.body ?? now;
    return html`<section class="card"><h2>Clinic</h2>
        <${AddForm} key=${now.version} button="Save" start=${{ name: body.name, paper: body.paper ?? 'a4' }}
            rows=${[{ key: 'name', label: 'Name, as it stands on every page', kind: 'text', isNeeded: true },
                { key: 'paper', label: 'Paper of the documents', kind: 'choice', options: ['a4', 'letter'] }]}
            onSubmit=${async (/** @type {any} */ typed) => { await api.saveClinic(now.version ?? 1,
                { ...body, ...typed }); session.value = /** @type {any} */ ({ ...session.value,
                clinic: { ...session.value?.clinic, ...typed } }); }} />
    </section>`;
}

/** The clinic's own text files: the words of a known questionnaire, or one of its own. */
function OwnQuestionnaires() {
    const { rows: now, setRows } = useRows(() => api.clinic(), []);
    const [text, setText] = useState('');
    const [said, say] = useState('');
    if (!now) return null;
    const body = now.body ?? now;
    /** @type {string[]} */
    const texts = body.questionnaires ?? [];
    const keep = async (/** @type {string[]} */ next, /** @type {string} */ done) => {
        try {
            if (next.length > texts.length) await api.scores({ questionnaire: next[next.length - 1], sheets: [] });
            await api.saveClinic(now.version ?? 1, { ...body, questionnaires: next });
            setRows(await api.clinic());
            setText('');
            say(done);
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            say([trouble.message, ...trouble.faults.map((fault) => `${fault.key}: ${fault.sentence}`)].join(' '));
        }
    };
    return html`<section class="card"><h2>Questionnaires of the clinic</h2>
        <p class="note">
            Words of questionnaires belong to their authors: what the clinic may use, it loads here from its own text file (docs/questionnaires.md).
        </p>
        ${texts.length > 0
            && html`<ul>
                ${texts.map((one, i) =>
                    html`<li>
                        <code>${(/^\s*scale:\s*(.+)$/m.exec(one)?.[1] ?? '?').trim()}</code> <button type="button" class="quiet"
                            onClick=${() => keep(texts.filter((_, k) => k !== i), 'Taken out.')}>Take out</button>
                    </li>`)}
            </ul>`}
        <div class="field"><label for="questionnaire-file">A text file</label>
            <input id="questionnaire-file" type="file" accept=".txt,text/plain"
                onChange=${async (/** @type {any} */ e) => { const file = e.currentTarget.files?.[0]; if (file) setText(await file.text()); }} />
        </div>
        <div class="field"><label for="questionnaire-text">Its text</label>
            <textarea id="questionnaire-text" rows="6" value=${text} onInput=${(/** @type {any} */ e) => setText(e.currentTarget.value)} /></div>
        <p role="status" class="note">${said}</p>
        <p class="actions">
            <button type="button" class="main" disabled=${!text.trim()} onClick=${() => keep([...texts, text], 'Kept.')}>Check and keep</button></p>
    </section>`;
}

const ROLES = ['clinician', 'assistant', 'maker', 'owner'];

const RIGHTS = [{ key: 'injection', label: 'may log injections', kind: 'check' },
    { key: 'focused_shockwave', label: 'may log focused shockwave', kind: 'check' }];

/** What was ticked as the list the server keeps. @param {any} typed */
function withPermissions({ injection, focused_shockwave, ...user }) {
    return { ...user, permissions: [injection && 'injection', focused_shockwave && 'focused_shockwave'].filter(Boolean) };
}

function Users() {
    const { rows, setRows } = useRows(() => api.users(), []);
    const reload = async () => setRows(await api.users());
    const add = async (/** @type {any} */ typed) => {
        await api.addUser(withPermissions(typed));
        await reload();
    };
    return html`
        <section class="card"><h2>Users</h2>
            <div class="table-room" tabindex="0" role="region" aria-label="Users"><table>
                <thead>
                    <tr><th scope="col">Name</th><th scope="col">Signs in with</th><th scope="col">Role</th>
                        <th scope="col">May also</th><th scope="col">Change</th></tr>
                </thead>
                <tbody>
                    ${(rows ?? []).map((/** @type {any} */ user) =>
                        html`<${User} key=${`${user.id} ${user.version}`} user=${user} onDone=${reload} />`)}
                </tbody>
            </table>
            </div>
            <details><summary>Add a user</summary><${AddForm} button="Add" onSubmit=${add} rows=${[
                { key: 'name', label: 'Name', kind: 'text', isNeeded: true },
                { key: 'login', label: 'Name to sign in with', kind: 'text', isNeeded: true },
                { key: 'passphrase', label: 'First passphrase', kind: 'password', isNeeded: true,
                    hint: 'For the first sign-in only: they set one of their own then.' },
                { key: 'role', label: 'Role', kind: 'choice', options: ROLES, isNeeded: true }, ...RIGHTS]} /></details>
        </section>`;
}

/** One user: rights, a new passphrase, and whether they may sign in at all. @param {{user: any, onDone: () => Promise<any>}} props */
function User({ user, onDone }) {
    const permissions = /** @type {string[]} */ (user.permissions ?? []);
    const start = { role: user.role, injection: permissions.includes('injection'), focused_shockwave: permissions.includes('focused_shockwave') };
    const [fault, setFault] = useState('');
    const save = async (/** @type {any} */ body) => {
        await api.saveUser(user.id, { version: user.version, ...body });
        await onDone();
    };
    const letIn = async (/** @type {boolean} */ active) => {
        try {
            await save({ active });
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            setFault(trouble.message);
        }
    };
    return html`<tr><th scope="row">${user.name}${!user.active && html` <small>may not sign in</small>`}</th>
        <td>${user.login}</td><td>${user.role}</td>
        <td>${permissions.map((one) => one.replace('_', ' ')).join(', ')}</td>
        <td><details><summary>Change ${user.name}</summary>
            <${AddForm} button="Save" start=${start} onSubmit=${(/** @type {any} */ typed) => save(withPermissions(typed))}
                rows=${[{ key: 'role', label: 'Role', kind: 'choice', options: ROLES, isNeeded: true }, ...RIGHTS,
                    { key: 'passphrase', label: 'A new passphrase, where the old one is lost', kind: 'password',
                        hint: 'Signs them out everywhere; at the next sign-in they set one of their own.' }]} />
            <p class="actions">
                <button type="button" class=${user.active ? 'alarm' : ''} onClick=${() => letIn(!user.active)}>
                    ${user.active ? 'End the access of' : 'Let in again:'} ${user.name}</button>
            </p>
            <p class="fault" role="alert">${fault}</p></details></td></tr>`;
}

/** Machines that compute without the clinic's key: registered by the line they print, given the clinic's line back. */
function Workers() {
    const { rows, setRows } = useRows(() => api.workers(), []);
    const [given, give] = useState(/** @type {{id: string, name: string, line: string}|null} */ (null));
    const [said, say] = useState('');
    const add = async (/** @type {any} */ typed) => {
        const { worker } = await api.addWorker({ name: typed.name, line: typed.line });
        give(worker);
        setRows(await api.workers());
        return `${worker.name} is registered.`;
    };
    const withdraw = async (/** @type {any} */ row) => {
        try {
            await api.withdrawWorker(row.id);
            say(`${row.name} is withdrawn. Jobs asked for before stay open to it: end its role in the database as well.`);
            if (given?.id === row.id) give(null);
            setRows(await api.workers());
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            say(trouble.message);
        }
    };
    return html`
        <section class="card"><h2>Machines that compute for this clinic</h2>
            <p>
                A registered machine reads the jobs asked for from now on, the scans in them included, and nothing else of the
                records. What it computes is believed: register only a machine of the clinic's own, by a line you fetched from
                it yourself.
            </p>
            ${(rows ?? []).length > 0
                && html`<div class="table-room" tabindex="0" role="region" aria-label="Registered machines">
                    <table>
                        <thead>
                            <tr><th scope="col">Name</th><th scope="col">Registered</th><th scope="col">By</th><th scope="col">Now</th></tr></thead>
                <tbody>
                    ${(rows ?? []).map((/** @type {any} */ row) =>
                        html`<tr><th scope="row">${row.name}</th><td class="when">${momentText(row.registered)}</td>
                            <td>${row.registered_by || 'the server’s shell'}</td>
                    <td>
                        ${row.withdrawn ? `withdrawn ${momentText(row.withdrawn)}`
                            : html`<button type="button" onClick=${() => withdraw(row)}>Withdraw ${row.name}</button>`}
                    </td>
                        </tr>`)}
                </tbody>
                    </table>
                </div>`}
            <p role="status">${said}</p>
            <details><summary>Register a machine</summary>
                <p>On that machine, <code>heelwright work --join</code> prints its line.</p>
                <${AddForm} button="Register" onSubmit=${add}
                    rows=${[{ key: 'name', label: 'Name of the machine', kind: 'text', isNeeded: true },
                        { key: 'line', label: 'Its line', kind: 'long', isNeeded: true }]} />
                ${given
                    && html`<p>Give ${given.name} this line, with <code>heelwright work --clinic LINE</code>:</p>
                        <p><code class="line-given">${given.line}</code></p>`}
            </details>
        </section>`;
}

function Keep() {
    const [said, say] = useState('');
    const run = async (/** @type {() => Promise<any>} */ call, /** @type {string} */ word) => {
        say(`${word} …`);
        try {
            const done = await call();
            say(`${word}: ${done?.sentence ?? done?.folder ?? done?.path ?? (done?.ok === false ? 'not good' : 'good')}`);
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            say(`${word}: ${trouble.message}`);
        }
    };
    return html`<section class="card"><h2>Keep it safe</h2><p class="actions">
            <button type="button" onClick=${() => run(api.backup, 'Backup')}>Back up now</button>
            <button type="button" onClick=${() => run(api.verify, 'Proof of the records')}>Prove that no record was changed</button></p>
        <p role="status">${said}</p></section>`;
}

function Rules() {
    const { rows: all } = useRows(() => api.rules(), []);
    const rules = /** @type {any[]} */ (Array.isArray(all) ? all : all?.rules ?? all?.rows ?? []);
    return html`<details class="card"><summary>${plural(rules.length, 'safety rule')}, with source and status</summary>
        <div class="table-room is-long" tabindex="0" role="region" aria-label="Safety rules">
            <table>
                <thead>
                    <tr><th scope="col">Kind</th><th scope="col">Row</th><th scope="col">What it says</th><th scope="col">For</th>
                        <th scope="col">Source</th></tr>
                </thead>
            <tbody>
                ${rules.map((row) =>
                    html`<tr><td><span class=${`kind kind-${row.kind}`}>${row.kind}</span></td>
                        <th scope="row"><code>${row.id ?? row.rule}</code></th><td>${row.sentence ?? row.text}</td>
                        <td>${[row.acts ?? row.act ?? []].flat().join(', ')}</td><td>${citation(row.source)}</td></tr>`)}
            </tbody>
            </table>
        </div>
    </details>`;
}

function Audit() {
    const { rows: all } = useRows(() => api.audit(), []);
    const rows = /** @type {any[]} */ (Array.isArray(all) ? all : all?.audit ?? all?.rows ?? []);
    return html`<details class="card"><summary>Who did what</summary>
        <div class="table-room is-long" tabindex="0" role="region" aria-label="Who did what">
            <table>
                <thead>
                    <tr><th scope="col">When</th><th scope="col">Who</th><th scope="col">What</th><th scope="col">Record</th>
                        <th scope="col">Version</th></tr>
                </thead>
            <tbody>
                ${rows.slice(-300).reverse()
                    .map((row) =>
                        html`<tr><td class="when">${momentText(row.when)}</td><td>${row.who}</td>
                            <td>${sentenceCase(row.why ?? row.what ?? '')}</td>
                            <td>${row.kind} <span class="code">${row.id}</span></td><td>${row.version ?? ''}</td></tr>`)}
            </tbody>
            </table>
        </div>
    </details>`;
}
