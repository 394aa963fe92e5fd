// SPDX-License-Identifier: GPL-3.0-or-later
// Trials: what is known of each treatment, by horizon, with source and how it was checked.
import { html, useState, useId } from '../lib/ui.js';
import { evidence, mayWrite } from '../lib/state.js';
import { AddForm } from '../parts/form.js';
import { sentenceCase, plural, number } from '../lib/format.js';
import { NotYet } from '../parts/figure.js';
import { citation } from '../parts/why.js';
import { api } from '../lib/api.js';
import { Forest, effectOf } from '../parts/forest.js';
import { useRows } from '../parts/use_rows.js';

/** Evidence rows however they are listed. @param {any} known @returns {any[]} */
function rowsOf(known) {
    return Array.isArray(known) ? known : known?.evidence ?? known?.rows ?? [];
}

/** @param {any} row @returns {string[]} */
function actsOf(row) {
    return row.acts ?? [row.act];
}

export function Trials() {
    const rows = rowsOf(evidence.value);
    const sources = evidence.value?.sources ?? [];
    const [search, setSearch] = useState('');
    const id = useId('search');
    const { rows: known, setRows } = useRows(() => api.trials(), []);
    const again = async () => setRows(await api.trials());
    const acts = [...new Set(rows.flatMap(actsOf))];
    const hits = (/** @type {any} */ row) => JSON.stringify(row).toLowerCase().includes(search.toLowerCase());
    return html`
        <div class="field search"><label for=${id}>Search treatments and sources</label>
            <input id=${id} type="search" value=${search} onInput=${(/** @type {any} */ e) => setSearch(e.currentTarget.value)} /></div>
        ${known && html`${known.pools.map((/** @type {any} */ pool) => html`<${Forest} key=${pool.pool} pool=${pool} trials=${known.trials} />`)}
            <${AllTrials} trials=${known.trials.filter(hits)} />
            ${mayWrite('trial') && html`<${AddTrial} pools=${known.pools.map((/** @type {any} */ one) => one.pool)} onAdded=${again} />`}`}
        <h2>By treatment</h2>
        ${rows.length === 0 && html`<section class="card"><${NotYet}>the table of trials.</${NotYet}></section>`}
        ${acts.map((act) => {
            const found = rows.filter((row) => actsOf(row).includes(act) && hits(row));
            return found.length > 0 && html`<section class="card" key=${act}><h2>${sentenceCase(act)}</h2>
                <table class="evidence">
                    <thead><tr><th scope="col">Weeks</th><th scope="col">What was found</th><th scope="col">Source</th></tr></thead>
                    <tbody>
                        ${found.map((row) =>
                            html`<tr>
                                <td>${row.weeks_low === row.weeks_high ? row.weeks_high : `${row.weeks_low} to ${row.weeks_high}`}</td>
                                <td>${row.text}</td><td>${citation(row.source)}</td></tr>`)}
                    </tbody>
                </table>
            </section>`;
        })}
        ${sources.length > 0 && html`<details class="card"><summary>${plural(sources.length, 'source')}, with how each was checked</summary>
            <div class="table-room is-long" tabindex="0" role="region" aria-label="Sources">
                <table>
                    <thead>
                        <tr><th scope="col">Citation</th><th scope="col">What it says</th><th scope="col">Design</th><th scope="col">Status</th></tr>
                    </thead>
            <tbody>
                ${sources.filter(hits)
                    .map((/** @type {any} */ row) =>
                        html`<tr><th scope="row">${row.citation}</th>
                            <td>${row.says ?? row.what_it_says ?? row['what it says'] ?? ''}</td><td>${row.design ?? ''}</td>
                            <td>${row.status ?? ''}</td></tr>`)}
            </tbody>
                </table>
            </div>
        </details>`}`;
}

