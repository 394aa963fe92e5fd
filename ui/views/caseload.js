// SPDX-License-Identifier: GPL-3.0-or-later
// Caseload: everybody's first and newest pain, with honest denominators; the same as a table.
import { html } from '../lib/ui.js';
import { api } from '../lib/api.js';
import { number, signed, plural, sentenceCase } from '../lib/format.js';
import { scoresOf, firstAndLast } from '../lib/scores.js';
import { address } from '../lib/router.js';
import { NotYet, Figure } from '../parts/figure.js';
import { useRows } from '../parts/use_rows.js';

const AT_MOST = 200; // people read one by one: the server has no door for all at once yet

/** @typedef {{id: string, code: string, foot: string, from: number, to: number, weeks: number}} Pair */

async function readAll() {
    const people = (await api.people()).slice(0, AT_MOST);
    const read = await Promise.all(people.map(async (row) => {
        const [visits, scores] = await Promise.all([api.records(row.id, 'visit'), api.records(row.id, 'score')]);
        const all = scoresOf(visits, scores);
        /** @type {Pair[]} */
        const pairs = ['left', 'right'].flatMap((foot) => {
            const pair = firstAndLast(all, foot, 'first');
            return pair ? [{ id: row.id, code: row.body.code, foot, ...pair }] : [];
        });
        return { visits: visits.length, scores: all.length, pairs };
    }));
    return { people: people.length, seen: read.filter((one) => one.visits > 0).length, scored: read.filter((one) => one.scores > 0).length, again: read.filter((one) => one.pairs.length > 0).length, pairs: read.flatMap((one) => one.pairs) };
}

export function Caseload() {
    const { rows: all, fault } = useRows(readAll, []);
    if (fault) return html`<p class="trouble">${fault}</p>`;
    if (!all) return html`<p role="status">Reading …</p>`;
    const why = (/** @type {string} */ what) => ({ what, inputs: ['records of this clinic'], formula: 'a count', source: 'own records', uncertainty: 'a count, not an estimate' });
    return html`
        <div class="figures">
            <${Figure} label="People" value=${all.people} digits=${0} why=${why('Everybody with a record here.')} />
            <${Figure} label="Seen at least once" value=${all.seen} digits=${0} why=${why('With one visit or more.')} />
            <${Figure} label="With a pain score" value=${all.scored} digits=${0} why=${why('With one pain rating or more.')} />
            <${Figure} label="Scored again later" value=${all.again} digits=${0} why=${why('With two ratings of first-step pain of one foot. Only these are drawn below.')} />
        </div>
        <p class="caution">${plural(all.scored - all.again, 'person', 'people')} of ${all.scored} with a score ${all.scored - all.again === 1 ? 'has' : 'have'} no later one: what became of them is not known and not counted as better.</p>
        <section class="card"><h2>First-step pain, first and newest</h2><${Slopes} pairs=${all.pairs} /></section>
        <section class="card"><h2>Outcomes</h2><${NotYet}>time to resolution, by treatment, against published results, adverse events, recall list, control charts.</${NotYet}></section>`;
}

/** @param {{pairs: Pair[]}} props */
function Slopes({ pairs }) {
    if (pairs.length === 0) return html`<p class="empty">Nobody has two scores yet.</p>`;
    const y = (/** @type {number} */ pain) => 210 - 19 * pain;
    return html`
        <svg class="slopes" viewBox="0 0 420 240" role="img" aria-label=${`First and newest first-step pain of ${plural(pairs.length, 'foot', 'feet')}`}>
            ${[0, 2, 4, 6, 8, 10].map((pain) => html`<path class="grid" d=${`M60 ${y(pain)}H360`} /><text x="46" y=${y(pain) + 5} text-anchor="end">${pain}</text>`)}
            <text x="80" y="234" text-anchor="middle">first</text><text x="340" y="234" text-anchor="middle">newest</text>
            ${pairs.map((one) => html`<path class=${one.to < one.from ? 'is-better' : one.to > one.from ? 'is-worse' : ''} d=${`M80 ${y(one.from)}L340 ${y(one.to)}`} /><circle cx="80" cy=${y(one.from)} r="4" /><circle cx="340" cy=${y(one.to)} r="4" />`)}
        </svg>
        <p class="legend"><span><i class="key is-better"></i>less pain</span><span><i class="key is-worse is-dashed"></i>more pain</span></p>
        <div class="table-room is-long" tabindex="0" role="region" aria-label="First-step pain by person"><table><thead><tr><th scope="col">Code</th><th scope="col">Foot</th><th scope="col" class="num">First</th><th scope="col" class="num">Newest</th><th scope="col" class="num">Change</th><th scope="col" class="num">Weeks</th></tr></thead>
            <tbody>${pairs.map((one) => html`<tr><th scope="row"><a class="code" href=${address('follow-up', one.id)}>${one.code}</a></th><td>${sentenceCase(one.foot)}</td><td class="num">${number(one.from)}</td><td class="num">${number(one.to)}</td><td class="num">${signed(one.to - one.from)}</td><td class="num">${number(one.weeks, 0)}</td></tr>`)}</tbody></table></div>`;
}
