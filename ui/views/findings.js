// SPDX-License-Identifier: GPL-3.0-or-later
// Findings: red flags first, then pain, then both feet side by side; every answer by key or finger.
import { html } from '../lib/ui.js';
import { visit, vocabulary } from '../lib/state.js';
import { ofScope, grouped, tally, FOOT_GROUPS } from '../lib/groups.js';
import { sentenceCase, unitText } from '../lib/format.js';
import { ChoiceField, FindingField, NumberField } from '../parts/field.js';
import { FootMap } from '../parts/foot_map.js';
import { SideMark } from '../parts/figure.js';
import { Progress } from '../parts/progress.js';
import { Causes } from '../parts/causes.js';
import { Ultrasound } from '../parts/ultrasound.js';
import { Recordings } from '../parts/recordings.js';

/** @typedef {import('../lib/record.js').EditedRecord} EditedRecord */
/** @typedef {import('../lib/types.d.ts').Finding} Finding */

const SIDES = /** @type {('left'|'right')[]} */ (['left', 'right']);

export function Findings() {
    const record = visit.value;
    const rows = vocabulary.value?.findings ?? [];
    if (!record) return html`<p class="empty">No visit yet: “New visit” above begins one.</p>`;
    return html`
        <p class="keys">
            Keys: Tab to the next question, <kbd>y</kbd> <kbd>n</kbd> or an arrow answers, <kbd>?</kbd> not asked, <kbd>Delete</kbd> no answer.</p>
        <${Progress} />
        <${Flags} record=${record} rows=${ofScope(rows, 'red_flag')} />
        <${Day} record=${record} rows=${rows} />
        <${Pain} record=${record} rows=${ofScope(rows, 'heel_pain')} />
        ${grouped(ofScope(rows, 'foot'), FOOT_GROUPS).map((group, i) => html`
            <section class="card both-feet" key=${group.name}><h2>${group.name}</h2>
                ${i === 0 && html`<${Maps} record=${record} row=${group.rows.find((row) => row.key === 'tender_at')} />`}
                <${FeetHead} />
                ${group.rows.map((row) => html`<${BothFeet} record=${record} row=${row} key=${row.key} />`)}
            </section>`)}
        <${Ultrasound} record=${record} />
        <${Recordings} record=${record} />
        <${Causes} />`;
}

/** @param {{record: EditedRecord, rows: Finding[]}} props */
function Flags({ record, rows }) {
    const count = tally(rows, record.draft.value.red_flags);
    return html`
        <section class="card" id="red-flags">
            <h2>Red flags <small>${count.yes} yes, ${count.no} no, ${count.notAsked} not asked, ${count.open} without an answer</small></h2>
            <div class="answers">
                ${rows.map((row) => html`<${FindingField} record=${record} path=${`red_flags.${row.key}`} row=${row} warn="yes" key=${row.key} />`)}
            </div>
        </section>`;
}

/** The few numbers of the day that doses and load stand on. @param {{record: EditedRecord, rows: Finding[]}} props */
function Day({ record, rows }) {
    return html`
        <section class="card"><h2>Today</h2><div class="fields">
            ${ofScope(rows, 'visit').map((row) => html`<${NumberField} record=${record} path=${row.key} row=${row} key=${row.key} />`)}
        </div></section>`;
}

/** What stands for "has heel pain": a tree, or a word. @param {any} value */
function painWord(value) {
    if (value === 'none') return 'no';
    if (value === 'not asked' || value === undefined) return value;
    return 'yes';
}

/** @param {{record: EditedRecord, rows: Finding[]}} props */
function Pain({ record, rows }) {
    const choose = (/** @type {string} */ side, /** @type {string|undefined} */ word) =>
        record.set(`feet.${side}.heel_pain`, { no: 'none', yes: {}, 'not asked': 'not asked' }[word ?? ''] ?? undefined);
    const isPain = (/** @type {string} */ side) => typeof record.at(`feet.${side}.heel_pain`) === 'object';
    return html`
        <section class="card both-feet"><h2>Heel pain</h2><${FeetHead} />
            <div class="pair"><span class="pair-label">Is there heel pain?</span>
                ${SIDES.map((side) =>
                    html`<div class="pair-cell">
                        <${PainChoice} record=${record} side=${side} value=${painWord(record.at(`feet.${side}.heel_pain`))}
                            onChoose=${(/** @type {any} */ word) => choose(side, word)} />
                    </div>`)}
            </div>
            ${rows.map((row) => html`<div class="pair" key=${row.key}><span class="pair-label">${sentenceCase(row.what)}</span>
                ${SIDES.map((side) =>
                    html`<div class="pair-cell">
                        ${isPain(side) ? html`<${FindingField} record=${record} path=${`feet.${side}.heel_pain.${row.key}`} row=${row}
                    label=${`${side} foot: ${row.what}`} isBare />` : html`<span class="nothing">–</span>`}</div>`)}</div>`)}
        </section>`;
}

/** @param {{record: EditedRecord, side: string, value: any, onChoose: (word: string|undefined) => void}} props */
function PainChoice({ record, side, value, onChoose }) {
    // A view of the one path: its words are "no", "yes", "not asked", its values a word or a branch.
    const face = { kind: 'visit', faults: record.faults, at: () => value, set: (/** @type {string} */ _, /** @type {any} */ word) => onChoose(word) };
    return html`<${ChoiceField} record=${face} path=${`feet.${side}.heel_pain`} label=${`${side} foot: is there heel pain?`}
        words=${['no', 'yes']} isBare />`;
}

function FeetHead() {
    return html`<div class="pair pair-head"><span class="pair-label"></span>
        ${SIDES.map((side) => html`<div class="pair-cell"><${SideMark} side=${side} /></div>`)}</div>`;
}

/** @param {{record: EditedRecord, row: Finding}} props */
function BothFeet({ record, row }) {
    const what = sentenceCase(row.what);
    return html`
        <div class="pair">
            <span class="pair-label">
                ${what}${row.kind === 'number' && row.unit && html` <small>${unitText(row.unit)}, ${row.low} to ${row.high}</small>`}</span>
            ${SIDES.map((side) => html`<div class="pair-cell"><${FindingField} record=${record} path=${`feet.${side}.${row.key}`} row=${row}
                label=${`${side} foot: ${row.what}`} isBare /></div>`)}</div>`;
}

/** @param {{record: EditedRecord, row: Finding|undefined}} props */
function Maps({ record, row }) {
    if (!row) return null;
    return html`
        <div class="pair maps">
            <span class="pair-label">Touch where it hurts most <small>soles seen from below; the same choice stands in words underneath</small></span>
            ${SIDES.map((side) => html`<div class="pair-cell"><${FootMap} side=${side} value=${record.at(`feet.${side}.tender_at`)} words=${row.words}
                onChoose=${(/** @type {string|undefined} */ word) => record.set(`feet.${side}.tender_at`, word)} /></div>`)}</div>`;
}
