// SPDX-License-Identifier: GPL-3.0-or-later
// Where first-step pain is going, from the ratings so far and a wide prior.
import { html } from '../lib/ui.js';
import { person, visits } from '../lib/state.js';
import { api } from '../lib/api.js';
import { number, sentenceCase } from '../lib/format.js';
import { daysBetween } from '../lib/dates.js';
import { scoresOf } from '../lib/scores.js';
import { Chart, Table } from './chart.js';
import { Figure } from './figure.js';
import { useRows } from './use_rows.js';

/** @typedef {import('../lib/scores.js').Score} Score */

/** The expected course of one foot's first-step pain; null without a rating. @param {Score[]} scores */
export function useCourse(scores) {
    const dated = scores.filter((one) => one.first !== null).map((one) => ({ date: one.date, score: /** @type {number} */ (one.first) }));
    const { rows: course } = useRows(() => (dated.length ? api.course('first step', dated) : Promise.resolve(null)), [JSON.stringify(dated)]);
    return { course, dated };
}

/** For each foot that was rated. */
export function CourseAhead() {
    const who = person.value;
    const { rows } = useRows(() => api.records(who?.id ?? '', 'score'), [who?.id]);
    const scores = scoresOf(visits.value, rows ?? []).filter((one) => one.first !== null);
    const feet = [...new Set(scores.map((one) => one.foot))];
    return html`
        <section class="card"><h2>What the course is expected to be</h2>
            ${feet.length === 0
                && html`<p class="empty">
                    It needs a rating of the pain at the first steps: under Findings, Follow-up, or from the waiting-room tablet.</p>`}
            ${feet.map((foot) => html`<${OneCourse} key=${foot} foot=${foot} scores=${scores.filter((one) => one.foot === foot)} />`)}
        </section>`;
}

/** @param {{foot: string, scores: Score[]}} props */
function OneCourse({ foot, scores }) {
    const { course, dated } = useCourse(scores);
    if (!course) return null;
    return html`<h3>${foot === 'not said' ? 'Foot not said' : `${sentenceCase(foot)} foot`}</h3>
        <p class="note">From the ratings alone: which treatments are given is not in it.</p><${Forecast} course=${course} scores=${dated} />`;
}

/** @param {{course: any, scores: {date: string, score: number}[]}} props */
export function Forecast({ course, scores }) {
    const points = course.course;
    const rated = scores.map((one) => ({ week: daysBetween(course.week_0, one.date) / 7, score: one.score }));
    const x = [...new Set([...points.map((/** @type {any} */ one) => one.week), ...rated.map((one) => one.week)])].sort((a, b) => a - b);
    const at = (/** @type {string} */ key) => x.map((week) => points.find((/** @type {any} */ one) => one.week === week)?.[key] ?? null);
    const held = (/** @type {string} */ key) => between(x, at(key));
    const chance = (/** @type {number} */ share) => 100 * share;
    const why = (/** @type {string} */ what) =>
        ({ what, inputs: [`${course.scores} ratings, the newest ${number(course.last_score)}`],
            formula: 'linear growth model with random level and fall, updated exactly by the ratings',
            source: course.prior?.source, uncertainty: course.caution });
    return html`
        <div class="figures forecast">
            <${Figure} label=${`A change that matters (${number(course.change_that_matters)} points) in 12 weeks`}
                value=${chance(course.chance_change_matters_in_12_weeks)} unit="%" digits=${0}
                why=${{ ...why('Chance that first-step pain will be lower by what matters to patients.'),
                    source: `${course.change_that_matters_source}; ${course.prior?.source}` }}
                size="small" />
            <${Figure} label=${`Pain gone (${number(course.gone_at_or_below)} or less) in 12 weeks`}
                value=${chance(course.chance_gone_in_12_weeks)} unit="%" digits=${0} why=${why('Chance of that at 12 weeks.')}
                size="small" />
            <${Figure} label="Pain gone in 26 weeks" value=${chance(course.chance_gone_in_26_weeks)} unit="%" digits=${0}
                why=${why('Chance of that at 26 weeks.')} size="small" />
        </div>
        ${course.signals.map((/** @type {any} */ signal) =>
            html`<p class="caution">${typeof signal === 'string' ? signal : signal.sentence ?? signal.text ?? signal.signal}</p>`)}
        <${Chart} title="Expected course of first-step pain" x=${x} xName="weeks since the first rating" yName="pain, 0 to 10" yRange=${[0, 10]}
            lines=${[{ name: 'expected, 90 % band', values: held('level'), low: held('low'), high: held('high'), colour: 'series-1' },
                { name: 'rated', values: x.map((week) => rated.find((one) => one.week === week)?.score ?? null),
                    colour: 'series-2', hasPoints: true, isDashed: true }]}
            table=${html`<${Table} caption="Expected course of first-step pain"
                head=${['Week', 'Expected', '90 % band', 'A single rating']}
                rows=${points.map((/** @type {any} */ one) =>
                    [number(one.week), number(one.level), `${number(one.low)} to ${number(one.high)}`,
                        `${number(one.score_low)} to ${number(one.score_high)}`])} />`} />
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
