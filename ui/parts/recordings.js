// SPDX-License-Identifier: GPL-3.0-or-later
// A recorded walk and plantar pressure of each foot: one stance, the arch through it, the print by region. With forces
// and their place they take the norm's in the load.
import { html, useState, useEffect, useId } from '../lib/ui.js';
import { person, computation, mayWrite } from '../lib/state.js';
import { api, Refusal } from '../lib/api.js';
import { number } from '../lib/format.js';
import { readNumber } from '../lib/groups.js';
import { Chart } from './chart.js';
import { SideMark } from './figure.js';
import { Upload } from './upload.js';

/** @typedef {'left'|'right'} Side */
/** @typedef {import('../lib/record.js').EditedRecord} EditedRecord */

const SIDES = /** @type {Side[]} */ (['left', 'right']);
const KINDS = '.c3d,.trc,.forces,.txt,.csv';

/** @param {{record: EditedRecord}} props */
export function Recordings({ record }) {
    return html`
        <section class="card" aria-label="Gait and pressure"><h2>Gait and plantar pressure</h2>
            <p class="note">A recorded stance takes the place of the normal walk in the load: what it does not hold stays the norm’s.</p>
            <div class="feet">${SIDES.map((side) => html`
                <div class="us-side" key=${side}><h3><${SideMark} side=${side} /></h3>
                <${Walk} record=${record} side=${side} /><${Pressure} record=${record} side=${side} /></div>`)}</div>
        </section>`;
}

/**
 * The answer to a question that changes, or the sentence why there is none.
 * @param {() => Promise<any>} ask @param {string} key @returns {{answer: any, fault: string}}
 */
function useAnswer(ask, key) {
    const [state, set] = useState(/** @type {{answer: any, fault: string}} */ ({ answer: null, fault: '' }));
    useEffect(() => {
        let isOld = false;
        ask().then((answer) => !isOld && set({ answer, fault: '' }), (trouble) => {
            if (!(trouble instanceof Refusal)) throw trouble;
            if (!isOld) set({ answer: null, fault: trouble.message });
        });
        return () => {
            isOld = true;
        };
    }, [key]);
    return state;
}

/** Foot length as measured or typed. @param {EditedRecord} record @param {Side} side */
function lengthOf(record, side) {
    const of = computation.result.value?.visit?.feet?.[side];
    return of?.measures?.foot_length_mm ?? of?.scan?.foot_length_mm ?? record.at(`feet.${side}.measures.foot_length_mm`);
}

/** @param {{record: EditedRecord, side: Side}} props */
function Walk({ record, side }) {
    const path = `feet.${side}.walk`;
    const kept = record.at(path);
    const [unit, setUnit] = useState('');
    const id = useId('walk');
    const take = async (/** @type {File} */ file, /** @type {'file'|'forces_file'} */ key) => {
        const got = await api.addWalk(person.peek()?.id ?? '', file, unit);
        const fresh = { file: got.file, name: file.name, ...(unit ? { unit } : {}) };
        record.set(path, key === 'file' ? fresh : { ...kept, forces_file: got.file });
        record.save();
        return `${got.about.kind}: ${got.about.markers.length} markers, ${got.about.plates} force plates.`;
    };
    return html`
        <h4>Walk</h4>
        ${kept?.file && html`<${Stance} record=${record} side=${side} kept=${kept} key=${kept.file} />`}
        ${mayWrite('visit') && html`<div class="field"><label for=${id}>Unit of length</label>
            <select id=${id} value=${unit} onChange=${(/** @type {any} */ e) => setUnit(e.currentTarget.value)}>
                <option value="">as the file says</option><option>mm</option><option>cm</option><option>m</option></select></div>`}
        <${Upload} label=${kept?.file ? 'Another recording' : `Drop a recorded walk of the ${side} foot, or choose a file`}
            isSmall=${!!kept?.file} kinds=${KINDS} note="C3D, TRC, force tables"
            onTake=${(/** @type {File} */ file) => take(file, 'file')} />
        ${kept?.file && html`<${Upload} label="Force plates of the same trial, where they stand in a file of their own"
            isSmall kinds=${KINDS} note="" onTake=${(/** @type {File} */ file) => take(file, 'forces_file')} />`}`;
}

const PLACES = /** @type {[string, string][]} */ ([
    ['heel_marker', 'Marker at the back of the heel'],
    ['first_head_marker', 'Marker at the first head'],
    ['fifth_head_marker', 'Marker at the fifth head'],
    ['arch_marker', 'Marker of the arch (navicular)'],
]);

