// SPDX-License-Identifier: GPL-3.0-or-later
// Caseload: how everybody's heels did, with honest denominators; curves and the same as tables.
import { html } from '../lib/ui.js';
import { api } from '../lib/api.js';
import { number, signed, plural, sentenceCase } from '../lib/format.js';
import { Figure, NotYet } from '../parts/figure.js';
import { Chart, Table } from '../parts/chart.js';
import { useRows } from '../parts/use_rows.js';

/** @typedef {{count: number, of: number, share: number, low: number, high: number}} Share */

/** @param {Share|null|undefined} share */
function shareText(share) {
    return share ? `${share.count} of ${share.of}` : 'none';
}

/** @param {Share|null|undefined} share @returns {{p05: number, p95: number}|null} */
function percents(share) {
    return share && share.of > 0 ? { p05: 100 * share.low, p95: 100 * share.high } : null;
}

export function Caseload() {
    const { rows: all, fault } = useRows(() => api.caseload(), []);
    if (fault) return html`<p class="trouble">${fault}</p>`;
    if (!all) return html`<p role="status">Reading …</p>`;
    const of = all.all;
    const why = (/** @type {string} */ what, /** @type {Share|null} */ share = null) => ({
        what, inputs: [share ? shareText(share) : 'records of this clinic', `a change matters from ${number(all.change_that_matters)} points on (${all.change_that_matters_source})`],
        formula: share ? 'count ÷ those with a later rating; interval after Wilson' : 'a count', source: 'own records', uncertainty: share ? '95 % interval of a share; who stayed away is not in it' : 'a count, not an estimate',
    });
    return html`
        <div class="figures">
            <${Figure} label="Heels with a rating" value=${of.heels} digits=${0} why=${why('Painful heels with at least one rating of first-step pain.')} />
            <${Figure} label="Rated again later" value=${of.followed} digits=${0} why=${why('Heels with a later rating: the denominator of what follows.')} />
            <${Figure} label="Better by what matters" value=${of.better?.of ? 100 * of.better.share : null} unit="%" digits=${0} band=${percents(of.better)} why=${why('First-step pain lower by at least the change that matters to patients.', of.better)} absent="nobody yet" />
            <${Figure} label="Pain gone" value=${of.gone?.of ? 100 * of.gone.share : null} unit="%" digits=${0} band=${percents(of.gone)} why=${why(`First-step pain of ${all.gone_at_or_below} or less at the newest rating.`, of.gone)} absent="nobody yet" />
            <${Figure} label="Median change" value=${of.median_change} digits=${1} isChange why=${why('Middle of newest less first first-step pain; lower is better.')} absent="nobody yet" />
        </div>
        <p class="caution">${plural(of.lost, 'heel')} of ${of.heels} ${of.lost === 1 ? 'has' : 'have'} no later rating: what became of ${of.lost === 1 ? 'it' : 'them'} is not known and not counted as better. ${all.caution}</p>
        <${Survival} of=${of} />
        <${Acts} acts=${all.acts} />
        <section class="card"><h2>Still to come</h2><${NotYet}>adverse events, recall list, data quality, control charts over time, export.</${NotYet}></section>`;
}

/** @param {{of: any}} props */
function Survival({ of }) {
    const steps = of.still_in_pain ?? [];
    if (steps.length === 0) return null;
    // A step curve: each share stands from its week on.
    const x = [0, ...steps.flatMap((/** @type {any} */ one) => [one.week, one.week + 0.001])];
    const held = (/** @type {string} */ key) => [1, ...steps.flatMap((/** @type {any} */ one, /** @type {number} */ i) => [i ? steps[i - 1][key] : 1, one[key]])].map((share) => 100 * share);
    return html`<section class="card"><${Chart} title="Heels still in pain" x=${x} xName="weeks since the first rating" yName="per cent" yRange=${[0, 100]}
            lines=${[{ name: 'still in pain (Kaplan and Meier), 95 % band', values: held('share'), low: held('low'), high: held('high'), colour: 'series-1' }]}
            table=${html`<${Table} caption="Heels still in pain" head=${['Week', 'Still in pain', '95 % interval', 'Watched until then']} rows=${steps.map((/** @type {any} */ one) => [number(one.week), `${number(100 * one.share, 0)} %`, `${number(100 * one.low, 0)} to ${number(100 * one.high, 0)} %`, one.at_risk])} />`} />
        <p class="note">${of.median_weeks_until_gone === null ? 'Half of them have not come to the end of their pain yet.' : `Half are free of it after ${number(of.median_weeks_until_gone, 0)} weeks.`}</p></section>`;
}

/** @param {{acts: any[]}} props */
function Acts({ acts }) {
    if (!acts?.length) return null;
    return html`
        <section class="card"><h2>By treatment given</h2>
            <div class="table-room" tabindex="0" role="region" aria-label="Outcome by treatment"><table><thead><tr><th scope="col">Treatment</th><th scope="col" class="num">Heels</th><th scope="col" class="num">Followed</th><th scope="col">Better by what matters</th><th scope="col">Pain gone</th><th scope="col" class="num">Median change</th><th scope="col">Funnel</th></tr></thead>
                <tbody>${acts.map((one) => html`<tr><th scope="row">${sentenceCase(one.act)}</th><td class="num">${one.heels}</td><td class="num">${one.followed}</td><td>${shareText(one.better)}</td><td>${shareText(one.gone)}</td>
                    <td class="num">${one.median_change === null ? 'unknown' : signed(one.median_change)}</td><td>${one.outside_funnel ? html`<span class="tag is-alarm">outside</span>` : 'inside'}</td></tr>`)}</tbody></table></div>
            <p class="note">Heels are not assigned to treatments by chance: these are counts, not causes. Funnel: whether the share of better ones lies outside what chance alone gives for so few.</p>
        </section>`;
}
