// SPDX-License-Identifier: GPL-3.0-or-later
// One foot against another: the other side's, or the same foot's at an earlier visit.
import { html, useState, useMemo } from '../lib/ui.js';
import { visits, computation } from '../lib/state.js';
import { api } from '../lib/api.js';
import { number, signed, keyText, keyUnit, unitText, sentenceCase, dateText } from '../lib/format.js';
import { MEASURE_KEYS, halfWidth } from '../lib/reasons.js';
import { deviation, deviationColours } from '../lib/compare.js';
import { css, deviationColour } from '../lib/colours.js';
import { FootView } from './foot_scene.js';
import { Scale } from './scale.js';
import { useMesh } from './use_mesh.js';
import { useRows } from './use_rows.js';

/** @typedef {import('../lib/types.d.ts').Point} Point */
/** @typedef {'left'|'right'} Side */
/** @typedef {import('../lib/mesh.js').Surface} Surface */

const DEVIATION_TOP = 5; // mm, of the printed scale

/** @type {Record<string, Point>} */
const NONE = {};

/** Measures of two feet and their difference. @param {{now: any, other: any, heads: [string, string, string]}} props */
function Differences({ now, other, heads }) {
    const keys = MEASURE_KEYS.filter((key) =>
        Number.isFinite(now.measures?.[key] ?? now.scan[key]) && Number.isFinite(other.measures?.[key] ?? other.scan[key]));
    const of = (/** @type {any} */ foot, /** @type {string} */ key) => foot.measures?.[key] ?? foot.scan[key];
    const spread = (/** @type {string} */ key) => {
        const [a, b] = [halfWidth(now.scan, key), halfWidth(other.scan, key)];
        return a === null || b === null ? '' : ` ±${number(Math.hypot(a, b), /index/.test(key) ? 3 : 1)}`;
    };
    return html`
        <table class="measures">
            <thead><tr><th scope="col">Measure</th>${heads.map((head) => html`<th scope="col" class="num">${head}</th>`)}</tr></thead>
            <tbody>${keys.map((key) => {
                const digits = /index/.test(key) ? 3 : 1;
                return html`<tr key=${key}><th scope="row">${sentenceCase(keyText(key))}</th>
                    <td class="num">${number(of(now, key), digits)}</td><td class="num">${number(of(other, key), digits)}</td>
                    <td class="num"><strong>${signed(of(now, key) - of(other, key), digits)}</strong>${spread(key)} ${unitText(keyUnit(key))}</td>
                </tr>`;
            })}</tbody></table>`;
}

/** Where two skins differ, in colours, once it is asked for. @param {{side: Side, now: Surface|null, other: Surface|null, isTurnedOver: boolean, label: string, children?: any}} props */
function Deviation({ side, now, other, isTurnedOver, label, children }) {
    const [isShown, show] = useState(false);
    const far = useMemo(() => (isShown && now && other ? deviation(now, other, isTurnedOver) : null), [isShown, now, other, isTurnedOver]);
    const colours = useMemo(() => far && deviationColours(far, DEVIATION_TOP), [far]);
    return html`
        <p>
            <button type="button" aria-expanded=${isShown} onClick=${() => show(!isShown)}>
                ${isShown ? 'Hide the picture' : 'Show where they differ'}</button>
        </p>
        ${isShown && html`<${FootView} side=${side} surface=${now} colours=${colours} landmarks=${NONE} />
            <${Scale} label=${label} low=${-DEVIATION_TOP} high=${DEVIATION_TOP} unit="mm"
                colour=${(/** @type {number} */ share) => css(deviationColour(share))} />
            <p class="note">${label}, mm. ${children}</p>
            ${far && html`<p data-median=${medianOf(far)}>Half of the skin lies within <strong>${number(medianOf(far))} mm</strong>.</p>`}`}`;
}

/** Median of the distances without their sign. @param {Float32Array} far */
function medianOf(far) {
    return far.map(Math.abs).sort()[Math.floor(far.length / 2)];
}