/** @param {{record: EditedRecord, side: Side, kept: any}} props */
function Stance({ record, side, kept }) {
    const id = useId('stance');
    const path = `feet.${side}.walk`;
    const about = useAnswer(() => api.walk(kept.file, { forces_file: kept.forces_file }), `${kept.file} ${kept.forces_file}`);
    const mass = record.at('mass_kg');
    const { file: _, name: __, unit: ___, ...named } = kept;
    const ask = { ...named, mass_kg: mass, foot_length_mm: lengthOf(record, side) };
    const isReady = mass > 0 && about.answer?.plates;
    const { answer, fault } = useAnswer(() => (isReady ? api.walk(kept.file, ask) : Promise.resolve(null)), JSON.stringify([ask, isReady]));
    const set = (/** @type {string} */ key, /** @type {any} */ value) => record.set(path, { ...kept, [key]: value || undefined });
    const disabled = !mayWrite('visit');
    const plates = about.answer?.plates ?? 0;
    return html`
        <p class="note">${kept.name}: ${about.answer?.kind ?? '…'}</p>
        <div class="fields">${PLACES.map(([key, label]) => html`<div class="field" key=${key}><label for=${`${id}-${key}`}>${label}</label>
            <select id=${`${id}-${key}`} disabled=${disabled} value=${kept[key] ?? ''}
                onChange=${(/** @type {any} */ e) => set(key, e.currentTarget.value)}>
                <option value="">none</option>
                ${(about.answer?.markers ?? []).map((/** @type {string} */ name) => html`<option key=${name}>${name}</option>`)}</select></div>`)}
            ${plates > 0 && html`<div class="field"><label for=${`${id}-plate`}>Plate of ${plates}</label>
                <input id=${`${id}-plate`} type="number" min="1" max=${plates} disabled=${disabled} value=${kept.plate ?? 1}
                    onChange=${(/** @type {any} */ e) => set('plate', Number(e.currentTarget.value))} /></div>
            <div class="field"><label for=${`${id}-step`}>Stance on that plate</label>
                <input id=${`${id}-step`} type="number" min="1" disabled=${disabled} value=${kept.step ?? 1}
                    onChange=${(/** @type {any} */ e) => set('step', Number(e.currentTarget.value))} /></div>`}</div>
        ${fault && html`<p class="fault" role="alert">${fault}</p>`}
        ${!(mass > 0) && html`<p class="note">Forces are said in body weights: the mass is not known yet.</p>`}
        ${answer?.stance && html`<${Forces} side=${side} stance=${answer.stance} />`}
        ${answer?.arch && html`<p>Arch <strong>${number(answer.arch.height_mm[0], 1)} mm</strong>${lowered(answer.arch)}</p>`}`;
}

/** @param {any} arch */
function lowered(arch) {
    return ` at contact, lowest ${number(arch.lowest_mm, 1)} mm at ${number(arch.lowest_at_percent, 0)} % of stance; `
        + `lowering at most ${number(arch.lowering_speed_mm_per_s, 0)} mm/s.`;
}

const CURVES = [
    { key: 'vertical_force_bw', name: 'Up', colour: 'series-1' },
    { key: 'fore_aft_force_bw', name: 'Forward', colour: 'series-2', isDashed: true },
    { key: 'centre_of_pressure_foot_lengths', name: 'Centre of pressure, foot lengths', colour: 'series-3', isDotted: true },
];

/** @param {{side: string, stance: any}} props */
function Forces({ side, stance }) {
    const n = stance.instants;
    const x = Array.from({ length: n }, (_, i) => (100 * i) / (n - 1));
    const columns = CURVES.filter((curve) => stance[curve.key]);
    const cell = (/** @type {string} */ key, /** @type {number} */ percent) =>
        html`<td class="num" key=${key}>${number(stance[key][Math.round((percent * (n - 1)) / 100)], 2)}</td>`;
    const table = html`<table>
        <thead>
            <tr><th scope="col">% of stance</th>${columns.map(({ key, name }) => html`<th scope="col" class="num" key=${key}>${name}</th>`)}</tr>
        </thead>
        <tbody>${x.filter((_, i) => i % 4 === 0).map((percent) => html`<tr key=${percent}>
            <th scope="row">${number(percent, 1)}</th>${columns.map(({ key }) => cell(key, percent))}</tr>`)}</tbody></table>`;
    return html`<${Chart} title=${`Recorded stance of the ${side} foot`} x=${x} xName="% of stance" yName="BW; lengths" height=${200}
        lines=${columns.map((curve) => ({ ...curve, values: stance[curve.key] }))} table=${table} />`;
}

const REGIONS = ['heel', 'midfoot', 'forefoot', 'toes'];

