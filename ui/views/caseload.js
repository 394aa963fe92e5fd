// SPDX-License-Identifier: GPL-3.0-or-later
// Caseload: how everybody's heels did, with honest denominators; curves and the same as tables.
import { html, useState } from '../lib/ui.js';
import { api, Refusal } from '../lib/api.js';
import { number, signed, plural, sentenceCase, dateText } from '../lib/format.js';
import { session } from '../lib/state.js';
import { Figure } from '../parts/figure.js';
import { Chart, Table } from '../parts/chart.js';
import { useRows } from '../parts/use_rows.js';
import { Paper, handOver } from '../parts/papers.js';
import { Recalls } from '../parts/recalls.js';

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
    const { rows: books, fault } = useRows(() => api.caseload(), []);
    if (fault) return html`<p class="trouble">${fault}</p>`;
    if (!books) return html`<p role="status">Reading …</p>`;
    const all = books.caseload;
    const of = all.all;
    const why = (/** @type {string} */ what, /** @type {Share|null} */ share = null) => ({
        what,
        inputs: [share ? shareText(share) : 'records of this clinic',
            `a change matters from ${number(all.change_that_matters)} points on (${all.change_that_matters_source})`],
        formula: share ? 'count ÷ those with a later rating; interval after Wilson' : 'a count', source: 'own records',
        uncertainty: share ? '95 % interval of a share; who stayed away is not in it' : 'a count, not an estimate',
    });
    return html`
        <div class="figures">
            <${Figure} label="Heels with a rating" value=${of.heels} digits=${0}
                why=${why('Painful heels with at least one rating of first-step pain.')} />
            <${Figure} label="Rated again later" value=${of.followed} digits=${0}
                why=${why('Heels with a later rating: the denominator of what follows.')} />
            <${Figure} label="Better by what matters" value=${of.better?.of ? 100 * of.better.share : null} unit="%" digits=${0}
                band=${percents(of.better)}
                why=${why('First-step pain lower by at least the change that matters to patients.', of.better)}
                absent="nobody yet" />
            <${Figure} label="Pain gone" value=${of.gone?.of ? 100 * of.gone.share : null} unit="%" digits=${0}
                band=${percents(of.gone)}
                why=${why(`First-step pain of ${all.gone_at_or_below} or less at the newest rating.`, of.gone)}
                absent="nobody yet" />
            <${Figure} label="Median change" unit="points" value=${of.median_change} digits=${1} isChange
                why=${why('Middle of newest less first first-step pain; lower is better.')} absent="nobody yet" />
        </div>
        <p class="caution">
            ${plural(of.lost, 'heel')} of ${of.heels} ${of.lost === 1 ? 'has' : 'have'} no later rating: what became
            of ${of.lost === 1 ? 'it' : 'them'} is not known and not counted as better. ${all.caution}
        </p>
        <${Survival} of=${of} />
        <${Acts} acts=${all.acts} />
        <${TwoGroups} of=${all.largest_two} />
        <${Beside} rows=${all.beside_trials} />
        <${Control} of=${all} />
        <${Harms} of=${all} events=${books.adverse_events} />
        <${Recalls} rows=${books.recalls} />
        <${Quality} rows=${books.quality} />
        <section class="card"><h2>On paper</h2>
            <ul class="papers">
                <${Paper} name="audit.pdf" title="Audit report"
                    what="outcomes with denominators, harms, control chart, what the books hold; groups of fewer than five are not shown (PDF)"
                    address=${api.auditAddress} />
            </ul>
        </section>
        ${session.value?.user?.role === 'owner' && html`<${Export} />`}`;
}

/** @param {{of: any}} props */
function Survival({ of }) {
    const steps = of.still_in_pain ?? [];
    if (steps.length === 0) return null;
    // A step curve: each share stands from its week on.
    const x = [0, ...steps.flatMap((/** @type {any} */ one) => [one.week, one.week + 0.001])];
    const held = (/** @type {string} */ key) =>
        [1, ...steps.flatMap((/** @type {any} */ one, /** @type {number} */ i) => [i ? steps[i - 1][key] : 1, one[key]])].map((share) => 100 * share);
    return html`<section class="card">
        <${Chart} title="Heels still in pain" x=${x} xName="weeks since the first rating" yName="per cent" yRange=${[0, 100]}
            lines=${[{ name: 'still in pain (Kaplan and Meier), 95 % band', values: held('share'), low: held('low'),
                high: held('high'), colour: 'series-1' }]}
            table=${html`<${Table} caption="Heels still in pain"
                head=${['Week', 'Still in pain', '95 % interval', 'Watched until then']}
                rows=${steps.map((/** @type {any} */ one) =>
                    [number(one.week), `${number(100 * one.share, 0)} %`,
                        `${number(100 * one.low, 0)} to ${number(100 * one.high, 0)} %`, one.at_risk])} />`} />
        <p class="note">
            ${of.median_weeks_until_gone === null ? 'Half of them have not come to the end of their pain yet.'
                : `Half are free of it after ${number(of.median_weeks_until_gone, 0)} weeks.`}
        </p>
    </section>`;
}

