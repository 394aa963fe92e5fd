// SPDX-License-Identifier: GPL-3.0-or-later
// The weekly timeline: acts dragged or moved by arrow keys to a week; the rules answer for that week.
import { html, useState, useRef, classes } from '../lib/ui.js';
import { computation, mayWrite, role } from '../lib/state.js';
import { dateText, sentenceCase } from '../lib/format.js';
import { addDays } from '../lib/dates.js';
import { nameOfDated, rowsOf, movedWith, isAct } from '../lib/weeks.js';

/** @typedef {import('../lib/weeks.js').Dated} Dated */

const SHOWN = 27; // weeks 0 to 26

/** @param {{plan: any, record: import('../lib/record.js').EditedRecord}} props */
export function Weeks({ plan, record }) {
    const [answer, setAnswer] = useState(/** @type {any} */ (null));
    const grid = useRef(/** @type {HTMLDivElement|null} */ (null));
    const asked = useRef(0);
    const may = mayWrite('visit') && role.value !== 'assistant';
    const body = record.draft.value;
    const byHand = plan.timeline.filter((/** @type {Dated} */ one) => one.by_hand);
    /** Asks the rules about that day; it is kept only where no stop stands then. @param {Dated} one @param {number} to */
    const move = async (one, to) => {
        const week = Math.max(0, Math.min(SHOWN - 1, to));
        const date = addDays(body.visit_date, 7 * week);
        const moved = movedWith(body.moved, one, date);
        const mine = ++asked.current;
        setAnswer({ one, week, state: 'asked' });
        try {
            const there = await computation.ask(record.version.peek(), { ...body, moved }, ['plan']);
            if (mine !== asked.current) return;
            const entry = there?.visit?.plan?.timeline.find((/** @type {Dated} */ other) =>
                isAct(other) && other.what === one.what && other.foot === one.foot && (other.session ?? 1) === (one.session ?? 1));
            if (entry?.by_hand) {
                record.set('moved', moved);
                computation.takeDates(there?.visit?.plan);
            }
            setAnswer({ one, week, state: !entry ? 'unknown' : entry.by_hand ? 'available' : 'stopped', entry });
        } catch (trouble) {
            if (mine === asked.current) setAnswer({ one, week, state: 'unknown', fault: /** @type {Error} */ (trouble).message });
        }
    };
    const back = () => {
        record.set('moved', undefined);
        setAnswer(null);
    };
    const shownAt = (/** @type {Dated} */ one) =>
        (answer?.state === 'asked' && nameOfDated(answer.one) === nameOfDated(one) ? answer.week : one.week);
    const weekAt = (/** @type {number} */ x) => {
        const box = grid.current?.querySelector('.week-cells')?.getBoundingClientRect();
        return box ? Math.floor(((x - box.left) / box.width) * SHOWN) : 0;
    };
    return html`
        <section class="card weeks"><h2>Week by week</h2>
            <p class="note">
                Drag an act to another week, or choose it and press the left and right arrow keys. The rules answer for that week at once.</p>
            <div class="week-room" tabindex="0" role="region" aria-label="Weeks of the plan">
                <div class="week-grid" ref=${grid} style=${{ '--weeks': SHOWN }}>
                <div class="week-row week-head"><span class="week-name">Act</span>
                    <span class="week-cells">
                        ${Array.from({ length: SHOWN }, (_, week) => html`<span class=${week % 2 ? 'is-odd' : ''}>${week % 2 ? '' : week}</span>`)}
                    </span>
                </div>
                ${rowsOf(plan.timeline)
                    .map((row) =>
                        html`<div class="week-row" key=${`${row.what} ${row.foot}`}>
                            <span class="week-name">${sentenceCase(row.what)}${row.foot && html` <small>${row.foot}</small>`}</span>
                    <span class="week-cells">
                        ${row.dated.map((one) =>
                            html`<${Chip} key=${nameOfDated(one)} one=${one} week=${shownAt(one)} isMoved=${Boolean(one.by_hand)}
                                may=${may && isAct(one)}
                        onMove=${(/** @type {number} */ week) => move(one, week)} weekAt=${weekAt} visitDate=${body.visit_date} />`)}</span></div>`)}
            </div></div>
            ${answer && html`<${Answer} answer=${answer} visitDate=${body.visit_date} />`}
            ${byHand.length > 0
                && html`<p class="actions">
                    <button type="button" class="quiet" disabled=${!may} onClick=${back}>Back to the dates the rules found</button></p>`}
            <details><summary>The same as a list</summary>
                <ol class="dated">
                    ${plan.timeline.map((/** @type {Dated} */ one) =>
                        html`<li><strong>${dateText(one.date)}</strong>
                            ,
                            week ${one.week}: ${one.text}${one.only_if && html`, <em>${one.only_if}</em>`}${one.moved_by
                                && html` <small>moved by row ${one.moved_by}</small>`}${one.by_hand
                                && html` <small>put there by hand${one.against ? `, against the caution ${one.against}` : ''}</small>`}
                        </li>`)}
                </ol>
            </details>
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
    return html`<button type="button"
        class=${classes('week-chip', isMoved && 'is-moved', one.only_if && 'is-if', !isAct(one) && 'is-review')}
        style=${{ '--week': shown }} title=${label} aria-label=${label}
        onPointerDown=${down} onPointerMove=${over} onPointerUp=${up} onPointerCancel=${() => setDrag(null)} onKeyDown=${key}>${one.session ?? ''}
    </button>`;
}

/** @param {{answer: any, visitDate: string}} props */
function Answer({ answer, visitDate }) {
    const day = dateText(addDays(visitDate, 7 * answer.week));
    const words = { asked: 'The rules are asked …', available: 'It may stand there.',
        stopped: 'A rule stops it that week: it stays where it was.', unknown: 'The rules gave no answer.' };
    return html`
        <div class=${`rule-answer is-${answer.state}`} role="status" aria-live="polite">
            <p>
                <strong>
                    ${sentenceCase(answer.one.what)}${answer.one.foot ? `, ${answer.one.foot}` : ''}, week ${answer.week} (${day}):
                </strong> ${words[/** @type {keyof typeof words} */ (answer.state)] ?? answer.state} ${answer.fault ?? ''}
            </p>
            ${answer.entry?.against
                && html`<p class="small">
                    ${answer.state === 'available' ? 'A caution stands then: ' : ''}${answer.entry.against_sentence} Row <code>
                        ${answer.entry.against}</code>
                    .</p>`}
            ${answer.state === 'stopped' && !answer.entry?.against && html`<p class="small">It lies before the visit.</p>`}
            ${answer.state === 'stopped' && html`<p class="small">It stands on ${dateText(answer.entry.date)}.</p>`}
        </div>`;
}