/** Every trial, those that do not check out marked and not dropped. @param {{trials: any[]}} props */
function AllTrials({ trials }) {
    const effect = (/** @type {any} */ row) => {
        const one = effectOf(row);
        return one ? `${number(one.estimate, 2)} (${number(one.low, 2)} to ${number(one.high, 2)})` : '';
    };
    return html`<details class="card"><summary>${plural(trials.length, 'trial row')}, recomputed</summary>
        <div class="table-room is-long" tabindex="0" role="region" aria-label="Trials">
            <table>
                <thead>
                    <tr><th scope="col">Trial</th><th scope="col">Treatment against control</th><th scope="col">Outcome</th>
                        <th scope="col" class="num">Week</th><th scope="col" class="num">People</th>
                        <th scope="col">Effect, above none is better</th><th scope="col">p printed, recomputed</th>
                        <th scope="col">Status</th></tr>
                </thead>
        <tbody>
            ${trials.map((row) =>
                html`<tr><th scope="row">${row.source}${row.note && html` <small>${row.note}</small>`}</th>
                    <td>${row.treatment} against ${row.control}</td><td>${row.outcome}</td><td class="num">${row.weeks}</td>
            <td class="num">${row.people_treated} / ${row.people_control}</td><td>${effect(row)}</td>
                <td>
                    ${row.printed_p ?? 'not printed'}, ${number(row.recomputed_p, 4)}${row.flag
                        && html` <span class="tag is-alarm">${row.flag}</span>`}
                </td>
                <td>${row.status}</td>
                </tr>`)}
        </tbody>
            </table>
        </div>
    </details>`;
}

/** A trial of the clinic's own reading: as printed, kept for the clinic, pooled with the table's. @param {{pools: string[], onAdded: () => Promise<void>}} props */
function AddTrial({ pools, onAdded }) {
    const number = (/** @type {string} */ key, /** @type {string} */ label, /** @type {number} */ low = -1e6, unit = '') =>
        ({ key, label, kind: /** @type {'number'} */ ('number'), low, high: 1e6, unit });
    const add = async (/** @type {any} */ typed) => {
        await api.addRecord('clinic', 'trial',
            { ...typed, ...(typed.better ? { better: undefined, lower_is_better: typed.better === 'lower' } : {}),
                ...(typed.event ? { event: undefined, event_is_bad: typed.event === 'bad' } : {}) },
            'a trial added');
        await onAdded();
        return 'Added: the pools above count it.';
    };
    return html`<details class="card" id="add-trial"><summary>Add a trial</summary>
        <p class="note">
            As its paper prints it; nothing is filled in. A difference with its interval, or means with deviations and people, or events and people.
        </p>
        <${AddForm} button="Add the trial" onSubmit=${add} rows=${[
            { key: 'source', label: 'Source: authors, year, journal', kind: 'text', isNeeded: true },
            { key: 'treatment', label: 'Treatment', kind: 'text', isNeeded: true },
            { key: 'control', label: 'Control', kind: 'text', isNeeded: true },
            { key: 'outcome', label: 'Outcome', kind: 'text', isNeeded: true }, { key: 'unit', label: 'Unit', kind: 'text' },
            { key: 'better', label: 'Better is', kind: 'choice', options: ['lower', 'higher'] },
            number('weeks', 'Weeks of follow-up', 0), { key: 'pool', label: 'Pooled with', kind: 'choice', options: pools },
            number('people_treated', 'People treated', 1), number('people_control', 'People in the control', 1),
            number('difference', 'Difference, treated less control'), number('low', 'its lower end, 95 %'),
            number('high', 'its upper end, 95 %'),
            number('mean_treated', 'Mean, treated'), number('sd_treated', 'Deviation, treated', 0),
            number('mean_control', 'Mean, control'), number('sd_control', 'Deviation, control', 0),
            number('events_treated', 'Events, treated', 0), number('events_control', 'Events, control', 0),
            { key: 'event', label: 'An event is', kind: 'choice', options: ['good', 'bad'] },
            number('printed_p', 'p as printed', 0)]} />
    </details>`;
}
