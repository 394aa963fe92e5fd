// SPDX-License-Identifier: GPL-3.0-or-later
// The landmarks of a scan: as found, moved by hand in the picture, by keys or by numbers. What is moved
// stands in the visit, so that the program measures from it and undo takes it back.
import { html, useMemo, useState } from '../lib/ui.js';
import { computation, mayWrite } from '../lib/state.js';
import { number, sentenceCase } from '../lib/format.js';
import { same } from '../lib/paths.js';
import { scannedColours } from '../lib/compare.js';
import { FootView, sidePoint } from './foot_scene.js';
import { useMesh } from './use_mesh.js';

/** @typedef {import('../lib/types.d.ts').Point} Point */
/** @typedef {Record<string, Point>} Points */

const AXES = ['to the toes', 'to the left', 'up'];
const tenths = (/** @type {number} */ value) => Math.round(10 * value) / 10;

/** Those that are known, on their own side. @param {Record<string, Point|null>|undefined} landmarks @param {'left'|'right'} side @returns {Points} */
function onSide(landmarks, side) {
    return Object.fromEntries(Object.entries(landmarks ?? {}).flatMap(([name, at]) => (at ? [[name, sidePoint(at, side)]] : [])));
}

/** Somewhere on a flat sole, to be moved from there. @param {Points} found @returns {Point} */
function archPlace(found) {
    const [heel, head] = [found.heel_medial, found.metatarsal_head_1];
    return [0.5 * (heel[0] + head[0]), 0.35 * (heel[1] + head[1]), 6];
}

/** @param {{side: 'left'|'right', scan: any, record: import('../lib/record.js').EditedRecord}} props */
export function Landmarks({ side, scan, record }) {
    const path = `feet.${side}.scan.landmarks_mm`;
    const surface = useMesh(computation.result.value, `${side}_foot.mesh`);
    const found = useMemo(() => onSide(scan.by_hand?.landmarks_found ?? scan.landmarks, side), [scan, side]);
    const kept = record.at(path);
    const byHand = useMemo(() => onSide(kept, side), [kept, side]);
    const [dragged, drag] = useState(/** @type {Points} */ ({}));
    const [chosen, choose] = useState('');
    const landmarks = useMemo(() => ({ ...found, ...byHand, ...dragged }), [found, byHand, dragged]);
    const [isPlain, plain] = useState(false);
    const colours = useMemo(() => (surface?.colours && !isPlain ? scannedColours(surface.colours) : null), [surface, isPlain]);
    const canMove = mayWrite('visit');
    const measured = Object.fromEntries((scan.by_hand?.landmarks ?? []).map((/** @type {string} */ name) => [name, scan.landmarks[name]]));
    const place = (/** @type {string} */ name, /** @type {Point|undefined} */ at) => {
        drag({});
        const rest = { ...(record.at(path) ?? {}) };
        delete rest[name];
        const all = at ? { ...rest, [name]: sidePoint(/** @type {Point} */ (at.map(tenths)), side) } : rest;
        record.set(path, Object.keys(all).length ? all : undefined);
    };
    const moved = (/** @type {string} */ name) => {
        if (!landmarks[name] || !(name in byHand || name in dragged)) return '';
        if (!found[name]) return 'placed by hand';
        return `by hand, ${number(Math.hypot(...landmarks[name].map((value, i) => value - found[name][i])))} mm`;
    };
    return html`
        <${FootView} side=${side} surface=${surface} colours=${colours} landmarks=${landmarks} chosen=${chosen} onChoose=${choose} canMove=${canMove}
            onDrag=${(/** @type {string} */ name, /** @type {Point} */ at) => drag({ [name]: at })} onMove=${place} />
        ${surface?.colours
            && html`<p class="actions">
                <button type="button" class="quiet" aria-pressed=${!isPlain} onClick=${() => plain(!isPlain)}>Colours as scanned</button></p>`}
        <details class="landmarks">
            <summary>
                Landmarks${Object.keys(byHand).length > 0 && `: ${Object.keys(byHand).length} by hand`}${canMove
                    && '; choose, drag in the picture, nudge by keys, or type'}
            </summary>
            <table>
                <thead>
                    <tr><th scope="col">Landmark</th>${AXES.map((axis) => html`<th scope="col">${axis}, mm</th>`)}<th scope="col">moved</th></tr>
                </thead>
                <tbody>
                    ${Object.keys(scan.landmarks)
                        .map((name) =>
                            html`<${LandmarkRow} key=${name} name=${name} at=${landmarks[name]} moved=${moved(name)} isChosen=${name === chosen}
                    canMove=${canMove} onChoose=${() => choose(name === chosen ? '' : name)}
                    onPlace=${(/** @type {Point|undefined} */ at) => place(name, at)}
                    start=${name === 'arch_apex' && !landmarks[name] ? archPlace(found) : null} />`)}</tbody></table>
            ${canMove && Object.keys(byHand).length > 1
                && html`<p class="actions">
                    <button type="button" class="quiet" onClick=${() => record.set(path, undefined)}>All as found</button></p>`}
        </details>
        ${!same(measured, kept ?? {}) && html`<p class="note" role="status">Landmarks were moved; being measured again.</p>`}`;
}

/** @param {{name: string, at: Point|undefined, moved: string, isChosen: boolean, canMove: boolean, start: Point|null, onChoose: () => void, onPlace: (at: Point|undefined) => void}} props */
function LandmarkRow({ name, at, moved, isChosen, canMove, start, onChoose, onPlace }) {
    const words = name.replaceAll('_', ' ');
    const typed = (/** @type {Point} */ old, /** @type {number} */ axis, /** @type {string} */ text) => {
        const value = Number(text);
        if (text.trim() !== '' && Number.isFinite(value)) onPlace(/** @type {Point} */ (old.map((was, k) => (k === axis ? value : was))));
    };
    return html`
        <tr class=${isChosen ? 'is-chosen' : ''}>
            <th scope="row">
                <button type="button" class="quiet" aria-pressed=${isChosen} disabled=${!at} onClick=${onChoose}>${sentenceCase(words)}</button></th>
            ${at
                ? at.map((value, i) =>
                    html`<td>
                        <input type="number" step="0.5" class="short" disabled=${!canMove}
                            aria-label=${`${words}, ${AXES[i]}, mm`} value=${value.toFixed(1)}
                onChange=${(/** @type {any} */ e) => typed(at, i, e.currentTarget.value)} /></td>`)
                : html`<td colspan="3"><span class="unknown">not found on this scan</span>
                    ${start && canMove && html` <button type="button" class="quiet" onClick=${() => onPlace(start)}>Place it</button>`}</td>`}
            <td>
                ${moved}${moved && canMove
                    && html` <button type="button" class="quiet" aria-label=${`${words}: as found`}
                        onClick=${() => onPlace(undefined)}>As found</button>`}
            </td>
        </tr>`;
}
