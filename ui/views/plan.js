// SPDX-License-Identifier: GPL-3.0-or-later
// Plan: three columns (unload, settle, heal), the weeks, what the rules say, what keeps it from release.
import { html, useState, classes, useId } from '../lib/ui.js';
import { visit, person, computation, vocabulary, session, mayWrite, role } from '../lib/state.js';
import { api, Refusal } from '../lib/api.js';
import { today } from '../lib/dates.js';
import { bandText, dateText, plural, sentenceCase, signed, verdictParts } from '../lib/format.js';
import { Progress } from '../parts/progress.js';
import { Awaited } from '../parts/figure.js';
import { citation } from '../parts/why.js';
import { FindingField } from '../parts/field.js';
import { Dialog } from '../parts/dialog.js';
import { Weeks } from '../parts/weeks.js';
import { Papers } from '../parts/papers.js';
import { CourseAhead } from '../parts/forecast.js';

/** @typedef {import('../lib/record.js').EditedRecord} EditedRecord */

const COLUMNS = [
    { key: 'unload', title: 'Unload the fascia', what: 'less tension at each step' },
    { key: 'settle', title: 'Settle the symptoms', what: 'less pain soon' },
    { key: 'heal', title: 'Let the tissue heal', what: 'a stronger fascia' },
];

export function Plan() {
    const record = visit.value;
    const plan = computation.result.value?.visit?.plan;
    if (!record) return html`<p class="empty">No visit yet: “New visit” above begins one.</p>`;
    if (!plan) return html`<${Progress} /><section class="card"><${Awaited}>the plan.</${Awaited}></section>`;
    return html`
        <${Progress} />
        <${Release} plan=${plan} record=${record} />
        <${Weeks} plan=${plan} record=${record} />
        <${Signature} plan=${plan} record=${record} />
        <div class="principles">${COLUMNS.map((column) => html`
            <section class=${`principle principle-${column.key}`} key=${column.key}><h2>${column.title} <small>${column.what}</small></h2>
                ${plan.options.filter((/** @type {any} */ one) => one.principle === column.key).map((/** @type {any} */ option) => html`
                    <${Option} key=${`${option.act} ${option.foot}`} option=${option} record=${record} plan=${plan} />`)}
            </section>`)}</div>
        <${CourseAhead} />
        ${plan.notes?.length > 0
            && html`<section class="card"><h2>Notes of the rules</h2>
                <ul>${plan.notes.map((/** @type {string} */ text) => html`<li>${sentenceCase(text)}</li>`)}</ul></section>`}
        <${OnPaper} plan=${plan} />`;
}

/** The finding a question asks for. @param {string} key */
export function findingAt(key) {
    const name = key.split('.').pop();
    const scope = key.startsWith('red_flags.') ? 'red_flag'
        : key.startsWith('person.') ? 'person' : key.includes('.heel_pain.') ? 'heel_pain' : key.startsWith('feet.') ? 'foot' : 'visit';
    return vocabulary.value?.findings.find((row) => row.key === name && row.scope === scope);
}

/** @param {{plan: any, record: EditedRecord}} props */
function Release({ plan, record }) {
    const blocking = plan.open_questions_that_block ?? 0;
    const [isOpen, open] = useState(false);
    const { word, reason } = verdictParts(plan.verdict);
    return html`
        <section class=${`card release ${plan.released ? 'is-released' : 'is-held'}`}><h2>${word}</h2>
            <p>${reason}</p>
            ${plan.red_flags?.length > 0 && html`<p class="caution">Red flags stand against the ordinary course: see above.</p>`}
            ${plan.open_questions.length > 0 && html`
                <button type="button" aria-expanded=${isOpen} onClick=${() => open(!isOpen)}>
                    ${isOpen ? 'Hide' : 'Answer'} the ${plural(plan.open_questions.length,
                        'open question')}${blocking ? `, ${blocking} of them hold the release` : ''}
                </button>
                ${isOpen && html`<div class="answers">${plan.open_questions.map((/** @type {any} */ one) => {
                    const row = findingAt(one.key);
                    return row
                        ? html`<${FindingField} key=${one.key} record=${record} path=${one.key} row=${row}
                            label=${sentenceCase(one.text)} warn="yes" />`
                        : html`<p key=${one.key} class="field">${sentenceCase(one.text)}</p>`;
                })}</div>`}`}
        </section>`;
}

const STATES = { available: 'may be done', held: 'held: a question is open', stopped: 'stopped by a rule', never: 'never', forbidden: 'never' };

