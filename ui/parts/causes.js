// SPDX-License-Identifier: GPL-3.0-or-later
// What it may be: each painful heel's outcome, the patterns, the tests with their ratios and bands.
import { html, classes } from '../lib/ui.js';
import { computation } from '../lib/state.js';
import { number, plural, sentenceCase } from '../lib/format.js';
import { SideMark, Awaited } from './figure.js';
import { citation } from './why.js';

/** @param {{value: number, low: number, high: number}} share */
function percent({ value, low, high }) {
    return `${number(100 * value, 0)} % (${number(100 * low, 0)} to ${number(100 * high, 0)} %)`;
}

/** A ratio spans decades: three figures are plenty. @param {number} value */
function ratio(value) {
    return number(value, value >= 100 ? 0 : value >= 10 ? 1 : 2);
}

export function Causes() {
    const all = computation.result.value?.visit?.plan?.differential;
    return html`
        <section class="card causes" id="causes"><h2>What it may be <small>from these findings; what is missing is said, never guessed</small></h2>
            ${!all ? html`<${Awaited}>what it may be.</${Awaited}>` : all.length === 0 ? html`<p class="empty">No heel is said to hurt.</p>`
                : all.map((/** @type {any} */ one) => html`<${Heel} key=${one.foot} of=${one} />`)}
            <${Risk} of=${computation.result.value?.visit?.plan?.risk} />
        </section>`;
}

/** @param {{of: any}} props */
function Heel({ of }) {
    const fits = of.causes.filter((/** @type {any} */ one) => one.fits === 'fits');
    const open = of.causes.filter((/** @type {any} */ one) => one.fits === 'cannot be said');
    const not = of.causes.filter((/** @type {any} */ one) => one.fits === 'does not fit');
    return html`
        <article class=${classes('heel-cause', of.outcome === 'not the plantar fascia' && 'is-elsewhere')}>
            <h3><${SideMark} side=${of.foot} /> ${sentenceCase(of.outcome)}</h3>
            <p role="status">${sentenceCase(of.sentence)}.</p>
            ${fits.map((/** @type {any} */ one) =>
                html`<p key=${one.name} class=${one.urgency === 'none' ? '' : 'caution'}><strong>${sentenceCase(one.name)}:</strong> ${one.next_step}
                ${one.urgency !== 'none' && html` <span class="tag is-alarm">${one.urgency}</span>`} <small>${citation(one.source)}</small></p>`)}
            <p>
                The plantar fascia: ${percent(of.fascia_before)} before any test <small>${citation(of.fascia_before_source)}</small>
                , <strong>${percent(of.fascia_after)}</strong> after those made.</p>
            ${of.tests.length > 0 && html`<${Tests} tests=${of.tests} />`}
            ${of.test_that_would_tell_most
                && html`<p class="small">
                    Of tests not made, most would be told
                    by: <strong>${of.test_that_would_tell_most}</strong> (${number(of.it_would_tell_bits, 2)} bit on average).
                </p>`}
            ${of.finding_most_patterns_wait_for
                && html`<p class="small">
                    ${plural(of.patterns_waiting_for_it, 'pattern waits', 'patterns wait')} for one
                    finding: <strong>${of.finding_most_patterns_wait_for}</strong>
                    ?</p>`}
            <details>
                <summary>
                    ${plural(fits.length, 'pattern fits', 'patterns fit')}, ${open.length} cannot be said, ${plural(not.length, 'does', 'do')} not fit
                </summary>
                <div class="table-room" tabindex="0" role="region" aria-label=${`Patterns, ${of.foot} heel`}>
                    <table>
                        <thead>
                            <tr><th scope="col">Cause</th><th scope="col">Pattern</th>
                                <th scope="col">What speaks for it, and what is known of it</th><th scope="col">Source</th></tr>
                        </thead>
                <tbody>
                    ${of.causes.map((/** @type {any} */ one) =>
                        html`<tr key=${one.name}><th scope="row">${sentenceCase(one.name)}</th><td>${one.fits}</td>
                    <td>${one.features.map((/** @type {any} */ feature) => `${feature.text}: ${feature.found}`).join('; ')}</td>
                        <td>${citation(one.source)}</td>
                        </tr>`)}
                </tbody>
                    </table>
                </div>
                <p class="small">Not looked for: ${of.not_looked_for}.</p></details>
        </article>`;
}

/** @param {{tests: any[]}} props */
function Tests({ tests }) {
    return html`
        <div class="table-room" tabindex="0" role="region" aria-label="Tests and their likelihood ratios">
            <table>
                <thead>
                    <tr><th scope="col">Test</th><th scope="col">Result</th><th scope="col">About</th>
                        <th scope="col" class="num">Likelihood ratio, 95 %</th><th scope="col">Limits, source</th></tr>
                </thead>
        <tbody>
            ${tests.map((one) =>
                html`<tr key=${one.test}><th scope="row">${sentenceCase(one.test)}</th><td>${one.result}</td>
                    <td>${one.about}${!one.used && html` <small>${one.why_not}</small>`}</td>
            <td class="num">
                ${ratio(one.likelihood_ratio.value)} (${ratio(one.likelihood_ratio.low)} to ${ratio(one.likelihood_ratio.high)})${one.zero_cell_corrected
                    && html` <small>zero cell</small>`}
            </td>
            <td>${one.note} <small>${citation(one.source)}</small></td></tr>`)}</tbody></table></div>`;
}

/** What was counted of causes and course, each with what speaks against it. @param {{of: any}} props */
function Risk({ of }) {
    if (!of) return null;
    const size = (/** @type {any} */ row) =>
        (row.ratio === null ? '' : `${row.ratio}${row.low === null ? ' (no interval at hand)' : ` (${row.low} to ${row.high})`}`);
    return html`<details><summary>What was counted of causes and of the course</summary>
        ${of.feet.map((/** @type {any} */ foot) =>
            html`<div class="table-room" key=${foot.foot} tabindex="0" role="region"
                aria-label=${`Risk and course, ${foot.foot} heel`}>
                <table>
                    <thead>
                        <tr><th scope="col">${sentenceCase(foot.foot)} heel</th><th scope="col">Found here</th>
                            <th scope="col">What was counted</th><th scope="col">What speaks against it</th>
                            <th scope="col">Source</th></tr>
                    </thead>
            <tbody>
                ${foot.rows.map((/** @type {any} */ row) =>
                    html`<tr key=${row.name}><th scope="row">${sentenceCase(row.name)}</th><td>${row.holds}</td>
                        <td>${row.what} ${size(row)}</td><td>${row.against}</td><td>${citation(row.source)}</td></tr>`)}
            </tbody>
                </table>
            </div>`)}
        <p>
            Still there
            after ${of.still_there.map((/** @type {any} */ row) => `${row.years} years: ${row.percent} %`).join(', ')} <small>
                ${citation(of.still_there_source)}</small>
            . <strong>Against it:</strong> ${of.still_there_against}</p>
        <p class="small">Counted of others; odds are not multiplied, and none of it is a forecast for this person.</p></details>`;
}
