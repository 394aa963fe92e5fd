// SPDX-License-Identifier: GPL-3.0-or-later
// Follow-up: pain over the weeks, treatments marked, the same as a table; a new score.
import { html } from '../lib/ui.js';
import { person, visits, mayWrite } from '../lib/state.js';
import { api } from '../lib/api.js';
import { dateText, number, signed, sentenceCase } from '../lib/format.js';
import { today, daysBetween } from '../lib/dates.js';
import { scoresOf, firstAndLast } from '../lib/scores.js';
import { Chart, Table } from '../parts/chart.js';
import { Figure, NotYet } from '../parts/figure.js';
import { AddForm } from '../parts/form.js';
import { useRows } from '../parts/use_rows.js';

/** @typedef {import('../lib/scores.js').Score} Score */

const KINDS = /** @type {{key: 'first'|'average'|'activity', name: string, colour: string}[]} */ ([
    { key: 'first', name: 'first steps of the morning', colour: 'series-1' }, { key: 'average', name: 'on average', colour: 'series-2' }, { key: 'activity', name: 'during activity', colour: 'series-3' }]);
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
    const { rows } = useRows(() => Promise.all([api.records(who?.id ?? '', 'score'), api.records(who?.id ?? '', 'treatment').catch(() => [])]), [who?.id]);
    if (!who) return null;
    const scores = scoresOf(visits.value, rows?.[0] ?? []);
    const treatments = rows?.[1] ?? [];
    const feet = [...new Set(scores.map((one) => one.foot))];
    return html`
        ${scores.length === 0 && html`<p class="empty">No score yet: it comes from the visit's heel pain, from a form here, or from the waiting-room tablet.</p>`}
        ${feet.map((foot) => html`<${Course} key=${foot} foot=${foot} scores=${scores.filter((one) => one.foot === foot)} start=${scores[0].date} treatments=${treatments.filter((row) => !row.body.foot || row.body.foot === foot)} />`)}
        ${mayWrite('score') && html`<section class="card"><h2>A new score</h2>
            <${AddForm} button="Add the score" start=${{ date: today() }} rows=${[{ key: 'date', label: 'Date', kind: 'date', isNeeded: true }, { key: 'foot', label: 'Foot', kind: 'choice', options: ['left', 'right'], isNeeded: true }, ...SCORE_ROWS]}
                onSubmit=${(/** @type {any} */ body) => api.addRecord(who.id, 'score', { ...body, from: 'follow-up' }, 'follow-up score')} /></section>`}
        <section class="card"><h2>Where it goes</h2><${NotYet}>longer questionnaires and their scoring; effects of single treatments on the course.</${NotYet}></section>`;
}

/** @param {{foot: string, scores: Score[], start: string, treatments: any[]}} props */
function Course({ foot, scores, start, treatments }) {
    const x = scores.map((one) => Math.round(one.weeks * 10) / 10);
    const lines = KINDS.filter((kind) => scores.some((one) => one[kind.key] !== null)).map((kind) => ({ name: kind.name, values: scores.map((one) => one[kind.key]), colour: kind.colour, hasPoints: true }));
    const marks = treatments.map((row) => ({ at: daysBetween(start, row.body.date) / 7, name: row.body.act }));
    const dated = scores.filter((one) => one.first !== null).map((one) => ({ date: one.date, score: /** @type {number} */ (one.first) }));
    const { rows: course } = useRows(() => (dated.length ? api.course('first step', dated) : Promise.resolve(null)), [JSON.stringify(dated)]);
    return html`
        <section class="card"><h2>${foot === 'not said' ? 'Foot not said' : `${sentenceCase(foot)} foot`}</h2>
            <div class="figures">${KINDS.map((kind) => {
                const pair = firstAndLast(scores, foot, kind.key);
                return html`<${Figure} key=${kind.key} label=${`Pain ${kind.name}: change`} value=${pair ? pair.to - pair.from : null} digits=${1} isChange absent="needs two scores"
                    why=${{ what: `Newest less first rating of pain ${kind.name}, 0 to 10, lower is better.`, inputs: pair ? [`first ${number(pair.from)}`, `newest ${number(pair.to)}`, `${number(pair.weeks, 0)} weeks apart`] : [], formula: 'newest − first', source: 'ratings by the person', uncertainty: 'one rating each; how much one rating varies by itself: not computed yet' }} />`;
            })}</div>
            <${Chart} title="Pain, 0 to 10" x=${x} xName="weeks since the first score" yName="pain, 0 to 10" yRange=${[0, 10]} xRange=${[0, Math.max(12, ...x, ...marks.map((mark) => mark.at)) + 1]} lines=${lines} marks=${marks}
                table=${html`<${Table} caption=${`Pain scores of the ${foot} foot`} head=${['Date', 'Week', 'First steps', 'Average', 'Activity', 'From']}
                    rows=${scores.map((one) => [dateText(one.date), number(one.weeks), ...KINDS.map((kind) => (one[kind.key] === null ? 'not asked' : number(/** @type {number} */ (one[kind.key])))), one.from])} />`} />
            ${course && html`<${Forecast} course=${course} scores=${dated} />`}
        </section>`;
}

/** Where first-step pain is going, from these ratings and a wide prior. @param {{course: any, scores: {date: string, score: number}[]}} props */
function Forecast({ course, scores }) {
    const points = course.course;
    const rated = scores.map((one) => ({ week: daysBetween(course.week_0, one.date) / 7, score: one.score }));
    const x = [...new Set([...points.map((/** @type {any} */ one) => one.week), ...rated.map((one) => one.week)])].sort((a, b) => a - b);
    const at = (/** @type {string} */ key) => x.map((week) => points.find((/** @type {any} */ one) => one.week === week)?.[key] ?? null);
    const held = (/** @type {string} */ key) => between(x, at(key));
    const chance = (/** @type {number} */ share) => 100 * share;
    const why = (/** @type {string} */ what) => ({ what, inputs: [`${course.scores} ratings, the newest ${number(course.last_score)}`], formula: 'linear growth model with random level and fall, updated exactly by the ratings', source: course.prior?.source, uncertainty: course.caution });
    return html`
        <div class="figures forecast">
            <${Figure} label=${`A change that matters (${number(course.change_that_matters)} points) in 12 weeks`} value=${chance(course.chance_change_matters_in_12_weeks)} unit="%" digits=${0} why=${{ ...why('Chance that first-step pain will be lower by what matters to patients.'), source: `${course.change_that_matters_source}; ${course.prior?.source}` }} size="small" />
            <${Figure} label=${`Pain gone (${number(course.gone_at_or_below)} or less) in 12 weeks`} value=${chance(course.chance_gone_in_12_weeks)} unit="%" digits=${0} why=${why('Chance of that at 12 weeks.')} size="small" />
            <${Figure} label="Pain gone in 26 weeks" value=${chance(course.chance_gone_in_26_weeks)} unit="%" digits=${0} why=${why('Chance of that at 26 weeks.')} size="small" />
        </div>
        ${course.signals.map((/** @type {any} */ signal) => html`<p class="caution">${typeof signal === 'string' ? signal : signal.sentence ?? signal.text ?? signal.signal}</p>`)}
        <${Chart} title="Expected course of first-step pain" x=${x} xName="weeks since the first rating" yName="pain, 0 to 10" yRange=${[0, 10]}
            lines=${[{ name: 'expected, 90 % band', values: held('level'), low: held('low'), high: held('high'), colour: 'series-1' }, { name: 'rated', values: x.map((week) => rated.find((one) => one.week === week)?.score ?? null), colour: 'series-2', hasPoints: true, isDashed: true }]}
            table=${html`<${Table} caption="Expected course of first-step pain" head=${['Week', 'Expected', '90 % band', 'A single rating']} rows=${points.map((/** @type {any} */ one) => [number(one.week), number(one.level), `${number(one.low)} to ${number(one.high)}`, `${number(one.score_low)} to ${number(one.score_high)}`])} />`} />
        <p class="note">${course.caution}</p>`;
}

/** Fills weeks that have a rating but no point of the curve, on the line between its neighbours. @param {number[]} x @param {(number|null)[]} values */
function between(x, values) {
    return values.map((value, i) => {
        if (value !== null) return value;
        let [a, b] = [i, i];
        while (a >= 0 && values[a] === null) a--;
        while (b < values.length && values[b] === null) b++;
        if (a < 0 || b >= values.length) return null;
        return /** @type {number} */ (values[a]) + ((x[i] - x[a]) / (x[b] - x[a])) * (/** @type {number} */ (values[b]) - /** @type {number} */ (values[a]));
    });
}
