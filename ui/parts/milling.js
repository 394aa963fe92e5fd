// SPDX-License-Identifier: GPL-3.0-or-later
// Milling: block, tools and ridge height chosen, the program made as a job, and what its check found. A program
// that did not pass its check never comes here.
import { html, useState, useEffect, useRef, useId } from '../lib/ui.js';
import { computation, mayWrite, role } from '../lib/state.js';
import { api } from '../lib/api.js';
import { number, sentenceCase } from '../lib/format.js';
import { Papers } from './papers.js';

/** @typedef {{step_mm: number, columns: number, rows: number, off_um: (number|null)[], state: string}} MillMap */

/** A digit of the map: what it is called and its colour, lightness telling them apart without hue. */
const STATES = [
    { name: 'no part here', colour: [255, 255, 255] }, { name: 'within the ridge height', colour: [196, 216, 236] },
    { name: 'stock stays: the ball does not reach', colour: [214, 150, 50] }, { name: 'a tab is in the way', colour: [70, 74, 82] },
    { name: 'stock stays', colour: [150, 50, 10] }, { name: 'cut into the part', colour: [0, 0, 0] },
];

/** @param {{record: import('../lib/record.js').EditedRecord}} props */
export function Milling({ record }) {
    const [table, setTable] = useState(/** @type {any} */ (null));
    const [choice, setChoice] = useState(/** @type {any} */ (null));
    const result = computation.result.value;
    const isBusy = ['waiting', 'running'].includes(computation.job.value?.state ?? '');
    const may = mayWrite('visit') && role.value !== 'assistant';
    const hasDevice = ['left', 'right'].some((side) => result?.visit?.feet?.[side]?.orthosis);
    useEffect(() => {
        api.milling().then((all) => {
            setTable(all);
            setChoice(all.choice);
        }, () => setTable(null));
    }, []);
    if (!hasDevice || !table || !choice) return null;
    const set = (/** @type {string} */ key, /** @type {any} */ value) => setChoice({ ...choice, [key]: value });
    const tools = (/** @type {string} */ cutter) => table.tools.filter((/** @type {any} */ one) => one.cutter === cutter)
        .map((/** @type {any} */ one) =>
            ({ value: one.number, text: `T${one.number}, ${number(one.diameter_mm)} mm, reaches ${number(one.reach_mm, 0)} mm` }));
    return html`
        <section class="card milling" aria-label="Milling"><h2>Milling</h2>
            <div class="mill-choice">
                <${Choose} label="What is made" value=${choice.make} onChoose=${(/** @type {string} */ v) => set('make', v)}
                    rows=${[{ value: 'shell', text: 'the shell, cut on two sides' },
                        { value: 'positive cast', text: 'a positive cast of the corrected sole' }]} />
                <${Choose} label="Block" value=${choice.block} onChoose=${(/** @type {string} */ v) => set('block', v)}
                    rows=${table.blocks.map((/** @type {any} */ one) =>
                        ({ value: one.name, text: `${one.name}, ${one.material}, ${one.length_mm} x ${one.width_mm} x ${one.height_mm} mm` }))} />
                <${Choose} label="Roughing tool, flat" value=${choice.rough_tool}
                    onChoose=${(/** @type {string} */ v) => set('rough_tool', Number(v))} rows=${tools('flat')} />
                <${Choose} label="Finishing tool, ball-nose" value=${choice.finish_tool}
                    onChoose=${(/** @type {string} */ v) => set('finish_tool', Number(v))} rows=${tools('ball')} />
                <${Choose} label="Highest ridge left" value=${choice.scallop_mm} onChoose=${(/** @type {string} */ v) => set('scallop_mm', Number(v))}
                    rows=${[0.04, 0.05, 0.08, 0.1, 0.15, 0.2].map((mm) => ({ value: mm, text: `${mm} mm` }))} />
            </div>
            <p class="note">On ${table.machine.name}. Machine, blocks and tools are the clinic’s own table where one was given: docs/milling.md.</p>
            ${may
                && html`<button type="button" class="main" disabled=${isBusy}
                    onClick=${() => computation.mill(record.version.peek(), choice)}>Make the milling program</button>`}
            ${result && html`<${Milled} result=${result} />`}
        </section>`;
}

/** @param {{label: string, value: any, rows: {value: any, text: string}[], onChoose: (value: string) => void}} props */
function Choose({ label, value, rows, onChoose }) {
    const id = useId('mill');
    return html`<div class="field"><label for=${id}>${label}</label>
        <select id=${id} value=${value} onChange=${(/** @type {any} */ e) => onChoose(e.currentTarget.value)}>
            ${rows.map((row) => html`<option key=${row.value} value=${row.value} selected=${row.value === value}>${row.text}</option>`)}</select>
    </div>`;
}