/** @param {{left: any, right: any}} props */
export function Compare({ left, right }) {
    const result = computation.result.value;
    const [mine, other] = [useMesh(result, 'left_foot.mesh'), useMesh(result, 'right_foot.mesh')];
    return html`
        <section class="card"><h2>Left against right</h2>
            <${Differences} now=${left} other=${right} heads=${['Left', 'Right', 'Left − right']} />
            <${Deviation} side="left" now=${mine} other=${other} isTurnedOver label="Left foot outside (+) or inside (−) the right one turned over">
                Both are laid into the foot frame by heel and second metatarsal head; a finer registration is not computed here.</${Deviation}>
        </section>`;
}

/** The visit before this one that was computed with a scan. @param {any[]} all @param {string} date @param {string} id @param {Map<string, any>} results */
function before(all, date, id, results) {
    return all.find((row) =>
        row.id !== id && row.body.visit_date <= date && results.has(row.id) && ['left', 'right'].some((side) => row.body.feet?.[side]?.scan?.file));
}

/** @param {{record: import('../lib/record.js').EditedRecord}} props */
export function AgainstLast({ record }) {
    const now = computation.result.value;
    const { rows } = useRows(() => api.records(record.person ?? '', 'result'), [record.person, record.id]);
    const results = new Map((rows ?? []).map((row) => [row.id, row.body]));
    const last = before(visits.value, record.at('visit_date'), record.id, results);
    const files = last && results.get(last.id).files;
    const { rows: then } = useRows(async () =>
        (files?.['visit.json'] ? computation.read({ files: { 'visit.json': files['visit.json'] }, visit_version: 0 }) : null),
        [files?.['visit.json']]);
    const sides = /** @type {Side[]} */ (['left', 'right'].filter((side) => now?.visit?.feet?.[side]?.scan && then?.visit?.feet?.[side]?.scan));
    return html`
        <section class="card" aria-label="Against the last visit">
            <h2>Against the last visit${last && html` <small>of ${dateText(last.body.visit_date)}</small>`}</h2>
            ${!last && html`<p class="empty">No earlier visit with a computed scan.</p>`}
            ${last && sides.length === 0 && html`<p class="empty">No foot was scanned at both visits.</p>`}
            ${sides.map((side) =>
                html`<${OneAgainst} key=${side} side=${side} record=${record} last=${last} files=${files} now=${now} then=${then} />`)}
        </section>`;
}

/** @param {{side: Side, record: any, last: any, files: Record<string, string>, now: any, then: any}} props */
function OneAgainst({ side, record, last, files, now, then }) {
    const name = `${side}_foot.mesh`;
    const mine = useMesh(now, name);
    const other = useMesh(/** @type {any} */ ({ files }), name);
    const [foot, old] = [now.visit.feet[side], then.visit.feet[side]];
    const isSame = record.at(`feet.${side}.scan.file`) === last.body.feet?.[side]?.scan?.file;
    if (isSame) return html`<p>
        ${sentenceCase(side)} foot: this visit stands on the scan of ${dateText(last.body.visit_date)}; there is nothing to compare.</p>`;
    return html`
        <h3>${side === 'left' ? 'Left foot' : 'Right foot'}</h3>
        ${foot.scan.loading !== old.scan.loading
            && html`<p class="caution">
                The foot was held differently: now ${foot.scan.loading}, then ${old.scan.loading}. The measures are not of one kind.</p>`}
        <${Differences} now=${foot} other=${old} heads=${['Now', 'Then', 'Now − then']} />
        <${Deviation} side=${side} now=${mine} other=${other} isTurnedOver=${false}
            label=${`${sentenceCase(side)} foot now outside (+) or inside (−) what it was`}>
            Each scan is laid into the foot frame by its own heel and second metatarsal head; a finer registration is not computed
            here, so a difference of a few millimetres may be how it was laid.
        </${Deviation}>`;
}
