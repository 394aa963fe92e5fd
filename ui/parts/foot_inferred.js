// SPDX-License-Identifier: GPL-3.0-or-later
// What was inferred of a scan, each with how sure that is and one touch to say otherwise. What is said
// stands in the visit; everything is computed again from it.
import { html } from '../lib/ui.js';
import { mayWrite } from '../lib/state.js';
import { number, keyText, keyUnit, sentenceCase } from '../lib/format.js';
import { ChoiceField } from './field.js';

const AXES = ['+x', '-x', '+y', '-y', '+z', '-z'];
const UNITS = ['mm', 'cm', 'dm', 'm', 'inch'];

/** @param {string} axis */
const opposite = (axis) => (axis[0] === '+' ? '-' : '+') + axis[1];

/**
 * The rows of the list: key in the scan of the case, words for what it is, and what one touch says instead.
 * @param {any} scan @returns {{key: string, what: string, sure: number, given: boolean, touch: string, value: any}[]}
 */
export function inferredRows(scan) {
    const { up, toes, extent, cast } = scan.inferred;
    const isSole = extent.is === 'sole';
    const isNegative = cast.is === 'negative';
    return [
        { key: 'up', what: `Up is ${up.is} of the file`, sure: up.confidence, given: up.given, touch: 'It is upside down', value: opposite(up.is) },
        { key: 'toes', what: `The toes point to ${toes.is}`, sure: toes.confidence, given: toes.given,
            touch: 'They are at the other end', value: opposite(toes.is) },
        { key: 'extent', what: isSole ? 'A sole only' : 'A whole foot', sure: extent.confidence, given: extent.given,
            touch: isSole ? 'It is a whole foot' : 'It is a sole only', value: isSole ? 'full' : 'sole' },
        { key: 'cast',
            what: isNegative ? 'A print or negative, seen from where the foot was' : 'The foot itself or a positive cast',
            sure: cast.confidence, given: cast.given, touch: isNegative ? 'It is the foot itself' : 'It is a negative',
            value: isNegative ? 'foot' : 'negative' },
    ];
}

/** Landmarks placed by hand stand in the frame of the old pose; they go with it. @param {any} scan @param {Record<string, any>} said */
export function said(scan, said) {
    const next = { ...scan, ...said };
    delete next.landmarks_mm;
    for (const [key, value] of Object.entries(said)) if (value === undefined) delete next[key];
    return next;
}

const sureText = (/** @type {number} */ share) => `${number(100 * share, 0)} % sure`;

/** @param {{side: 'left'|'right', record: any, scan: any}} props */
export function Inferred({ side, record, scan }) {
    const path = `feet.${side}.scan`;
    const isConfirmed = record.at(`${path}.side_confirmed`) === true && record.at(`${path}.unit`) !== undefined;
    const say = (/** @type {Record<string, any>} */ what) => record.set(path, said(record.at(path), what));
    const confirm = () => record.set(path, { ...record.at(path), unit: record.at(`${path}.unit`) ?? scan.unit, side_confirmed: true });
    return html`
        <div class=${`inferred ${isConfirmed ? 'is-confirmed' : ''}`}>
            <p>The scan shows a <strong>${scan.side_inferred ?? scan.side} foot</strong> (${sureText(scan.side_confidence)}), ${' '}
                <strong>${number(scan.foot_length_mm)} mm</strong> long, read
                    as <strong>${scan.unit}</strong> (${scan.unit_given ? 'as you said' : sureText(scan.unit_confidence)}).
                ${scan.sole_only && ' Sole only.'}</p>
            ${isConfirmed
                ? html`<p class="ok">
                    Side and unit
                    confirmed. <button type="button" class="quiet"
                        onClick=${() => record.set(path, { ...record.at(path), side_confirmed: false })}>
                        Not right after all</button>
                </p>`
                : html`<p class="actions">
                    <button type="button" class="main" onClick=${confirm}>Yes: ${side} foot, ${number(scan.foot_length_mm, 0)} mm</button></p>`}
            <${ChoiceField} record=${record} path=${`${path}.loading`} label="How the foot was held while captured"
                words=${['hanging', 'sitting', 'standing']} />
            ${scan.inferred?.loading.is === 'standing'
                && html`<p class="note">The sole is flat: loaded, or closed by the scanner (${sureText(scan.inferred.loading.confidence)}).</p>`}
            ${scan.inferred && html`<${Rows} side=${side} scan=${scan} say=${say} given=${record.at(path) ?? {}} />`}
            ${(scan.warnings ?? []).map((/** @type {string} */ text) => html`<p class="caution">${text}</p>`)}
        </div>`;
}

