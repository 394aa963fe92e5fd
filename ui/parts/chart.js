// SPDX-License-Identifier: GPL-3.0-or-later
// A line chart with a band, and always the same numbers as a table under it.
import { html, useEffect, useRef } from '../lib/ui.js';
import uPlot from '../vendor/uplot.js';

/** @typedef {{name: string, values: (number|null)[], colour: string, isDashed?: boolean, isDotted?: boolean, low?: (number|null)[], high?: (number|null)[], hasPoints?: boolean}} Line */

/** A colour of the theme. @param {string} name */
export function themeColour(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

/** @param {string} colour @param {string} share */
function faint(colour, share) {
    return `color-mix(in srgb, ${colour} ${share}, transparent)`;
}

/** @param {Line[]} lines @param {number[]} x */
function dataOf(lines, x) {
    const data = [x];
    for (const line of lines) {
        data.push(/** @type {any} */ (line.values));
        if (line.low && line.high) data.push(/** @type {any} */ (line.high), /** @type {any} */ (line.low));
    }
    return data;
}

/** @param {Line[]} lines */
function seriesOf(lines) {
    /** @type {any[]} */
    const series = [{}];
    /** @type {any[]} */
    const bands = [];
    for (const line of lines) {
        const colour = themeColour(line.colour);
        series.push({ label: line.name, stroke: colour, width: 2.5, dash: line.isDotted ? [2, 4] : line.isDashed ? [8, 5] : undefined,
            points: { show: !!line.hasPoints, size: 9, fill: colour } });
        if (!line.low || !line.high) continue;
        const at = series.length;
        series.push({ stroke: 'transparent', points: { show: false } }, { stroke: 'transparent', points: { show: false } });
        bands.push({ series: [at, at + 1], fill: faint(colour, '22%') });
    }
    return { series, bands };
}

/**
 * @param {{title: string, x: number[], xName: string, yName: string, lines: Line[], height?: number, yRange?: [number, number], xRange?: [number, number],
 *   marks?: {at: number, name: string}[], table: any, onPick?: (x: number) => void}} props
 */
export function Chart({ title, x, xName, yName, lines, height = 240, yRange, xRange, marks = [], table, onPick }) {
    const host = useRef(/** @type {HTMLDivElement|null} */ (null));
    const key = JSON.stringify([x, lines, marks, yRange, xRange]);
    useEffect(() => {
        const box = host.current;
        if (!box) return undefined;
        const ink = themeColour('ink-2');
        const grid = { stroke: themeColour('line'), width: 1 };
        const axis = { stroke: ink, grid, ticks: grid, font: '14px system-ui, sans-serif', labelFont: '14px system-ui, sans-serif' };
        const { series, bands } = seriesOf(lines);
        const plot = new uPlot({
            width: box.clientWidth || 600, height, series, bands, legend: { show: false },
            cursor: { drag: { x: false, y: false }, points: { show: false } },
            scales: { x: xRange ? { time: false, range: xRange } : { time: false }, y: yRange ? { range: yRange } : {} },
            axes: [{ ...axis, label: xName, labelSize: 22 }, { ...axis, label: yName, labelSize: 24, size: 56 }],
            hooks: { draw: [(/** @type {any} */ u) => drawMarks(u, marks, ink)] },
        }, /** @type {any} */ (dataOf(lines, x)), box);
        if (onPick) plot.over.addEventListener('click', () => onPick(plot.posToVal(plot.cursor.left ?? 0, 'x')));
        const watch = new ResizeObserver(() => plot.setSize({ width: box.clientWidth, height }));
        watch.observe(box);
        return () => {
            watch.disconnect();
            plot.destroy();
        };
    }, [key, document.documentElement.dataset.theme]);
    return html`
        <figure class="chart">
            <figcaption>${title}</figcaption>
            <div class="legend">
                ${lines.map((line) =>
                    html`<span>
                        <i class=${`key key-${line.colour} ${line.isDotted ? 'is-dotted' : line.isDashed ? 'is-dashed' : ''}`}></i>
                        ${line.name}</span>`)}
            </div>
            <div ref=${host} class="plot" aria-hidden="true"></div>
            <details><summary>The same as a table</summary>${table}</details>
        </figure>`;
}

/** Upright lines with a word. @param {any} u @param {{at: number, name: string}[]} marks @param {string} ink */
function drawMarks(u, marks, ink) {
    const { ctx } = u;
    ctx.save();
    ctx.strokeStyle = ink;
    ctx.fillStyle = ink;
    ctx.font = `${13 * devicePixelRatio}px system-ui, sans-serif`;
    ctx.setLineDash([4, 4]);
    for (const mark of marks) {
        const at = u.valToPos(mark.at, 'x', true);
        if (at < u.bbox.left || at > u.bbox.left + u.bbox.width) continue;
        ctx.beginPath();
        ctx.moveTo(at, u.bbox.top);
        ctx.lineTo(at, u.bbox.top + u.bbox.height);
        ctx.stroke();
        ctx.fillText(mark.name, at + 4 * devicePixelRatio, u.bbox.top + 14 * devicePixelRatio);
    }
    ctx.restore();
}

/** A plain table of the same numbers. @param {{caption: string, head: string[], rows: any[][]}} props */
export function Table({ caption, head, rows }) {
    return html`
        <div class="table-room" tabindex="0" role="region" aria-label=${caption}>
            <table><caption>${caption}</caption>
                <thead><tr>${head.map((name) => html`<th scope="col">${name}</th>`)}</tr></thead>
                <tbody>
                    ${rows.map((row) =>
                        html`<tr>${row.map((cell, i) => (i === 0 ? html`<th scope="row">${cell}</th>` : html`<td>${cell}</td>`))}</tr>`)}
                </tbody>
            </table>
        </div>`;
}
