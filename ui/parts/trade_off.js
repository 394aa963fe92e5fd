// SPDX-License-Identifier: GPL-3.0-or-later
// The search for a better device: what relief of the fascia costs in pressure under the arch. Every
// design of the trade-off is one click from being the order.
import { html, useState, useRef, useEffect } from '../lib/ui.js';
import { computation, mayWrite, role } from '../lib/state.js';
import { api, Refusal } from '../lib/api.js';
import { number } from '../lib/format.js';
import { numbersOf, designText } from '../lib/trade_off.js';
import { Why } from './why.js';
import { Table } from './chart.js';

/** @typedef {import('../lib/trade_off.js').Design} Design */

const POLL_MS = 500;
const [WIDE, HIGH, LEFT, LOW] = [640, 300, 56, 44]; // of the picture; its margins

/** @param {{side: string, record: import('../lib/record.js').EditedRecord}} props */
export function TradeOff({ side, record }) {
    const [found, setFound] = useState(/** @type {any} */ (null));
    const [job, setJob] = useState(/** @type {any} */ (null));
    const [trouble, setTrouble] = useState('');
    const alive = useRef(true);
    useEffect(() => () => {
        alive.current = false;
    }, []);
    const may = mayWrite('visit') && role.value !== 'assistant';
    const seek = async () => {
        setTrouble('');
        setJob({ progress: 0, sentence: 'Asked' });
        try {
            const { job: id } = await api.compute(computation.visitId, record.version.peek(), [`search-${side}`], record.draft.peek());
            for (;;) {
                const now = await api.job(id);
                if (!alive.current) return;
                setJob(now);
                if (now.state === 'failed') setTrouble(now.sentence);
                if (now.state === 'done') {
                    const result = await computation.read(now.result);
                    const device = result.visit?.feet?.[side]?.orthosis;
                    setFound(device?.search ?? null);
                    setTrouble(device?.search_why ?? '');
                }
                if (['done', 'failed', 'cancelled'].includes(now.state)) break;
                await new Promise((rest) => globalThis.setTimeout(rest, POLL_MS));
            }
        } catch (fault) {
            if (!(fault instanceof Refusal)) throw fault;
            setTrouble(fault.message);
        }
        setJob(null);
    };
    const pick = (/** @type {Design} */ design) => record.set(`feet.${side}.orthosis`, { ...record.at(`feet.${side}.orthosis`), ...design.order });
    return html`
        <section class="card">
            <h2>
                A better
                design? <${Why} label="Search"
                    what="Designs over thickness, arch fill and heel cup are shaped, pressed and put under the foot model; what no other beats in both relief and pressure is drawn."
                inputs=${['this foot’s scan', 'this order', 'body mass']}
                formula="relief: change of the fascia’s mid-stance load that all but one in twenty tissue sets get; pressure: greatest mean over 1 cm² under the medial arch in mid-stance, under what the foot model puts there"
                source="docs/press.md, docs/mechanics.md" uncertainty="compares designs; neither number is what this person will feel" /></h2>
            <p>What relief of the fascia costs in pressure under the arch. Other terms stay as ordered. It takes one to two minutes.
                Pressures here are under what the foot model puts on each design’s arch; those below are of one harsh case, the same for all.</p>
            ${job
                ? html`<div class="progress"><progress max="1" value=${job.progress || undefined} aria-label="Search"></progress>
                    <span>${job.sentence || 'Searching'}</span>
                    <button type="button" class="quiet" onClick=${() => api.cancel(job.id).catch(() => {})}>Stop the search</button></div>`
                : html`<button type="button" onClick=${seek} disabled=${!may}>${found ? 'Search again' : 'Search'}</button>`}
            ${trouble && html`<p class="trouble" role="alert">${trouble}</p>`}
            ${found && html`<${Front} found=${found} may=${may} onPick=${pick} />`}
        </section>`;
}