/** What a file of pressures may leave out, with its limits: those of the case file. */
const CELLS = [
    { key: 'cell_length_mm', label: 'Cell, heel to toe, mm', low: 1, high: 30 },
    { key: 'cell_breadth_mm', label: 'Cell, across, mm', low: 1, high: 30 },
    { key: 'frame_ms', label: 'Between frames, ms', low: 1, high: 100 },
];

/**
 * A number typed; what is none is said beside the field and kept out of the record.
 * @param {{row: {label: string, low: number, high: number}, value: number|undefined, disabled: boolean, onSet: (value: number|undefined) => void}} props
 */
function Typed({ row, value, disabled, onSet }) {
    const id = useId('typed');
    const [fault, setFault] = useState('');
    const take = (/** @type {string} */ text) => {
        const read = text === '' ? {} : readNumber(text, row);
        setFault(read.fault ?? '');
        onSet(read.value);
    };
    return html`<div class=${`field ${fault ? 'is-wrong' : ''}`}><label for=${id}>${row.label}</label>
        <input id=${id} type="text" inputmode="decimal" autocomplete="off" disabled=${disabled} value=${value ?? ''}
            aria-invalid=${fault ? 'true' : undefined} aria-describedby=${`${id}-fault`}
            onChange=${(/** @type {any} */ e) => take(e.currentTarget.value.trim())} />
        <span class="fault" id=${`${id}-fault`} role=${fault ? 'alert' : undefined}>${fault}</span></div>`;
}

/** @param {{record: EditedRecord, side: Side}} props */
function Pressure({ record, side }) {
    const path = `feet.${side}.pressure`;
    const kept = record.at(path);
    const id = useId('pressure');
    const take = async (/** @type {File} */ file) => {
        const got = await api.addPressure(person.peek()?.id ?? '', file);
        record.set(path, { file: got.file, name: file.name });
        record.save();
        return 'Read.';
    };
    const set = (/** @type {string} */ key, /** @type {any} */ value) => record.set(path, { ...kept, [key]: value || undefined });
    const { unit, cell_length_mm, cell_breadth_mm, frame_ms } = kept ?? {};
    const ask = { unit, cell_length_mm, cell_breadth_mm, frame_ms, mass_kg: record.at('mass_kg') };
    const { answer, fault } = useAnswer(() => (kept?.file ? api.pressure(kept.file, ask) : Promise.resolve(null)), JSON.stringify([kept?.file, ask]));
    const disabled = !mayWrite('visit');
    const part = (/** @type {any} */ of) => [number(of.contact_area_cm2, 1), number(of.peak_kPa, 0), number(of.mean_kPa, 0)];
    return html`
        <h4>Plantar pressure</h4>
        ${kept?.file && html`<p class="note">${kept.name}</p>
            <details open=${!!fault}><summary>What the file does not say</summary><div class="fields">
                ${CELLS.map((row) => html`<${Typed} key=${row.key} row=${row} value=${kept[row.key]} disabled=${disabled}
                    onSet=${(/** @type {number|undefined} */ value) => set(row.key, value)} />`)}
                <div class="field"><label for=${`${id}-unit`}>Unit</label>
                    <select id=${`${id}-unit`} disabled=${disabled} value=${kept.unit ?? ''}
                        onChange=${(/** @type {any} */ e) => set('unit', e.currentTarget.value)}>
                    <option value="">as the file says</option><option>kPa</option><option>N/cm2</option></select></div></div></details>`}
        ${fault && html`<p class="fault" role="alert">${fault}</p>`}
        ${answer && html`<table class="regions">
            <caption>
                Highest pressure in each cell: ${number(answer.length_mm, 0)} × ${number(answer.breadth_mm, 0)} mm,
                arch index ${number(answer.arch_index, 3)}
            </caption>
            <thead>
                <tr><th scope="col">Region</th>
                    ${['Contact, cm²', 'Peak, kPa', 'Mean, kPa'].map((name) => html`<th scope="col" class="num" key=${name}>${name}</th>`)}</tr>
            </thead>
            <tbody>${REGIONS.map((name) => html`<tr key=${name}>
                <th scope="row">${name}</th>${part(answer[name]).map((text, i) => html`<td class="num" key=${i}>${text}</td>`)}</tr>`)}</tbody>
        </table>
            <p class="note">${answer.note}</p>`}
        <${Upload} label=${kept?.file ? 'Another pressure file' : `Drop plantar pressure of the ${side} foot, or choose a file`}
            isSmall=${!!kept?.file} kinds=".csv,.txt" note="A table of cells, row 1 at the heel" onTake=${take} />`;
}