/** A share as whole per cent with its interval. @param {Share|null|undefined} share */
function percentText(share) {
    return share?.of
        ? `${shareText(share)}, ${number(100 * share.share, 0)} % (${number(100 * share.low, 0)} to ${number(100 * share.high, 0)})`
        : 'none';
}

/** @param {{acts: any[]}} props */
function Acts({ acts }) {
    if (!acts?.length) return null;
    const unknown = (/** @type {number|null|undefined} */ value, digits = 0) =>
        (value === null || value === undefined ? 'unknown' : number(value, digits));
    return html`
        <section class="card"><h2>By treatment first given</h2>
            <${Table} caption="What each group began from, and what became of it"
                head=${['Treatment', 'Heels', 'Followed', 'First score', 'Weeks of pain', 'Age', 'Better by what matters',
                    'Pain gone', 'Weeks until half are free of it', 'Funnel']}
                rows=${acts.map((one) =>
                    [sentenceCase(one.act), one.heels, one.followed, unknown(one.first_score_median, 1),
                        unknown(one.onset_weeks_median), unknown(one.age_median), percentText(one.better), percentText(one.gone),
                    one.median_weeks_until_gone === null || one.median_weeks_until_gone === undefined ? 'not yet'
                        : number(one.median_weeks_until_gone, 0),
                    one.followed === 0 ? '' : one.outside_funnel ? 'outside' : 'inside'])} />
            <p class="note">
                Medians; 95 % intervals. Heels are not assigned to treatments by chance: where groups differ in the columns “First
                score”, “Weeks of pain” and “Age”, and in what is not written here, their outcomes differ for that alone.
                These are counts, not causes. Funnel: whether the share of better ones lies outside what chance gives for so
                few.
            </p>
        </section>`;
}

/** The two treatments with the most heels: tests as they are, and the rate held level for what they began from. @param {{of: any}} props */
function TwoGroups({ of }) {
    if (!of) return null;
    const tests = of.no_test ? [] : [['Log-rank', of.chi2, of.p], ['Peto and Peto: early weeks weigh more', of.early_chi2, of.early_p]];
    return html`<section class="card" id="two-groups"><h2>Until the pain is gone: ${of.first} and ${of.second}</h2>
        ${of.no_test ? html`<p>No test: ${of.no_test}.</p>`
            : html`<${Table} caption="The two treatments with the most heels followed, adjusted for nothing"
                head=${['Test', 'chi squared', 'p']}
                rows=${tests.map((one) => [one[0], number(one[1], 2), number(one[2], 3)])} />`}
        ${of.not_adjusted ? html`<p class="note">Not adjusted for what they began from: ${of.not_adjusted}.</p>` : html`
        <${Table}
            caption=${`With each of the others held level (Cox, ties by Efron): ${of.adjusted_heels} heels, ${of.adjusted_events} free of pain`}
            head=${['Rate of becoming free of pain', 'Ratio, above 1 is sooner', '95 % interval', 'p']}
            rows=${of.adjusted.map((/** @type {any} */ one) =>
                [one.of === 'first against second' ? `${sentenceCase(of.first)} against ${of.second}` : sentenceCase(one.of),
                    number(one.ratio, 2), `${number(one.low, 2)} to ${number(one.high, 2)}`, number(one.p, 3)])} />`}
        ${of.heels_needed_each
            && html`<p class="note">
                To see a difference of what matters in 4 of 5 such comparisons, each would
                need ${plural(of.heels_needed_each, 'heel')} (t test, by how much changes spread here): fewer, and no
                difference seen says little.
            </p>`}
        <p class="note">
            Nobody was given one or the other by
            chance. ${of.not_adjusted ? '' : 'What is held level are first score, weeks of pain and age. '}Why each was
            chosen, what else was done and who stayed away are not in it. A small p does not say that the treatment did it.
        </p>
    </section>`;
}

/** @param {{rows: any[]}} props */
function Beside({ rows }) {
    if (!rows?.length) return null;
    return html`<section class="card"><h2>Beside published results</h2>
        <${Table} caption="Better heels here, successes in arms of trials under the same treatment"
            head=${['Treatment', 'Better here', 'Success in trials', 'Difference, points of per cent', 'From']}
            rows=${rows.map((one) =>
                [sentenceCase(one.act), percentText(one.here), percentText(one.published),
                    one.difference === null || one.difference === undefined ? 'nobody yet'
                        : `${signed(100 * one.difference, 0)} (${signed(100 * one.low, 0)} to ${signed(100 * one.high, 0)})`,
                    `${one.first_source}${one.trials > 1 ? ` and ${one.trials - 1} more` : ''}`])} />
        <p class="note">
            Trials chose their people and each counted success in its own way; some of their numbers are from memory, as “Trials”
            says. Interval after Newcombe.
        </p>
    </section>`;
}