/** @param {{found: any, may: boolean, onPick: (design: Design) => void}} props */
export function Front({ found, may, onPick }) {
    const [seen, see] = useState(/** @type {Design|null} */ (null));
    /** @type {Design[]} */
    const designs = found.front;
    const all = found.now.preview ? [...designs, found.now] : designs;
    const peaks = all.map((design) => numbersOf(design).arch_peak_kPa);
    const reliefs = all.map((design) => -numbersOf(design).relief_pct.p95);
    const most = Math.max(...peaks, found.limits.arch_peak_kPa) * 1.08;
    const best = Math.max(2, ...reliefs) * 1.12;
    const x = (/** @type {number} */ kPa) => LEFT + ((WIDE - LEFT - 12) * kPa) / most;
    const y = (/** @type {number} */ relief) => HIGH - LOW - ((HIGH - LOW - 12) * Math.max(0, relief)) / best;
    const confirmed = designs.filter((design) => design.state === 'confirmed').length;
    const place = (/** @type {Design} */ design) => [x(numbersOf(design).arch_peak_kPa), y(-numbersOf(design).relief_pct.p95)];
    const ticks = (/** @type {number} */ top) => {
        const step = [1, 2, 5, 10, 20, 25, 50, 100, 200].find((one) => one * 5 >= top) ?? 500;
        return Array.from({ length: Math.floor(top / step) }, (_, i) => (i + 1) * step);
    };
    return html`
        <p>
            ${found.looked_at} designs looked at, ${found.possible} keep all limits; ${confirmed} of ${designs.length} of the
            trade-off are confirmed by the final solve. Click one to order it.
        </p>
        <svg class="trade-off" viewBox=${`0 0 ${WIDE} ${HIGH}`} role="group" aria-label=${`Relief against pressure: ${designs.length} designs`}>
            <path class="axis" d=${`M${LEFT} 8V${HIGH - LOW}H${WIDE - 8}`} />
            ${ticks(most).map((value) => html`<text x=${x(value)} y=${HIGH - LOW + 16} text-anchor="middle">${value}</text>`)}
            ${ticks(best).map((value) => html`<text x=${LEFT - 6} y=${y(value) + 4} text-anchor="end">${value}</text>`)}
            <text x=${WIDE - 8} y=${HIGH - 6} text-anchor="end">greatest pressure under the arch (mean over 1 cm²), kPa →</text>
            <text x="4" y="16">↑ relief, %</text>
            <path class="limit" d=${`M${x(found.limits.arch_peak_kPa)} 8V${HIGH - LOW}`} />
                <text x=${x(found.limits.arch_peak_kPa) - 4} y="20" text-anchor="end">soreness expected from here</text>
            ${found.now.preview
                && html`<path class="now" d=${`M${place(found.now)[0]} ${place(found.now)[1] - 8}l8 8l-8 8l-8 -8z`}>
                    <title>as ordered now${found.now.final ? '' : ', as a preview'}</title></path>`}
            ${designs.map((design) => {
                const [cx, cy] = place(design);
                const isGood = design.state === 'confirmed';
                return html`<g role="button" tabindex="0"
                    class=${`design ${isGood ? 'is-confirmed' : 'is-dropped'} ${seen === design ? 'is-seen' : ''}`}
                    aria-label=${`${isGood ? '' : 'dropped: '}${designText(design, found.ranges)}`}
                    onMouseEnter=${() => see(design)} onFocus=${() => see(design)} onClick=${() => may && isGood && onPick(design)}
                    onKeyDown=${(/** @type {KeyboardEvent} */ event) => event.key === 'Enter' && may && isGood && onPick(design)}>
                    <circle class="reach" cx=${cx} cy=${cy} r="7" />
                        ${isGood ? html`<circle cx=${cx} cy=${cy} r="5.5" />` : html`<path d=${`M${cx - 4} ${cy - 4}l8 8m0 -8l-8 8`} />`}
                </g>`;
            })}
        </svg>
        <p class="note" aria-live="polite">
            ${seen
                ? html`<strong>${designText(seen, found.ranges)}</strong>
                    : relief ${number(-numbersOf(seen).relief_pct.median, 1)} %
                    (${number(-numbersOf(seen).relief_pct.p95, 1)} to ${number(-numbersOf(seen).relief_pct.p05,
                        1)}), ${number(numbersOf(seen).arch_peak_kPa, 0)} kPa${seen.final ? '' : ' (preview)'}.${' '}
            ${seen.state === 'confirmed' ? (seen.binds ? `Stopped by: ${seen.binds}.` : 'Stopped by pressure alone.') : `Dropped: ${seen.why}.`}`
                : 'Round: confirmed; cross: dropped; diamond: as ordered now. Point at one to read it.'}
        </p>
        <details><summary>The same as a table</summary>
            <${Table} caption="Designs of the trade-off" head=${['Design', 'Relief, % (band)', 'Pressure, kPa', 'State', 'Stopped by', '']}
            rows=${designs.map((design) =>
                [designText(design, found.ranges),
                    `${number(-numbersOf(design).relief_pct.median, 1)} (${number(-numbersOf(design).relief_pct.p95,
                        1)} to ${number(-numbersOf(design).relief_pct.p05, 1)})`,
                `${number(numbersOf(design).arch_peak_kPa, 0)}${design.final ? '' : ' (preview)'}`,
                design.state === 'confirmed' ? 'confirmed' : `dropped: ${design.why}`, design.binds,
                design.state === 'confirmed' && may ? html`<button type="button" onClick=${() => onPick(design)}>Order this</button>` : ''])} />
        </details>`;
}