/** @param {{result: import('../lib/compute.js').Result}} props */
function Milled({ result }) {
    const [told, setTold] = useState(/** @type {{facts: any, maps: any}|null} */ (null));
    const hash = result.files['milling.json'];
    useEffect(() => {
        let isOld = false;
        setTold(null);
        if (hash) Promise.all([computation.maps(result, 'milling.json'), computation.maps(result, 'milling-map.json')])
            .then(([facts, maps]) => !isOld && setTold({ facts, maps }), () => {});
        return () => {
            isOld = true;
        };
    }, [hash]);
    if (!hash || !told) return null;
    return html`
        ${told.facts.programs.map((/** @type {any} */ program, /** @type {number} */ i) =>
            html`<${Program} key=${program.file} program=${program} maps=${told.maps.programs[i]}
                hash=${result.files[program.file]} ridge=${told.facts.scallop_mm} />`)}
        <ul class="mill-legend">
            ${STATES.slice(1, 4)
                .map((state) =>
                    html`<li key=${state.name}>
                        <span class="swatch" style=${`background: rgb(${state.colour.join(' ')})`}></span> ${state.name}</li>`)}
        </ul>
        <${Papers} names=${['milling.pdf']} />
        <h3>Before the machine starts</h3>
        <ul>${told.facts.cautions.map((/** @type {string} */ text) => html`<li key=${text}>${text}</li>`)}</ul>`;
}

/** @param {{program: any, maps: any, hash: string, ridge: number}} props */
function Program({ program, maps, hash, ridge }) {
    const isHeld = program.file.includes('NOT-RELEASED');
    return html`
        <h3>
            ${sentenceCase(program.parts.map((/** @type {any} */ part) => part.side).join(' and '))} foot ${isHeld
                && html`<span class="tag is-alarm">NOT RELEASED</span>`}
        </h3>
        <p>
            ${number(program.minutes_low, 0)} to ${number(program.minutes_high, 0)} min at the machine (without and with a full
            stop at every corner), ${program.stops} stops for a person, ${number(program.lines, 0)} lines.
            ${program.checked && hash
                ? html` Read again and cut in memory:
                passed. <a href=${api.fileAddress(hash, program.file)} download=${program.file}>${program.file}</a>`
                : ' Not checked: it cannot be had.'}
        </p>
        <div class="table-room" tabindex="0" role="region" aria-label="What the check found"><table>
            <thead>
                <tr><th scope="col">Foot</th><th scope="col">Side up</th><th scope="col" class="num">Cut into the part, mm</th>
                    <th scope="col" class="num">Highest ridge, mm</th><th scope="col" class="num">Not reached, mm</th>
                    <th scope="col" class="num">over mm2</th></tr>
            </thead>
            <tbody>
                ${program.parts.flatMap((/** @type {any} */ part) =>
                    part.views.map((/** @type {any} */ view) =>
                        html`<tr key=${`${part.side} ${view.side_of_block}`}><th scope="row">${sentenceCase(part.side)}</th>
                            <td>${view.side_of_block}</td>
                <td class="num">${number(view.cut_below_design_max_mm, 3)} <small>of 0.020</small></td>
                    <td class="num">${number(view.ridge_max_mm, 3)} <small>of ${number(ridge, 3)}</small></td>
                    <td class="num">${number(view.unreached_max_mm, 2)}</td><td class="num">${number(view.unreached_mm2, 0)}</td>
                        </tr>`))}
            </tbody>
        </table>
        </div>
        <div class="mill-maps">
            ${maps.parts.flatMap((/** @type {any} */ part) => part.views.map((/** @type {MillMap} */ view, /** @type {number} */ side) => html`
            <${MapPicture} key=${`${part.side} ${side}`} map=${view} ridge=${ridge}
                label=${`${sentenceCase(part.side)} foot, side ${side + 1} up`} />`))}
        </div>`;
}

/** @param {{map: MillMap, ridge: number, label: string}} props */
function MapPicture({ map, ridge, label }) {
    const canvas = useRef(/** @type {HTMLCanvasElement|null} */ (null));
    useEffect(() => {
        const context = canvas.current?.getContext('2d');
        if (!context) return;
        const picture = context.createImageData(map.columns, map.rows);
        for (let k = 0; k < map.columns * map.rows; k++) {
            const from = (map.rows - 1 - Math.floor(k / map.columns)) * map.columns + (k % map.columns); // Y up
            const state = Number(map.state[from]);
            const share = state === 1 ? Math.min(1, Math.max(0, (map.off_um[from] ?? 0) / (1000 * ridge))) : 0;
            STATES[state].colour.forEach((value, c) => (picture.data[4 * k + c] = value - 70 * share));
            picture.data[4 * k + 3] = state === 0 ? 0 : 255;
        }
        context.putImageData(picture, 0, 0);
    }, [map]);
    return html`<figure>
        <canvas ref=${canvas} width=${map.columns} height=${map.rows} role="img"
            aria-label=${`${label}: what is left and cut, see the table`}></canvas>
        <figcaption>${label}, heel at the left. Darker blue: higher ridge.</figcaption></figure>`;
}
