// SPDX-License-Identifier: GPL-3.0-or-later
// What drives the load: bars that add up from a reference foot to this one; what would bring it down;
// what a day adds up to.
import { html, useState } from '../lib/ui.js';
import { number, signed, bandText, sentenceCase, quantity } from '../lib/format.js';
import { staircase } from '../lib/staircase.js';
import { Why } from './why.js';
import { Chart, Table } from './chart.js';
import { Awaited, Figure } from './figure.js';

const WHEN = /** @type {[string, string][]} */ ([['midstance', 'mid-stance'], ['peak', 'peak'], ['impulse', 'impulse']]);

/** @typedef {import('../lib/staircase.js').Step} Step */

/** @param {{of: any}} props */
export function Drivers({ of }) {
    const [when, setWhen] = useState('midstance');
    const { causes } = of;
    if (!causes) return html`<section class="card"><h2>What drives the load above a reference foot</h2>
        <${Awaited}>${of.causes_why ?? 'how much of the load each finding accounts for.'}</${Awaited}></section>`;
    const steps = staircase(causes, when);
    const unknown = causes.parts.filter((/** @type {any} */ part) => !part.known).map((/** @type {any} */ part) => part.cause);
    return html`
        <section class="card"><h2>What drives the load, against a reference foot
                <${Why} label="Drivers of the load"
                    what=${`How much of this foot’s load each finding accounts for, against ${causes.against}.`}
                    inputs=${[`reference mass ${number(causes.reference_mass_kg)} kg`, ...causes.parts.map((/** @type {any} */ part) => part.cause)]}
                    formula="mean of a finding’s effect over all orders in which the findings can be taken in"
                    source="Shapley 1953"
                    uncertainty=${`5th to 95th percentile over ${causes.tissue_sets} sets of tissue properties${causes.tissue_sets_left_out
                        ? `, ${causes.tissue_sets_left_out} left out` : ''}; the means add up exactly`} />
        </h2>
            <div class="tabs" role="group" aria-label="Load at">
                ${WHEN.map(([key, name]) => html`<button type="button" aria-pressed=${key === when} onClick=${() => setWhen(key)}>${name}</button>`)}
            </div>
            <${Staircase} steps=${steps} />
            ${unknown.length > 0 && html`<p class="note">Not known for this person, left out: ${unknown.join(', ')}.</p>`}
            <details><summary>The same as a table</summary>
                <${Table} caption="Per cent of the reference foot’s load" head=${['Finding', 'Adds', '5th to 95th percentile']}
                rows=${steps.map((step) =>
                    [sentenceCase(step.name), step.isTotal ? `${number(step.to)} %` : `${signed(step.to - step.from)} %`,
                        step.band ? `${bandText(step.band, 1, true)} %` : ''])} />
            </details>
        </section>`;
}

/** @param {{steps: Step[]}} props */
function Staircase({ steps }) {
    const ends = steps.flatMap((step) =>
        [step.from, step.to, step.isTotal ? 100 + (step.band?.p95 ?? 0) : step.from + (step.band?.p95 ?? 0),
            step.isTotal ? 100 + (step.band?.p05 ?? 0) : step.from + (step.band?.p05 ?? 0)])
        .filter((value) => value > 0);
    const low = Math.floor((Math.min(100, ...ends) - 4) / 5) * 5;
    const high = Math.ceil((Math.max(100, ...ends) + 2) / 5) * 5;
    const x = (/** @type {number} */ value) => 190 + (440 * (Math.max(low, value) - low)) / (high - low);
    const row = 34;
    return html`
        <svg class="stairs" viewBox=${`0 0 760 ${steps.length * row + 26}`} role="img"
            aria-label=${steps.map((step) => `${step.name} ${step.isTotal ? `${number(step.to)} %` : `${signed(step.to - step.from)} %`}`)
                .join(', ')}>
            <path class="grid" d=${`M${x(100)} 0V${steps.length * row}`} />
                <text x=${x(100)} y=${steps.length * row + 18} text-anchor="middle">100 %</text>
            ${steps.map((step, i) => {
                const y = i * row + 5;
                const [a, b] = [Math.min(x(step.from), x(step.to)), Math.max(x(step.from), x(step.to))];
                const base = step.isTotal ? 100 : step.from;
                return html`<text class="name" x="180" y=${y + 17} text-anchor="end">${sentenceCase(step.name)}</text>
                    <rect class=${step.isTotal ? 'total' : step.to < step.from ? 'less' : 'more'} x=${a} y=${y}
                        width=${Math.max(2, b - a)} height="22" rx="3" />
                    ${step.band && html`<path class="whisker" d=${`M${x(base + step.band.p05)} ${y + 11}H${x(base + step.band.p95)}`} />`}
                    ${i + 1 < steps.length && html`<path class="grid" d=${`M${x(step.to)} ${y + 22}V${y + row}`} />`}
                    <text class="value" x="645" y=${y + 17}>
                        ${step.isTotal ? `${number(step.to, 0)} %` : `${signed(step.to - step.from, 1)} %`}</text>`;
            })}
        </svg>`;
}