/** @param {{of: any}} props */
function Control({ of }) {
    const steps = of.control ?? [];
    if (steps.length < 2) return null;
    const signals = steps.filter((/** @type {any} */ one) => one.signal);
    return html`<section class="card">
        <${Chart} title="Over time: heels that did not get better"
            x=${steps.map((/** @type {any} */ _, /** @type {number} */ i) => i + 1)}
            xName="heels in the order of their first rating" yName="sum" yRange=${[0, of.control_limit * 1.15]}
            lines=${[{ name: 'log-likelihood CUSUM', values: steps.map((/** @type {any} */ one) => one.sum), colour: 'series-1' },
                { name: 'limit', values: steps.map(() => of.control_limit), colour: 'series-2', isDashed: true }]}
            table=${html`<${Table} caption="Control chart" head=${['First rating', 'Better', 'Sum', 'Signal']}
                rows=${steps.map((/** @type {any} */ one) =>
                    [dateText(one.date), one.better ? 'yes' : 'no', number(one.sum, 2), one.signal ? 'SIGNAL' : ''])} />`} />
        <p class=${signals.length ? 'caution' : 'note'}>
            ${signals.length
                ? `It signalled ${plural(signals.length,
                    'time')}, the last with the heel first rated on ${dateText(signals.at(-1).date)}: look what changed.`
                : 'No signal.'} A
            heel that did not get better by what matters adds to the sum, one that did takes from it;
            at ${number(of.control_limit, 0)} (a choice of this program) the odds of not getting better have likely doubled
            against the clinic’s own ${number(100 * of.control_target, 0)} %.
        </p>
    </section>`;
}

/** @param {{of: any, events: any[]}} props */
function Harms({ of, events }) {
    return html`<section class="card"><h2>Adverse events</h2>
        ${of.harms.length === 0 ? html`<p class="empty">Nothing is written down as given.</p>` : html`
        <${Table} caption="Adverse events written down with each act" head=${['Act', 'Given', 'Events', 'Share, 95 % interval']}
            rows=${of.harms.map((/** @type {any} */ one) =>
                [sentenceCase(one.act), one.given, one.events,
                    `${number(100 * one.share, 1)} % (${number(100 * one.low, 1)} to ${number(100 * one.high, 1)})`])} />`}
        ${events.length > 0
            && html`<${Table} caption="The events" head=${['Date', 'Person', 'Foot', 'Act', 'Event']}
                rows=${events.map((one) => [dateText(one.date), one.code, one.foot ?? 'not said', sentenceCase(one.act), one.event])} />`}
        <p class="note">None written down is not none: only what somebody wrote is counted. Interval after Clopper and Pearson.</p></section>`;
}

/** @param {{rows: any[]}} props */
function Quality({ rows }) {
    return html`<section class="card"><h2>What the books hold</h2>
        <${Table} caption="Rows that have what they should" head=${['What should be there', 'Is there', 'Missing']}
            rows=${rows.map((one) => [sentenceCase(one.what), `${one.have} of ${one.of}`, one.of - one.have ? `${one.of - one.have}` : ''])} />
    </section>`;
}

const TABLES = ['heels.csv', 'scores.csv', 'treatments.csv', 'summary.csv', 'control.csv', 'harms.csv', 'quality.csv',
    'recalls.csv', 'dictionary.csv'];
const WITHOUT_PEOPLE = ['deid_heels.csv', 'deid_scores.csv', 'deid_treatments.csv', 'deid_method.txt', 'dictionary.csv'];

/** For the owner: tables to take away. */
function Export() {
    const [why, setWhy] = useState('');
    const [said, say] = useState({ text: '', isFault: false });
    const take = async (/** @type {string[]} */ names) => {
        try {
            for (const name of names) await handOver(await api.exportTable(name, why), name);
            say({ text: `${plural(names.length, 'table')} handed over; the audit has it.`, isFault: false });
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            say({ text: trouble.message, isFault: true });
        }
    };
    return html`<section class="card"><h2>Tables to take away</h2>
        <p>
            As CSV for a spreadsheet, with a dictionary that says of each column what it is. The first set has codes, dates and
            the recall list with names: it stays inside the clinic. The second is without people; its method and what remains
            a risk stand in the file beside it.
        </p>
        <div class="field"><label for="export-why">What for (stands in the audit)</label>
            <input id="export-why" type="text" maxlength="200" value=${why} onInput=${(/** @type {any} */ e) => setWhy(e.currentTarget.value)} />
        </div>
        <p class="actions"><button type="button" class="main" onClick=${() => take(WITHOUT_PEOPLE)}>Without people</button>
            <button type="button" onClick=${() => take(TABLES)}>With codes and dates</button></p>
        <p class=${said.isFault ? 'fault' : 'note'} role=${said.isFault ? 'alert' : 'status'}>${said.text}</p></section>`;
}