/** @param {{side: string, scan: any, say: (what: Record<string, any>) => void, given: any}} props */
function Rows({ side, scan, say, given }) {
    const may = mayWrite('visit');
    const touch = (/** @type {string} */ text, /** @type {Record<string, any>} */ what) =>
        may && html`<button type="button" class="quiet" onClick=${() => say(what)}>${text}</button>`;
    const units = UNITS.filter((unit) => unit !== scan.unit);
    return html`
        <details class="inferred-list"><summary>All that was inferred of the ${side} scan</summary>
            <ul>
                ${inferredRows(scan)
                    .map((row) => html`<li key=${row.key}>${row.what} <small>(${row.given ? 'as you said' : sureText(row.sure)})</small> ${' '}
                ${given[row.key] !== undefined ? touch('Infer it again', { [row.key]: undefined }) : touch(row.touch, { [row.key]: row.value })}
                    </li>`)}
                <li>
                    Unit ${scan.unit} <small>
                        (${scan.unit_given ? 'as you said' : sureText(scan.unit_confidence)})
                    </small> ${may
                        && html`<span class="choices" role="group" aria-label="Another unit">
                            ${units.map((unit) => touch(`It is ${unit}`, { unit, side_confirmed: undefined }))}</span>`}
                </li>
                <li>
                    ${scan.removed.area_mm2 > 0 || scan.removed.stray_pieces > 0
                        ? `Removed: ${number(scan.removed.area_mm2, 0)} mm², ${scan.removed.stray_pieces} loose pieces`
                        : given.keep_all ? 'Nothing was removed, as you said' : 'Nothing was removed'} ${' '}
                    ${given.keep_all ? touch('Remove what is no foot', { keep_all: undefined }) : touch('Keep all of it', { keep_all: true })}</li>
                <li>
                    ${scan.holes_filled > 0 ? `Filled: ${scan.holes_filled} holes, ${number(scan.filled_mm2, 0)} mm²`
                        : given.leave_holes ? 'No hole was filled, as you said' : 'No hole was filled'} ${' '}
                    ${given.leave_holes ? touch('Fill small holes', { leave_holes: undefined }) : touch('Leave holes open', { leave_holes: true })}
                </li>
            </ul>
            <dl class="pairs">
                ${Object.entries(scan.removed ?? {})
                    .map(([key, value]) =>
                        html`<div><dt>${sentenceCase(keyText(key))}</dt><dd>${number(/** @type {number} */ (value), 0)} ${keyUnit(key)}</dd></div>`)}
                <div><dt>Triangles kept</dt><dd>${scan.triangles_kept} of ${scan.triangles}</dd></div>
                    <div><dt>Open edges</dt><dd>${scan.open_edges}</dd></div>
            </dl>
        </details>`;
}

/** For a scan that asks, or was refused: all that can be said of it before it is read again. @param {{side: 'left'|'right', record: any}} props */
export function Say({ side, record }) {
    const path = `feet.${side}.scan`;
    return html`
        <div class="inferred"><p>Nothing is known of this scan yet. Where it asks or was refused, say what it is:</p>
            <${ChoiceField} record=${record} path=${`${path}.unit`} label="Unit of the file" words=${UNITS} canBeNotAsked=${false} />
            <${ChoiceField} record=${record} path=${`${path}.up`} label="Up, in the file" words=${AXES} canBeNotAsked=${false} />
            <${ChoiceField} record=${record} path=${`${path}.toes`} label="The toes point to, in the file" words=${AXES} canBeNotAsked=${false} />
            <${ChoiceField} record=${record} path=${`${path}.extent`} label="How much of a foot it is" words=${['full', 'sole']}
                canBeNotAsked=${false} />
            <p class="actions">
                <button type="button" class="quiet"
                    onClick=${() =>
                        record.set(path,
                            said(record.at(path),
                                { unit: undefined, up: undefined, toes: undefined, extent: undefined, cast: undefined,
                                    keep_all: undefined, leave_holes: undefined }))}>
                    Infer all of it again</button>
            </p>
        </div>`;
}
