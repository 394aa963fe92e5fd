// SPDX-License-Identifier: GPL-3.0-or-later
// Treatment: today's acts with their checks; what was really given, against the plan; adverse events.
import { html, useState } from '../lib/ui.js';
import { person, visit, computation, vocabulary, session, mayWrite, withGiven } from '../lib/state.js';
import { api } from '../lib/api.js';
import { dateText, sentenceCase, daysText } from '../lib/format.js';
import { today, daysBetween } from '../lib/dates.js';
import { AddForm } from '../parts/form.js';
import { NotYet } from '../parts/figure.js';
import { citation } from '../parts/why.js';
import { nameOf } from '../parts/past.js';
import { useRows } from '../parts/use_rows.js';
import { Orders } from '../parts/orders.js';
import { Paper } from '../parts/papers.js';
import { findingAt } from './plan.js';

/** @typedef {import('../parts/form.js').FormRow} FormRow */

const NEEDS = /** @type {Record<string, string>} */ ({
    'corticosteroid injection': 'injection', 'local anaesthetic': 'injection', 'local anaesthetic with adrenaline': 'injection',
    'platelet-rich plasma': 'injection', 'focused shockwave': 'focused_shockwave',
});

/** What is written down for an act, beyond act, date and foot. @param {string} act @returns {FormRow[]} */
function rowsOf(act) {
    if (NEEDS[act] === 'injection') return [
        { key: 'substance', label: 'Substance', kind: 'text', isNeeded: true },
        { key: 'dose_mg', label: 'Dose', kind: 'number', low: 0, high: 1000, unit: 'mg' },
        { key: 'concentration_percent', label: 'Concentration', kind: 'number', low: 0, high: 100, unit: '%' },
        { key: 'volume_mL', label: 'Volume', kind: 'number', low: 0, high: 60, unit: 'mL', isNeeded: true },
        { key: 'batch', label: 'Batch', kind: 'text', isNeeded: true }, { key: 'expiry', label: 'Expiry', kind: 'date', isNeeded: true }];
    if (act.endsWith('shockwave')) return [
        { key: 'serial', label: 'Handpiece serial number', kind: 'text', isNeeded: true },
        { key: 'pulses', label: 'Pulses', kind: 'number', low: 1, high: 20000, isNeeded: true },
        { key: 'shot_count', label: 'Shot count of the handpiece afterwards', kind: 'number', low: 0, high: 1e8 },
        { key: 'frequency_Hz', label: 'Rate', kind: 'number', low: 0.5, high: 40, unit: 'Hz' },
        { key: 'pressure_bar', label: 'Pressure', kind: 'number', low: 0, high: 10, unit: 'bar', hint: 'never converted to energy' },
        { key: 'energy_mJ_per_mm2', label: 'Energy as the maker declares it', kind: 'number', low: 0, high: 2, unit: 'mJ/mm²' },
        { key: 'pain_0_10', label: 'Pain during it', kind: 'number', low: 0, high: 10 }];
    return [{ key: 'sessions', label: 'Session number', kind: 'number', low: 1, high: 60 }];
}

export function Treatment() {
    const who = person.value;
    const record = visit.value;
    const plan = computation.result.value?.visit?.plan;
    const { rows, fault } = useRows(() => api.records(who?.id ?? '', 'treatment'), [who?.id]);
    if (!record || !who) return html`<p class="empty">No visit yet: “New visit” above begins one.</p>`;
    const given = [...(rows ?? [])].sort((a, b) => String(b.body.date).localeCompare(String(a.body.date)));
    return html`
        ${fault && html`<p class="trouble">${fault}</p>`}
        <${Orders} record=${record} />
        ${mayWrite('treatment') && html`<${Give} plan=${plan} who=${who.id} />`}
        <section class="card"><h2>Given</h2>
            ${given.length === 0 ? html`<p class="empty">Nothing has been written down as given here.</p>` : html`
            <div class="table-room" tabindex="0" role="region" aria-label="Treatments given">
                <table>
                    <thead>
                        <tr><th scope="col">Date</th><th scope="col">Act</th><th scope="col">Foot</th>
                            <th scope="col">What exactly</th><th scope="col">Adverse event</th><th scope="col">Who</th></tr>
                    </thead>
                <tbody>
                    ${given.map((row) =>
                        html`<tr><td class="when">${dateText(row.body.date)}</td>
                            <th scope="row">${sentenceCase(row.body.act)}</th><td>${row.body.foot ?? 'not said'}</td>
                            <td>${details(row.body)}</td>
                    <td>${row.body.adverse_event ? html`<span class="tag is-alarm">${row.body.adverse_event}</span>` : 'none written'}</td>
                        <td>${row.who ?? ''}</td>
                        </tr>`)}
                </tbody>
                </table>
            </div>`}
        </section>
        <${Against} plan=${plan} given=${given} />
        <section class="card"><h2>On paper</h2>
            <ul class="papers">
                <${Paper} name="treatment-record.pdf" title="Treatment record"
                    what="every act with what was given, adverse events, ratings (PDF)"
                    address=${api.treatmentRecordAddress(who.id)} />
            </ul>
        </section>`;
}

const UNITS = /** @type {Record<string, [string, string]>} */ ({
    substance: ['', ''], dose_mg: ['', 'mg'], concentration_percent: ['', '%'], volume_mL: ['', 'mL'], batch: ['batch', ''],
    expiry: ['expires', ''], serial: ['handpiece', ''], pulses: ['', 'pulses'],
    shot_count: ['shot count', ''], frequency_Hz: ['', 'Hz'], pressure_bar: ['', 'bar'], energy_mJ_per_mm2: ['', 'mJ/mm²'],
    pain_0_10: ['pain', 'of 10'], sessions: ['session', ''],
});