/** @param {{option: any, record: EditedRecord, plan: any}} props */
function Option({ option, record, plan }) {
    const isIn = plan.timeline.some((/** @type {any} */ one) => one.what === option.act && (!option.foot || one.foot === option.foot));
    const change = (option.expected_change_of_load ?? []).find((/** @type {any} */ one) => !option.foot || one.foot === option.foot);
    return html`
        <article class=${classes('option', `is-${option.state}`)}>
            <h3>${sentenceCase(option.act)}${option.foot && html` <span class=${`side side-${option.foot}`}>${option.foot}</span>`}</h3>
            <p class="option-state"><span class="mark" aria-hidden="true"></span>
                ${STATES[/** @type {keyof typeof STATES} */ (option.state)] ?? option.state}${option.waits_for
                    && ` · earliest ${dateText(option.earliest)}`}
            </p>
            <p>${option.dose?.text}</p>
            ${option.dose_for_this_person && html`<p class="for-person"><strong>Here:</strong> ${option.dose_for_this_person}</p>`}
            ${change?.midstance_pct
                && html`<p class="small">
                    Load in mid-stance ${signed(change.midstance_pct.median, 0)} % (${bandText(change.midstance_pct, 0, true)})</p>`}
            ${option.reasons.map((/** @type {any} */ reason) => html`<${Reason} key=${reason.rule} reason=${reason} record=${record} />`)}
            <details><summary>Evidence, aftercare, source</summary>
                <ul>
                    ${option.evidence.map((/** @type {any} */ row) =>
                        html`<li>${weeksText(row)}: ${row.text} <small>${citation(row.source)}</small></li>`)}
                </ul>
                ${(option.dose?.steps ?? []).map((/** @type {any} */ step) =>
                    html`<p class="small">From week ${step.from_week}: ${step.text}${step.when && html` <em>when: ${step.when}</em>`}</p>`)}
                ${option.dose?.after && html`<p class="small"><strong>After it:</strong> ${option.dose.after}</p>`}
                ${option.dose?.source && html`<p class="small">Dose: ${citation(option.dose.source)}</p>`}
                ${option.questions.length > 0
                    && html`<p class="small">
                        Still to ask: ${option.questions.map((/** @type {string} */ key) => findingAt(key)?.what ?? key).join('; ')}.</p>`}
            </details>
            ${mayWrite('visit') && role.value !== 'assistant' && html`<${Choose} option=${option} record=${record} plan=${plan} isIn=${isIn} />`}
        </article>`;
}

/** @param {{weeks_low: number, weeks_high: number}} row */
function weeksText({ weeks_low, weeks_high }) {
    return weeks_low === weeks_high ? `Week ${weeks_high}` : `Weeks ${weeks_low} to ${weeks_high}`;
}

/** Takes an act into the dated plan or out of it. @param {{option: any, record: EditedRecord, plan: any, isIn: boolean}} props */
function Choose({ option, record, plan, isIn }) {
    /** @type {string[]|undefined} */
    const chosen = record.at('chosen');
    const toggle = () => {
        const now = chosen
            ?? [...new Set(plan.timeline.map((/** @type {any} */ one) => one.what)
                .filter((/** @type {string} */ act) => plan.options.some((/** @type {any} */ o) => o.act === act)))];
        const next = now.includes(option.act) ? now.filter((/** @type {string} */ act) => act !== option.act) : [...now, option.act];
        record.set('chosen', next.length ? next : undefined);
    };
    const isChosen = chosen ? chosen.includes(option.act) : isIn;
    return html`<label class="pick">
        <input type="checkbox" checked=${isChosen} onChange=${toggle} /> in the
            plan${isChosen && !isIn ? ' (a rule stands against it: not dated)' : ''}
    </label>`;
}

/** @param {{reason: any, record: EditedRecord}} props */
function Reason({ reason, record }) {
    const [isOpen, open] = useState(false);
    const mayOverrule = reason.kind === 'stop' && (role.value === 'clinician' || role.value === 'owner') && mayWrite('visit');
    const kept = /** @type {any[]} */ (record.at('overruled') ?? []);
    const takeBack = () => {
        const left = kept.filter((one) => one.rule !== reason.rule);
        record.set('overruled', left.length ? left : undefined);
    };
    return html`
        <div class=${`reason reason-${reason.kind}`}>
            <p>
                <strong>
                    ${sentenceCase(reason.kind)}
                </strong> ${reason.sentence} ${reason.reading && html`<span class="reading">(${reason.reading})</span>`}
            </p>
            <p class="small">Row <code>${reason.rule}</code> · ${citation(reason.source)}${reason.overruled ? ' · overruled for this visit' : ''}
                ${mayOverrule && !reason.overruled && html` <button type="button" class="quiet" onClick=${() => open(true)}>Overrule …</button>`}
                ${mayOverrule && kept.some((one) => one.rule === reason.rule)
                    && html` <button type="button" class="quiet" onClick=${takeBack}>Let the stop stand again</button>`}
            </p>
            ${isOpen && html`<${Overrule} reason=${reason} record=${record} onClose=${() => open(false)} />`}
        </div>`;
}

