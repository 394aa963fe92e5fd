// SPDX-License-Identifier: GPL-3.0-or-later
// How the device bears the foot: colours on it with their scale, regions against their limits, cautions.
import { html, useState, useEffect, classes } from '../lib/ui.js';
import { computation } from '../lib/state.js';
import { number, sentenceCase } from '../lib/format.js';
import { MAPS, limitText, pressReason, partReason } from '../lib/press.js';
import { css, pressColour } from '../lib/colours.js';
import { Figure, Awaited } from './figure.js';
import { Scale } from './scale.js';
import { Why } from './why.js';

/** @typedef {import('../lib/press.js').MapKey} MapKey */
/** @typedef {import('../lib/press.js').PressMap} PressMap */

/** The maps of a result, null until they are there; asked for only when one is looked at. @param {import('../lib/compute.js').Result|null} of @param {'left'|'right'} side */
export function usePressMap(of, side) {
    const [map, setMap] = useState(/** @type {PressMap|null} */ (null));
    const hash = of?.files['press.json'];
    useEffect(() => {
        let isOld = false;
        const keep = (/** @type {any} */ all) => !isOld && setMap(all?.feet?.[side]?.top_mm ? all.feet[side] : null);
        if (of && hash) computation.pressMaps(of).then(keep, () => keep(null));
        else setMap(null);
        return () => {
            isOld = true;
        };
    }, [hash, side]);
    return map;
}

/** What colours the device. @param {{painted: MapKey|'', onChoose: (key: MapKey|'') => void, range: {low: number, high: number}|null, top: number, press: any, moment?: string}} props */
export function Painting({ painted, onChoose, range, top, press, moment }) {
    const map = MAPS.find((one) => one.key === painted);
    if (!press) return null;
    return html`
        <div class="tabs painting" role="group" aria-label="Colours on the device">
            <button type="button" aria-pressed=${painted === ''} onClick=${() => onChoose('')}>Shape only</button>
            ${MAPS.map((one) =>
                html`<button type="button" key=${one.key} aria-pressed=${painted === one.key} onClick=${() => onChoose(one.key)}>
                    ${one.name}</button>`)}
        </div>
        ${map && range && html`
            <${Scale} label=${map.what} low=${0} high=${top} unit=${map.unit}
                colour=${(/** @type {number} */ share) => css(pressColour(share))} marker=${range.high} />
            <p class="note">
                ${map.what} in ${moment}, ${effortText(press)}.
                Greatest ${number(range.high, map.key === 'pressure_kPa' ? 0 : 1)} ${map.unit}, at the
                mark.${range.low < -0.05 ? ` Where it rises (by up to ${number(-range.low)} ${map.unit}) the colour is that of 0.` : ''}
            </p>`}
        ${map && !range && html`<${Awaited}>the map of the device.</${Awaited}>`}`;
}

/** @param {any} press */
function effortText(press) {
    return press.effort === 'final' ? 'computed in full' : 'preview';
}

/** @param {{side: string, built: any}} props */
export function Press({ side, built }) {
    const { press } = built;
    return html`
        <section class="card" aria-label=${`How the ${side} device bears the foot`}>
            <h2>How it bears the foot ${press && html`<span class="tag">${effortText(press)}</span>`}</h2>
            ${!press && html`<${Awaited}>${built.press_why ?? 'how the device is pressed.'}</${Awaited}>`}
            ${press && html`<${Pressed} side=${side} press=${press} />`}
        </section>`;
}

/** @param {{side: string, press: any}} props */
function Pressed({ side, press }) {
    const [name, choose] = useState('mid-stance');
    const moment = press.moments.find((/** @type {any} */ one) => one.moment === name) ?? press.moments[0];
    const fatigue = press.stress_over_fatigue_limit;
    return html`
        <p class="note">
            ${press.effort === 'final' ? 'Three moments, fine net of the shell, large rotations.'
                : 'Preview while the order changes: mid-stance only, coarse net. The full computation follows when the order is kept.'}
        </p>
        ${press.cautions.map((/** @type {string} */ text) => html`<p class="caution" key=${text}>${text}</p>`)}
        <div class="tabs" role="group" aria-label="Moment">${press.moments.map((/** @type {any} */ one) => html`
            <button type="button" key=${one.moment} aria-pressed=${one === moment} onClick=${() => choose(one.moment)}>
                ${sentenceCase(one.moment)}</button>`)}
        </div>
        ${moment && html`
            <div class="figures">
                <${Figure} label="Medial arch sinks by" value=${moment.arch_sink_mm} unit="mm" digits=${1}
                    why=${pressReason('arch_sink_mm', press)} />
                <${Figure} label="Greatest stress" value=${moment.stress_max_MPa} unit="MPa" digits=${1}
                    why=${pressReason('stress_max_MPa', press)} />
                <${Figure} label="Mid-stance stress over what it bears" value=${fatigue?.median} digits=${2} band=${fatigue}
                    why=${pressReason('stress_over_fatigue_limit', press)} />
                <${Figure} label="Stiffness under the medial arch" value=${press.shell_stiffness_N_per_mm} unit="N/mm" digits=${0}
                    why=${pressReason('shell_stiffness_N_per_mm', press)} />
            </div>
            <${Regions} side=${side} moment=${moment} />`}`;
}

/** @param {{side: string, moment: any}} props */
function Regions({ side, moment }) {
    return html`
        <div class="table-room" tabindex="0" role="region" aria-label=${`Regions of the ${side} device, ${moment.moment}`}><table class="regions">
            <caption>Pressure on the foot, ${moment.moment}; the low end of a limit is held</caption>
            <thead>
                <tr><th scope="col">Region</th><th scope="col" class="num">Mean, kPa</th><th scope="col" class="num">Limit</th>
                    <th scope="col" class="num">Peak (mean over 1 cm²), kPa</th><th scope="col" class="num">Limit</th>
                    <th scope="col">Against the limits</th></tr>
            </thead>
            <tbody>
                ${moment.parts.map((/** @type {any} */ part) =>
                    html`<tr key=${part.region}>
                        <th scope="row">${sentenceCase(part.region)} <${Why} label=${sentenceCase(part.region)} ...${partReason(part)} /></th>
                <${Held} value=${part.mean_kPa} isOver=${part.over_mean_limit} limit=${limitText(part.limit, 'mean')} />
                <${Held} value=${part.peak_kPa} isOver=${part.over_peak_limit} limit=${limitText(part.limit, 'peak')} />
                <td>${verdict(part)}</td></tr>`)}</tbody></table></div>`;
}

/** @param {any} part */
function verdict(part) {
    const over = [part.over_mean_limit && 'mean', part.over_peak_limit && 'peak'].filter(Boolean).join(' and ');
    return over ? html`<span class="tag is-alarm">${over} over</span>` : 'within';
}

/** @param {{value: number, isOver: boolean, limit: string}} props */
function Held({ value, isOver, limit }) {
    return html`<td class=${classes('num', isOver && 'is-over')}>${isOver ? html`<strong>${number(value, 0)}</strong>` : number(value, 0)}</td>
        <td class="num">${limit || html`<span class="unknown">none known</span>`}</td>`;
}
