// SPDX-License-Identifier: GPL-3.0-or-later
// The device against the foot it was shaped on: gaps in figures, and on its top in colours once asked for.
import { html, useEffect, useMemo, useState } from '../lib/ui.js';
import { computation } from '../lib/state.js';
import { number, signed, sentenceCase } from '../lib/format.js';
import { deviationColours } from '../lib/compare.js';
import { css, deviationColour, roundAbove } from '../lib/colours.js';
import { gridSurface } from '../lib/press.js';
import { FootView } from './foot_scene.js';
import { Papers } from './papers.js';
import { Scale } from './scale.js';

/** @typedef {{rows: number, columns: number, top_mm: number[], gap_mm: number[]}} FitMap */

const NONE = {};

/** @param {import('../lib/compute.js').Result|null} of @param {'left'|'right'} side @param {boolean} isAsked */
function useFitMap(of, side, isAsked) {
    const [map, setMap] = useState(/** @type {FitMap|null} */ (null));
    const hash = isAsked ? of?.files['fit.json'] : undefined;
    useEffect(() => {
        let isOld = false;
        const keep = (/** @type {any} */ all) => !isOld && setMap(all?.feet?.[side]?.gap_mm ? all.feet[side] : null);
        if (of && hash) computation.maps(of, 'fit.json').then(keep, () => keep(null));
        else setMap(null);
        return () => {
            isOld = true;
        };
    }, [hash, side]);
    return map;
}

/** @param {{feet: any}} props */
export function Fit({ feet }) {
    const sides = /** @type {('left'|'right')[]} */ (['left', 'right'].filter((side) => feet[side]?.fit));
    if (sides.length === 0) return null;
    return html`
        <section class="card" aria-label="Foot against its device"><h2>Foot against its device</h2>
            ${sides.map((side) => html`<${OneFit} key=${side} side=${side} fit=${feet[side].fit} />`)}
            <p class="note">
                Shortest way from the device’s top to the skin as scanned, neither under load; corrections as ordered are in it.
                How the foot changes its shape on the device is not.
            </p>
            <${Papers} names=${['fit.pdf']} />
        </section>`;
}

/** @param {{side: 'left'|'right', fit: any}} props */
function OneFit({ side, fit }) {
    const [isShown, show] = useState(false);
    const map = useFitMap(computation.result.value, side, isShown);
    const surface = useMemo(() => map && gridSurface(map), [map]);
    const top = roundAbove(Math.max(fit.air_max_mm, fit.overlap_max_mm, 1));
    const colours = useMemo(() => map && deviationColours(new Float32Array(map.gap_mm), top), [map, top]);
    const label = `${sentenceCase(side)} device: air (+) under the skin, or inside it (−)`;
    return html`
        <h3>${side === 'left' ? 'Left device' : 'Right device'}</h3>
        <p>Half of its top lies below a gap of <strong>${signed(fit.gap_median_mm)} mm</strong>
            ; ${number(100 * fit.share_within_1_mm, 0)} of 100 places are within 1 mm.</p>
        <table class="measures">
            <thead>
                <tr><th scope="col">Part</th><th scope="col" class="num">Mean gap, mm</th>
                    <th scope="col" class="num">Most air, mm</th><th scope="col" class="num">Most inside the skin, mm</th></tr>
            </thead>
            <tbody>
                ${fit.parts.map((/** @type {any} */ part) =>
                    html`<tr key=${part.region}><th scope="row">${sentenceCase(part.region)}</th>
                        <td class="num">${signed(part.gap_mean_mm)}</td><td class="num">${number(part.air_max_mm)}</td>
                        <td class="num">${number(part.overlap_max_mm)}</td></tr>`)}
            </tbody>
        </table>
        <p>
            <button type="button" aria-expanded=${isShown} onClick=${() => show(!isShown)}>
                ${isShown ? `Hide the picture of the ${side} device` : `Show where the ${side} device touches`}</button>
        </p>
        ${isShown && html`<${FootView} side=${side} surface=${surface} colours=${colours} landmarks=${NONE} place="top" name="device" />
            <${Scale} label=${label} low=${-top} high=${top} unit="mm" colour=${(/** @type {number} */ share) => css(deviationColour(share))} />
            <p class="note">${label}, mm.</p>`}`;
}