/** @param {{reason: any, record: EditedRecord, onClose: () => void}} props */
function Overrule({ reason, record, onClose }) {
    const [why, setWhy] = useState('');
    const [second, setSecond] = useState('');
    const [passphrase, setPassphrase] = useState('');
    const [isSure, sure] = useState(false);
    const [fault, setFault] = useState('');
    const ids = { why: useId('why'), second: useId('second'), passphrase: useId('passphrase') };
    const isWhole = why.trim() && second.trim() && passphrase && second.trim() !== session.value?.user?.login && isSure;
    const keep = async () => {
        const row = { rule: reason.rule, reason: why.trim() };
        try {
            const agreed = await api.second({ ...row, person: person.peek()?.id ?? '', login: second.trim(), passphrase });
            record.set('overruled', [...(record.at('overruled') ?? []), { ...row, clinician: session.value?.user?.login, second: agreed.second }]);
            onClose();
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            setPassphrase('');
            setFault(trouble.message);
        }
    };
    return html`
        <${Dialog} title="Overrule a stop" onClose=${onClose}>
            <p><strong>${reason.sentence}</strong> ${reason.reading}</p>
            <p>
                Row ${reason.rule}, ${citation(reason.source)}. It stays on record for this visit, with both names. Rows of kind
                never cannot be overruled.
            </p>
            <div class="field"><label for=${ids.why}>Why, for this person</label>
                <textarea id=${ids.why} value=${why} onInput=${(/** @type {any} */ e) => setWhy(e.currentTarget.value)} /></div>
            <label class="pick">
                <input type="checkbox" checked=${isSure} onChange=${() => sure(!isSure)} /> I have read the rule and decide against it</label>
            <p>A second clinician reads this and agrees here, by their own passphrase.</p>
            <div class="field"><label for=${ids.second}>Second clinician (name to sign in with)</label>
                <input id=${ids.second} type="text" autocomplete="off" value=${second}
                    onInput=${(/** @type {any} */ e) => setSecond(e.currentTarget.value)} />
            </div>
            <div class="field"><label for=${ids.passphrase}>The second clinician’s passphrase</label>
                <input id=${ids.passphrase} type="password" autocomplete="off" value=${passphrase}
                    onInput=${(/** @type {any} */ e) => setPassphrase(e.currentTarget.value)} />
            </div>
            <p class="fault" role="alert">${fault}</p>
            <p class="actions"><button type="button" class="alarm" disabled=${!isWhole} onClick=${keep}>Overrule for this visit</button></p>
        </${Dialog}>`;
}

/** Who signed this version and when; an edit makes another, which nobody has signed. @param {{plan: any, record: EditedRecord}} props */
function Signature({ plan, record }) {
    const signed = record.at('signed');
    const login = session.value?.user?.login;
    const maySign = (role.value === 'clinician' || role.value === 'owner') && mayWrite('visit');
    const isReady = plan.released && record.state.value === 'saved' && computation.result.value?.version === record.version.value;
    const sign = () => record.set('signed', { by: login, on: today(), version: record.version.peek(), rules: plan.rules_version });
    return html`
        <section class="card" id="signature"><h2>Signature</h2>
            ${signed
                ? html`<p role="status">
                    <strong>Version ${signed.version} is signed</strong> by ${signed.by} on ${dateText(signed.on)}, under
                        rules ${signed.rules}. Any edit makes a new version, which nobody has signed.
                </p>`
                : html`<p>Version ${record.version.value} is not signed.</p>
                    ${maySign
                        && html`<p class="actions">
                            <button type="button" class="main" disabled=${!isReady} onClick=${sign}>Sign this version</button>
                            ${!isReady
                                && html` <small>
                                    ${plan.released ? 'once it is saved and computed' : 'a plan that is not released cannot be signed'}</small>`}
                        </p>`}`}
        </section>`;
}

/** @param {{plan: any}} props */
function OnPaper({ plan }) {
    return html`<section class="card"><h2>Papers</h2>
        ${!plan.released
            && html`<p class="caution">
                Not released: every page says so, the sheet for the patient shows no exercise, and there is no calendar until
                every question above is answered.
            </p>`}
        <${Papers} names=${['letter.pdf', 'patient.pdf', 'plan.ics', 'consent.pdf', 'plan.pdf', 'visit-bundle.json']} /></section>`;
}
