// SPDX-License-Identifier: GPL-3.0-or-later
// The weekly timeline: acts dragged or moved by arrow keys to a week; the rules answer for that week.
import { html, useState, useRef, classes } from '../lib/ui.js';
import { computation, mayWrite, role } from '../lib/state.js';
import { dateText, sentenceCase } from '../lib/format.js';
import { addDays } from '../lib/dates.js';
import { nameOfDated, rowsOf, caseInWeek } from '../lib/weeks.js';
import { citation } from './why.js';
import { NotYet } from './figure.js';

/** @typedef {import('../lib/weeks.js').Dated} Dated */

const SHOWN = 27; // weeks 0 to 26

/** @param {{plan: any, record: import('../lib/record.js').EditedRecord}} props */
export function Weeks({ plan, record }) {
    /** @type {Record<string, number>} weeks set by hand; the record keeps them under a key of the page's own */
    const moved = record.at('page.weeks') ?? {};
    const [answer, setAnswer] = useState(/** @type {any} */ (null));
    const grid = useRef(/** @type {HTMLDivElement|null} */ (null));
    const asked = useRef(0);
    const may = mayWrite('visit') && role.value !== 'assistant';
    const body = record.draft.value;
    const ask = async (/** @type {Dated} */ one, /** @type {number} */ week) => {
        const mine = ++asked.current;
        setAnswer({ one, week, state: 'asked' });
        try {
            const there = await computation.ask(record.version.peek(), caseInWeek(body, plan.timeline, one, week, moved), ['plan']);
            if (mine !== asked.current) return;
            const option = there?.visit?.plan?.options.find((/** @type {any} */ o) => o.act === one.what && (!one.foot || o.foot === one.foot));
            setAnswer({ one, week, state: option?.state ?? 'unknown', reasons: option?.reasons ?? [], earliest: option?.earliest });
        } catch (trouble) {
            if (mine === asked.current) setAnswer({ one, week, state: 'unknown', reasons: [], fault: /** @type {Error} */ (trouble).message });
        }
    };
    const move = (/** @type {Dated} */ one, /** @type {number} */ week) => {
        const to = Math.max(0, Math.min(SHOWN - 1, week));
        record.set('page.weeks', { ...moved, [nameOfDated(one)]: to });
        ask(one, to);
    };
    const weekAt = (/** @type {number} */ x) => {
        const box = grid.current?.querySelector('.week-cells')?.getBoundingClientRect();
        return box ? Math.floor(((x - box.left) / box.width) * SHOWN) : 0;
    };
    return html`
        <section class="card weeks"><h2>Week by week</h2>
            <p class="note">Drag an act to another week, or choose it and press the left and right arrow keys. The rules answer for that week at once.</p>
            <div class="week-room" tabindex="0" role="region" aria-label="Weeks of the plan"><div class="week-grid" ref=${grid} style=${{ '--weeks': SHOWN }}>
                <div class="week-row week-head"><span class="week-name">Act</span><span class="week-cells">${Array.from({ length: SHOWN }, (_, week) => html`<span class=${week % 2 ? 'is-odd' : ''}>${week % 2 ? '' : week}</span>`)}</span></div>
                ${rowsOf(plan.timeline).map((row) => html`<div class="week-row" key=${`${row.what} ${row.foot}`}><span class="week-name">${sentenceCase(row.what)}${row.foot && html` <small>${row.foot}</small>`}</span>
                    <span class="week-cells">${row.dated.map((one) => html`<${Chip} key=${nameOfDated(one)} one=${one} week=${moved[nameOfDated(one)] ?? one.week} isMoved=${nameOfDated(one) in moved} may=${may && one.what !== 'review'}
                        onMove=${(/** @type {number} */ week) => move(one, week)} weekAt=${weekAt} visitDate=${body.visit_date} />`)}</span></div>`)}
            </div></div>
            ${answer && html`<${Answer} answer=${answer} visitDate=${body.visit_date} />`}
            ${Object.keys(moved).length > 0 && html`<p class="actions"><button type="button" class="quiet" onClick=${() => { record.set('page.weeks', undefined); setAnswer(null); }}>Back to the dates the rules found</button></p>
                <${NotYet}>weeks moved by hand are kept in the record, but not yet in the printed plan.</${NotYet}>`}
            <details><summary>The same as a list</summary><ol class="dated">${plan.timeline.map((/** @type {Dated} */ one) => html`<li><strong>${dateText(one.date)}</strong>, week ${one.week}: ${one.text}${one.only_if && html`, <em>${one.only_if}</em>`}${one.moved_by && html` <small>moved by row ${one.moved_by}</small>`}</li>`)}</ol></details>
        </section>`;
}

/** @param {{one: Dated, week: number, isMoved: boolean, may: boolean, onMove: (week: number) => void, weekAt: (x: number) => number, visitDate: string}} props */
function Chip({ one, week, isMoved, may, onMove, weekAt, visitDate }) {
    const [drag, setDrag] = useState(/** @type {number|null} */ (null));
    const shown = drag ?? week;
    const label = `${one.text}, week ${shown}, ${dateText(addDays(visitDate, 7 * shown))}${one.only_if ? `, ${one.only_if}` : ''}`;
    const down = (/** @type {PointerEvent} */ event) => {
        if (!may) return;
        /** @type {HTMLElement} */ (event.currentTarget).setPointerCapture(event.pointerId);
        setDrag(week);
    };
    const over = (/** @type {PointerEvent} */ event) => drag !== null && setDrag(Math.max(0, Math.min(SHOWN - 1, weekAt(event.clientX))));
    const up = () => {
        if (drag !== null && drag !== week) onMove(drag);
        setDrag(null);
    };
    const key = (/** @type {KeyboardEvent} */ event) => {
        const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
        if (!may || !step) return;
        event.preventDefault();
        onMove(week + step);
    };
    return html`<button type="button" class=${classes('week-chip', isMoved && 'is-moved', one.only_if && 'is-if', one.what === 'review' && 'is-review')} style=${{ '--week': shown }} title=${label} aria-label=${label}
        onPointerDown=${down} onPointerMove=${over} onPointerUp=${up} onPointerCancel=${() => setDrag(null)} onKeyDown=${key}>${one.session ?? ''}</button>`;
}

/** @param {{answer: any, visitDate: string}} props */
function Answer({ answer, visitDate }) {
    const day = dateText(addDays(visitDate, 7 * answer.week));
    const words = { asked: 'The rules are asked …', available: 'No rule stands against it.', held: 'Held: a question is open.', stopped: 'A rule stops it that week.', unknown: 'The rules gave no answer.' };
    return html`
        <div class=${`rule-answer is-${answer.state}`} role="status" aria-live="polite">
            <p><strong>${sentenceCase(answer.one.what)}${answer.one.foot ? `, ${answer.one.foot}` : ''}, week ${answer.week} (${day}):</strong> ${words[/** @type {keyof typeof words} */ (answer.state)] ?? answer.state} ${answer.fault ?? ''}</p>
            ${(answer.reasons ?? []).map((/** @type {any} */ reason) => html`<p class="small"><strong>${sentenceCase(reason.kind)}</strong> ${reason.sentence} (${reason.reading}) Row <code>${reason.rule}</code>, ${citation(reason.source)}.</p>`)}
            ${answer.state === 'stopped' && answer.earliest && html`<p class="small">Earliest after that: ${dateText(answer.earliest)}.</p>`}
        </div>`;
}