/** @param {any} body */
function details(body) {
    return Object.entries(UNITS).filter(([key]) => body[key] !== undefined).map(([key, [before, after]]) =>
        [before, key === 'expiry' ? dateText(body[key]) : body[key], after].filter((part) => part !== '').join(' ')).join(', ');
}

/** @param {{plan: any, who: string}} props */
function Give({ plan, who }) {
    const acts = (vocabulary.value?.acts ?? []).map(nameOf);
    const [act, setAct] = useState('');
    const [foot, setFoot] = useState('');
    const option = plan?.options.find((/** @type {any} */ one) => one.act === act && (!one.foot || one.foot === foot));
    const need = NEEDS[act];
    const isAllowed = !need || (session.value?.user?.permissions ?? []).includes(need) ;
    const keep = async (/** @type {any} */ typed) => {
        const body = { ...typed, act, foot: foot || undefined, visit: visit.peek()?.id };
        await api.addRecord(who, 'treatment', body, `${act} given`);
        const record = visit.peek();
        record?.replace(withGiven(record.draft.peek(), [{ body }])); // the rules of this visit count it from now on
        return `${sentenceCase(act)} written down.`;
    };
    return html`
        <section class="card"><h2>Give or write down</h2>
            <div class="fields">
                <div class="field"><label for="give-act">Act</label>
                    <select id="give-act" value=${act} onChange=${(/** @type {any} */ e) => setAct(e.currentTarget.value)}>
                        <option value="">…</option>
                        ${acts.map((name) => html`<option value=${name} selected=${name === act}>${name}</option>`)}</select>
                </div>
                <div class="field"><label for="give-foot">Foot</label>
                    <select id="give-foot" value=${foot} onChange=${(/** @type {any} */ e) => setFoot(e.currentTarget.value)}>
                        <option value="">not said</option><option>left</option><option>right</option></select>
                </div>
            </div>
            ${act && html`<${Checks} option=${option} />`}
            ${act && !isAllowed && html`<p class="caution">Your permissions do not include this act: it cannot be written down in your name.</p>`}
            ${act && isAllowed && html`<${AddForm} key=${act} button="Write down as given" start=${{ date: today() }} onSubmit=${keep} rows=${[
                { key: 'date', label: 'Date', kind: 'date', isNeeded: true }, ...rowsOf(act),
                { key: 'adverse_event', label: 'Adverse event, if any', kind: 'text' }]} />`}
        </section>`;
}

/** The rules' answer for today, before the act. @param {{option: any}} props */
function Checks({ option }) {
    if (!option) return html`<p class="caution">The plan has no option for this act and foot: say which foot, or no rule has looked at it.</p>`;
    return html`
        <div class=${`rule-answer is-${option.state}`}>
            <p>
                <strong>
                    ${{ available: 'No rule stands against it.', held: 'Held: a question is open.',
                        stopped: 'A rule stops it.' }[/** @type {string} */ (option.state)]
                        ?? option.state}
                </strong> ${option.dose?.text} ${option.dose_for_this_person && html`<strong>Here: ${option.dose_for_this_person}</strong>`}
            </p>
            ${option.reasons.map((/** @type {any} */ reason) =>
                html`<p class="small">
                    <strong>${sentenceCase(reason.kind)}</strong> ${reason.sentence} (${reason.reading}) Row <code>${reason.rule}</code>
                    , ${citation(reason.source)}.</p>`)}
            ${option.questions.length > 0
                && html`<p class="small">
                    Still to ask: ${option.questions.map((/** @type {string} */ key) => findingAt(key)?.what ?? key).join('; ')}.</p>`}
            ${option.dose?.after && html`<p class="small">After it: ${option.dose.after}</p>`}
        </div>`;
}

/** @param {{plan: any, given: any[]}} props */
function Against({ plan, given }) {
    if (!plan) return html`<section class="card"><h2>Against the plan</h2><${NotYet}>the plan.</${NotYet}></section>`;
    if (plan.timeline.length === 0) return html`<section class="card"><h2>Against the plan</h2>
        <p class="empty">Nothing is dated yet: see “Plan”.</p></section>`;
    const left = [...given].reverse();
    const rows = plan.timeline.map((/** @type {any} */ one) => {
        const at = left.findIndex((row) => row.body.act === one.what && (!one.foot || row.body.foot === one.foot));
        return { one, done: at >= 0 ? left.splice(at, 1)[0] : null };
    });
    return html`
        <section class="card"><h2>Against the plan</h2>
            <div class="table-room" tabindex="0" role="region" aria-label="Plan against what was given">
                <table>
                    <thead>
                        <tr><th scope="col">Planned for</th><th scope="col">Act</th><th scope="col">Only if</th><th scope="col">Given</th></tr>
                    </thead>
            <tbody>
                ${rows.map((/** @type {any} */ row) =>
                    html`<tr><td class="when">${dateText(row.one.date)}</td><th scope="row">${sentenceCase(row.one.text)}</th>
                        <td>${row.one.only_if ?? ''}</td>
                <td class="when">
                    ${row.done
                        ? html`${dateText(row.done.body.date)} <small>${daysText(daysBetween(row.one.date, row.done.body.date))}</small>`
                        : 'not yet'}
                </td>
                    </tr>`)}
            </tbody>
                </table>
            </div>
        </section>`;
}
