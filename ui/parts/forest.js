// SPDX-License-Identifier: GPL-3.0-or-later
// A forest plot: each trial with its interval, the pooled effect as a diamond; the same as a table.
import { html } from '../lib/ui.js';
import { number, plural } from '../lib/format.js';
import { Why } from './why.js';
import { Table } from './chart.js';

const ROW = 30;
const [LEFT, WIDE, RIGHT] = [270, 330, 620]; // of the picture: names, axis, numbers

/** The effect of a trial, on its pool's scale where it stands in one. @param {any} trial @param {boolean} [isRatio] */
export function effectOf(trial, isRatio) {
    const [first, second] = isRatio ? [trial.odds_ratio_of_good, null]
        : [trial.standardised_better, isRatio === undefined ? trial.odds_ratio_of_good : null];
    return first ?? second ?? null;
}

/** @param {any} effect @param {number} digits */
function text(effect, digits = 2) {
    return `${number(effect.estimate, digits)} (${number(effect.low, digits)} to ${number(effect.high, digits)})`;
}

/** @param {{pool: any, trials: any[]}} props */
export function Forest({ pool, trials }) {
    const isRatio = pool.is_ratio;
    const rows = trials.filter((trial) => pool.trials.includes(trial.id) && effectOf(trial, isRatio));
    const left = html`<${LeftOut} pool=${pool} trials=${trials} />`;
    if (pool.methods.length === 0) return html`<section class="card"><h2>${pool.pool}</h2>${left}</section>`;
    const to = (/** @type {number} */ value) => (isRatio ? Math.log(value) : value);
    const pooled = pool.methods.filter((/** @type {any} */ one) => one.method === 'common effect' || one.method === 'REML');
    const ends = [...rows.map((trial) => effectOf(trial, isRatio)), ...pooled].flatMap((one) => [to(one.low), to(one.high)]);
    const [low, high] = [Math.max(-4, Math.min(-0.2, ...ends)), Math.min(4, Math.max(0.2, ...ends))];
    const x = (/** @type {number} */ value) => LEFT + (WIDE * (Math.min(high, Math.max(low, to(value))) - low)) / (high - low);
    const none = isRatio ? 1 : 0;
    const reml = pool.methods.find((/** @type {any} */ one) => one.method === 'REML') ?? pool.methods[0];
    const height = (rows.length + pooled.length) * ROW + 34;
    return html`
        <section class="card"><h2>${pool.pool} <small>${pool.scale}</small>
                <${Why} label=${`Pooled: ${pool.pool}`} what="What the trials say together."
                    inputs=${rows.map((trial) => trial.source)}
                    formula="inverse variance; spread between trials by REML; second interval after Hartung and Knapp"
                    source=${rows.map((trial) => trial.status).join(', ')}
                    uncertainty=${`${plural(rows.length, 'trial')}; I² ${number(reml.i2_percent, 0)} %, τ² ${number(reml.tau2,
                        3)}; Hartung and Knapp ${number(reml.hartung_knapp_low, 2)} to ${number(reml.hartung_knapp_high,
                        2)}. ${pool.asymmetry ?? ''}`} />
        </h2>
            <svg class="forest" viewBox=${`0 0 800 ${height}`} role="img"
                aria-label=${`${pool.pool}: ${pooled.map((/** @type {any} */ one) => `${one.method} ${text(one)}`).join('; ')}`}>
                <path class="grid" d=${`M${x(none)} 0V${height - 24}`} />
                <text x=${x(none)} y=${height - 6} text-anchor="middle">${none}: no difference</text>
                    <text x=${LEFT + WIDE} y=${height - 6} text-anchor="end">better with it →</text>
                ${rows.map((trial, i) => {
                    const effect = effectOf(trial, isRatio);
                    const y = i * ROW + 16;
                    return html`<text x=${LEFT - 12} y=${y + 5} text-anchor="end">
                        ${`${trial.source.split(' ').slice(0, 2).join(' ')}, week ${trial.weeks}`}</text>
                        <path class="whisker" d=${`M${x(effect.low)} ${y}H${x(effect.high)}`} />
                            <rect x=${x(effect.estimate) - 5} y=${y - 5} width="10" height="10" />
                            <text x=${RIGHT} y=${y + 5}>${text(effect)}</text>`;
                })}
                ${pooled.map((/** @type {any} */ one, /** @type {number} */ i) => {
                    const y = (rows.length + i) * ROW + 16;
                    return html`<text class="name" x=${LEFT - 12} y=${y + 5} text-anchor="end">
                        ${one.method === 'REML' ? 'random effects (REML)' : one.method}</text>
                        <path class="diamond"
                            d=${`M${x(one.low)} ${y}L${x(one.estimate)} ${y - 8}L${x(one.high)} ${y}L${x(one.estimate)} ${y + 8}Z`} />
                            <text class="name" x=${RIGHT} y=${y + 5}>${text(one)}</text>`;
                })}
            </svg>
            ${left}
            ${reml.prediction_low !== undefined
                && html`<p>
                    A new trial’s true effect would lie
                    between ${number(reml.prediction_low, 2)} and ${number(reml.prediction_high, 2)} (95 % prediction
                    interval).
                </p>`}
            ${(pool.without ?? []).length > 0
                && html`<details><summary>Without one trial at a time</summary>
                    <${Table} caption=${`Pooled effect (REML) without one trial: ${pool.pool}`} head=${['Left out', 'Effect']}
                        rows=${pool.without.map((/** @type {any} */ one) =>
                            [trials.find((trial) => trial.id === one.trial)?.source ?? one.trial, text(one)])} />
                </details>`}
            <details><summary>The same as a table, all methods</summary>
                <${Table} caption=${`Pooled effect: ${pool.pool}`} head=${['Method', 'Effect', 'p', 'Hartung and Knapp', 'I²', 'τ²']}
                rows=${pool.methods.map((/** @type {any} */ one) =>
                    [one.method, text(one), number(one.p, 4),
                        `${number(one.hartung_knapp_low, 2)} to ${number(one.hartung_knapp_high, 2)}`,
                        `${number(one.i2_percent, 0)} %`, number(one.tau2, 3)])} />
                ${(pool.without_answer ?? []).map((/** @type {any} */ one) => html`<p class="note">${one.method}: no answer, ${one.why}.</p>`)}
                ${(pool.tables ?? []).length > 0
                    && html`<${Table}
                        caption="Pooled as tables of counts, one true effect: Peto’s suits rare events and arms of like size"
                        head=${['Method', 'Effect', 'p']}
                        rows=${pool.tables.map((/** @type {any} */ one) => [one.method, text(one), number(one.p, 4)])} />`}
                <p class="note">Small trials against large: ${pool.asymmetry}.</p><p class="note">Over the weeks of follow-up: ${pool.horizon}.</p>
            </details>
        </section>`;
}

/** Trials named for a pool that are not in it, and why. @param {{pool: any, trials: any[]}} props */
function LeftOut({ pool, trials }) {
    return (pool.left_out ?? []).map((/** @type {any} */ one) =>
        html`<p class="caution">Not in this pool: ${trials.find((trial) => trial.id === one.trial)?.source ?? one.trial}, ${one.why}.</p>`);
}