/** What would bring the load to the reference. @param {{of: any}} props */
export function Levers({ of }) {
    if (!of.levers?.length) return null;
    return html`
        <section class="card"><h2>What would bring it down</h2>
            <div class="levers">${of.levers.map((/** @type {any} */ lever) => html`<${Lever} key=${lever.lever} lever=${lever} />`)}</div>
            <p class="note">Mid-stance load against the reference foot (1 = as there). Where the line is level, more of it gains nothing.</p>
        </section>`;
}

/** @param {{lever: any}} props */
function Lever({ lever }) {
    const points = lever.curve.map((/** @type {any} */ point) => ({ x: point.setting, ...point.midstance_over_reference }));
    const pick = (/** @type {string} */ key) => points.map((/** @type {any} */ point) => point[key] ?? null);
    const name = `${sentenceCase(lever.lever)}, ${lever.unit}`;
    return html`<div><${Chart} title=${sentenceCase(lever.lever)} x=${pick('x')} xName=${name} yName="of the reference" height=${200}
            lines=${[{ name: 'mid-stance load', values: pick('median'), low: pick('p05'), high: pick('p95'), colour: 'series-1' },
                { name: 'reference', values: points.map(() => 1), colour: 'ink-2', isDashed: true }]}
            table=${html`<${Table} caption=${name} head=${['Setting', 'Load', '5th to 95th percentile']}
                rows=${points.map((/** @type {any} */ point) => [quantity(point.x, lever.unit), number(point.median, 3), bandText(point, 3)])} />`} />
        <p>
            ${lever.reaches_reference_at === null ? 'Does not reach the reference by itself.'
                : `Reaches the reference at ${quantity(lever.reaches_reference_at, lever.unit)}.`}
            ${lever.flattens_at === null ? '' : ` Gains little beyond ${quantity(lever.flattens_at, lever.unit)}.`}</p></div>`;
}

/** @param {{of: any, findings: any}} props */
export function Day({ of, findings }) {
    const { day } = of;
    if (!day?.standing && !day?.walking) return null;
    const why = (/** @type {string} */ what) =>
        ({ what,
            inputs: [findings.steps_per_day !== undefined && `${findings.steps_per_day} steps a day`,
                findings.standing_hours_per_day !== undefined && `${findings.standing_hours_per_day} h standing`],
            formula: 'mean tension × time', source: 'model of docs/mechanics.md',
            uncertainty: 'band over tissue sets; a sum of tension is not a measure of harm' });
    return html`
        <section class="card"><h2>What a usual day adds up to</h2><div class="figures">
            <${Figure} label="Standing" value=${day.standing?.median} unit="BW·h" digits=${1} band=${day.standing}
                why=${why('Tension of this foot’s fascia while standing, summed over the day.')} />
            <${Figure} label="Walking" value=${day.walking?.median} unit="BW·h" digits=${2} band=${day.walking}
                why=${why('Tension of this foot’s fascia while walking, summed over the day.')} />
            <${Figure} label="Share of walking"
                value=${day.share_of_walking === null || day.share_of_walking === undefined ? null : 100 * day.share_of_walking}
                unit="%" digits=${0} why=${why('Walking’s part of the two.')} />
        </div></section>`;
}
