// SPDX-License-Identifier: GPL-3.0-or-later
// Follow-up: pain over the weeks, treatments marked, the same as a table; a new score.
import { html } from '../lib/ui.js';
import { person, visits, mayWrite } from '../lib/state.js';
import { api } from '../lib/api.js';
import { dateText, number, signed, sentenceCase } from '../lib/format.js';
import { today, daysBetween } from '../lib/dates.js';
import { scoresOf, firstAndLast } from '../lib/scores.js';
import { Chart, Table } from '../parts/chart.js';
import { Figure } from '../parts/figure.js';
import { AddForm } from '../parts/form.js';
import { useRows } from '../parts/use_rows.js';
import { Forecast, useCourse } from '../parts/forecast.js';
import { Questionnaires } from '../parts/questionnaires.js';

/** @typedef {import('../lib/scores.js').Score} Score */

const KINDS = /** @type {{key: 'first'|'average'|'activity', name: string, colour: string}[]} */ ([
    { key: 'first', name: 'first steps of the morning', colour: 'series-1' },
    { key: 'average', name: 'on average', colour: 'series-2' },
    { key: 'activity', name: 'during activity', colour: 'series-3' }]);
const CHANGES = ['very much better', 'much better', 'a little better', 'no change', 'a little worse', 'much worse', 'very much worse'];

/** @type {import('../parts/form.js').FormRow[]} */
export const SCORE_ROWS = [
    { key: 'first_step_pain_0_10', label: 'Pain at the first steps of the morning, last week: 0 none, 10 worst', kind: 'number', low: 0, high: 10 },
    { key: 'average_pain_0_10', label: 'Pain on average, last week', kind: 'number', low: 0, high: 10 },
    { key: 'activity_pain_0_10', label: 'Pain during activity, last week', kind: 'number', low: 0, high: 10 },
    { key: 'global_change', label: 'Since the start, the heel is', kind: 'choice', options: CHANGES },
];

export function FollowUp() {
    const who = person.value;
    const { rows } = useRows(() => Promise.all([api.records(who?.id ?? '', 'score'), api.records(who?.id ?? '', 'treatment').catch(() => [])]),
        [who?.id]);
    if (!who) return null;
    const scores = scoresOf(visits.value, rows?.[0] ?? []);
    const treatments = rows?.[1] ?? [];
    const feet = [...new Set(scores.map((one) => one.foot))];
    return html`
        ${scores.length === 0
            && html`<p class="empty">No score yet: it comes from the visit's heel pain, from a form here, or from the waiting-room tablet.</p>`}
        ${feet.map((foot) =>
            html`<${Course} key=${foot} foot=${foot} scores=${scores.filter((one) => one.foot === foot)} start=${scores[0].date}
                treatments=${treatments.filter((row) => !row.body.foot || row.body.foot === foot)} />`)}
        ${mayWrite('score') && html`<section class="card"><h2>A new score</h2>
            <${AddForm} button="Add the score" start=${{ date: today() }}
                rows=${[{ key: 'date', label: 'Date', kind: 'date', isNeeded: true },
                    { key: 'foot', label: 'Foot', kind: 'choice', options: ['left', 'right'], isNeeded: true }, ...SCORE_ROWS]}
                onSubmit=${(/** @type {any} */ body) => api.addRecord(who.id, 'score', { ...body, from: 'follow-up' }, 'follow-up score')} />
        </section>`}
        <${Questionnaires} who=${who.id} rows=${rows?.[0] ?? []} />`;
}

/** @param {{foot: string, scores: Score[], start: string, treatments: any[]}} props */
function Course({ foot, scores, start, treatments }) {
    const x = scores.map((one) => Math.round(one.weeks * 10) / 10);
    const lines = KINDS.filter((kind) => scores.some((one) => one[kind.key] !== null))
        .map((kind) => ({ name: kind.name, values: scores.map((one) => one[kind.key]), colour: kind.colour, hasPoints: true }));
    const marks = treatments.map((row) => ({ at: daysBetween(start, row.body.date) / 7, name: row.body.act }));
    const { course, dated } = useCourse(scores);
    return html`
        <section class="card"><h2>${foot === 'not said' ? 'Foot not said' : `${sentenceCase(foot)} foot`}</h2>
            <div class="figures">${KINDS.map((kind) => {
                const pair = firstAndLast(scores, foot, kind.key);
                return html`<${Figure} key=${kind.key} label=${`Pain ${kind.name}: change`}
                    value=${pair ? pair.to - pair.from : null} digits=${1} isChange absent="needs two scores"
                    why=${{ what: `Newest less first rating of pain ${kind.name}, 0 to 10, lower is better.`,
                        inputs: pair ? [`first ${number(pair.from)}`, `newest ${number(pair.to)}`, `${number(pair.weeks, 0)} weeks apart`] : [],
                        formula: 'newest − first', source: 'ratings by the person',
                        uncertainty: 'one rating each; how far a single rating strays stands in the table of the expected course' }} />`;
            })}</div>
            <${Chart} title="Pain, 0 to 10" x=${x} xName="weeks since the first score" yName="pain, 0 to 10" yRange=${[0, 10]}
                xRange=${[0, Math.max(12, ...x, ...marks.map((mark) => mark.at)) + 1]} lines=${lines} marks=${marks}
                table=${html`<${Table} caption=${`Pain scores of the ${foot} foot`}
                    head=${['Date', 'Week', 'First steps', 'Average', 'Activity', 'From']}
                    rows=${scores.map((one) =>
                        [dateText(one.date), number(one.weeks),
                            ...KINDS.map((kind) => (one[kind.key] === null ? 'not asked' : number(/** @type {number} */ (one[kind.key])))),
                            one.from])} />`} />
            ${course && html`<${Forecast} course=${course} scores=${dated} />`}
        </section>`;
}
