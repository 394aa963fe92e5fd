// SPDX-License-Identifier: GPL-3.0-or-later
// Load: the patient's own foot walking slowly, the fascia lit by tension, today and with a treatment.
import { html, useState, useEffect, useMemo, classes } from '../lib/ui.js';
import { visit, computation } from '../lib/state.js';
import { number, signed, bandText, sentenceCase, quantity } from '../lib/format.js';
import { loadReason, changeReason } from '../lib/reasons.js';
import { poseAt, curveIndex } from '../lib/walk.js';
import { css, tensionColour, roundTop } from '../lib/colours.js';
import { Progress } from '../parts/progress.js';
import { WalkView } from '../parts/walk_scene.js';
import { Figure, Awaited } from '../parts/figure.js';
import { Scale } from '../parts/scale.js';
import { Chart, Table } from '../parts/chart.js';
import { Why } from '../parts/why.js';
import { Drivers, Levers, Day } from '../parts/drivers.js';
import { useMesh } from '../parts/use_mesh.js';
import { Papers } from '../parts/papers.js';

/** @typedef {'left'|'right'} Side */
/** @typedef {import('../lib/types.d.ts').WalkFoot} WalkFoot */

const FRAME_MS = 180; // one solved instant after the other: about six seconds a step
const REST_FRAMES = 4; // at the end of a step

export function Load() {
    const record = visit.value;
    const result = computation.result.value;
    const feet = result?.visit?.feet ?? {};
    const walks = result?.walk?.feet ?? {};
    const sides = /** @type {Side[]} */ (['left', 'right'].filter((side) => walks[side]?.today));
    const [side, setSide] = useState(/** @type {Side} */ ('left'));
    const shown = sides.includes(side) ? side : sides[0];
    if (!record) return html`<p class="empty">No visit yet: “New visit” above begins one.</p>`;
    return html`
        <${Progress} />
        ${!shown && html`<${Missing} feet=${feet} walks=${walks} />`}
        ${sides.length > 1 && html`<div class="tabs" role="group" aria-label="Which foot">${sides.map((one) => html`
            <button type="button" aria-pressed=${one === shown} onClick=${() => setSide(one)}>
                ${one === 'left' ? 'Left foot' : 'Right foot'}</button>`)}
        </div>`}
        ${shown && html`<${OneLoad} key=${shown} side=${shown} of=${feet[shown]} walk=${walks[shown]} findings=${record.draft.value} />`}`;
}

/** @param {{feet: any, walks: any}} props */
function Missing({ feet, walks }) {
    return html`<section class="card"><${Awaited}>the load needs a scan or measures of the foot, and a body mass.</${Awaited}>
        ${['left',
            'right'].map((side) =>
                (walks[side]?.why ?? feet[side]?.load_why) && html`<p>${sentenceCase(side)} foot: ${walks[side]?.why ?? feet[side]?.load_why}</p>`)}
    </section>`;
}

/** Counts through the solved instants. @param {number} count */
function useSteps(count) {
    const isCalm = matchMedia('(prefers-reduced-motion: reduce)').matches;
    const [isPlaying, play] = useState(!isCalm);
    const [at, go] = useState(isCalm ? Math.round(count / 2) : 0); // standing still: in mid-stance
    useEffect(() => {
        if (!isPlaying || count === 0) return undefined;
        const timer = setInterval(() => go((now) => (now + 1) % (count + REST_FRAMES)), FRAME_MS);
        return () => clearInterval(timer);
    }, [isPlaying, count]);
    return { at: Math.min(at, count - 1), go, isPlaying, play };
}

/** @param {{side: Side, of: any, walk: WalkFoot, findings: any}} props */
function OneLoad({ side, of, walk, findings }) {
    const surface = useMesh(computation.result.value, `${side}_foot.mesh`);
    const solved = useMemo(() => walk.today.poses.filter((pose) => pose.solved), [walk]);
    const { at, go, isPlaying, play } = useSteps(solved.length);
    const best = useMemo(() => strongest(of.changes), [of]);
    const [withName, choose] = useState(best);
    const change = of.changes.find((/** @type {any} */ one) => one.name === withName) ?? of.changes[0];
    const arm = walk.changes.find((one) => one.name === change?.name);
    const pose = solved[at] ?? null;
    const other = pose && arm ? poseAt(arm.poses, pose.percent) : null;
    const top = useMemo(() => roundTop(Math.max(...[walk.today, ...walk.changes].flatMap((one) => one.poses.filter((p) => p.solved).map(sumOf)))),
        [walk]);
    const heelDown = Math.min(...solved.map((one) => one.heel_height_mm));
    const now = pose ? sumOf(pose) : 0;
    const then = other ? sumOf(other) : null;
    return html`
        <section class="card stage">
            <p class="stage-says">
                The band under the foot is the plantar fascia; the redder it is, the harder it is pulled. Left: today. Right: the
                same step with the treatment chosen.
            </p>
            <div class="walks">
                <div><${WalkView} side=${side} foot=${walk} surface=${surface} pose=${pose} top=${top} title="Today" />
                    <${Pull} tension=${now} /></div>
                <div>
                    <${WalkView} side=${side} foot=${walk} surface=${surface} pose=${other} top=${top}
                        title=${`With ${change?.name ?? 'a treatment'}`} drawn=${arm?.drawn} />
                    <${Pull} tension=${then} against=${now} /></div>
            </div>
            <div class="stage-bar">
                <button type="button" class="main" onClick=${() => play(!isPlaying)} aria-pressed=${isPlaying}>
                    ${isPlaying ? 'Pause' : 'Walk'}</button>
                <label class="slide">
                    <span>Instant: <strong class="reading">${number(pose?.percent ?? 0)} % of stance</strong>, ${phaseOf(pose, heelDown)}</span>
                    <input type="range" min="0" max=${solved.length - 1} step="1" value=${at}
                        aria-valuetext=${`${number(pose?.percent ?? 0)} % of stance, ${number(now, 2)} body weights`}
                        onInput=${(/** @type {any} */ e) => { play(false); go(Number(e.currentTarget.value)); }} /></label>
                <div class="field"><label for="compare">Compare with</label>
                    <select id="compare" value=${change?.name} onChange=${(/** @type {any} */ e) => choose(e.currentTarget.value)}>
                    ${of.changes.map((/** @type {any} */ one) =>
                        html`<option value=${one.name} selected=${one.name === change?.name}>${one.name}</option>`)}
                    </select>
                </div>
            </div>
            <${Verdict} change=${change} />
            <${Scale} label="Tension of the fascia" low=${0} high=${top} unit="body weights"
                colour=${(/** @type {number} */ share) => css(tensionColour(share))} marker=${now} />
            <p class="note">
                Every picture is a solved instant of one set of tissue properties (the one nearest the median,
                set ${walk.member + 1}); nothing between two is drawn. Skin bends by a choice of the picture; bones and fascia
                stand as solved. Shell (blue-green) and raise stand on the floor here and stay there when the heel has risen;
                tape is drawn as three violet bands.
            </p>
        </section>
        <div class="figures">
            <${Figure} label="Peak tension" value=${of.peak_bw?.median} unit="bw" digits=${2} band=${of.peak_bw}
                why=${loadReason('peak', of, findings)} />
            <${Figure} label="Mid-stance" value=${of.midstance_bw?.median} unit="bw" digits=${2} band=${of.midstance_bw}
                why=${loadReason('midstance', of, findings)} />
            <${Figure} label="Peak comes at" value=${of.peak_percent?.median} unit="percent" digits=${0} band=${of.peak_percent}
                why=${loadReason('peak_percent', of, findings)} />
            <${Figure} label="Arch flattens now by" value=${pose?.rays_deg[0]} unit="deg" digits=${1}
                why=${{ what: 'First ray against the hindfoot at this instant, head up.',
                    inputs: [`${number(pose?.percent ?? 0)} % of stance`], formula: 'solved angle of ray 1',
                    source: 'model of docs/mechanics.md', uncertainty: 'of one tissue set, the one drawn' }} />
        </div>
        <${Curve} of=${of} arm=${arm} change=${change} percent=${pose?.percent ?? 0} />
        <${Changes} of=${of} chosen=${change?.name} onChoose=${choose} />
        <${Drivers} of=${of} />
        <${Levers} of=${of} />
        <${Day} of=${of} findings=${findings} />
        <details class="card"><summary>What was taken for granted</summary>
            <ul>${of.assumptions.map((/** @type {string} */ text) => html`<li>${text}</li>`)}</ul></details>
        <section class="card"><h2>On paper</h2><${Papers} names=${['load.pdf']} /></section>`;
}

/** Where in the step; the heel stands `low` mm high where it is down, on a shoe's pitch. @param {{percent: number, heel_height_mm: number}|null} pose @param {number} low */
function phaseOf(pose, low) {
    if (!pose) return '';
    if (pose.heel_height_mm > low + 2 && pose.percent > 50) return 'heel up, pushing off';
    return pose.percent < 30 ? 'landing' : 'foot flat';
}

/** What the chosen treatment does to this step, in a sentence. @param {{change: any}} props */
function Verdict({ change }) {
    if (!change) return null;
    const say = (/** @type {any} */ band) =>
        (band ? html`<strong>${signed(band.median, 0)}\u00a0%</strong> (${bandText(band, 0, true)})` : html`<strong>not known</strong>`);
    return html`<p class="verdict">
        <strong>${sentenceCase(change.name)}:</strong> pull while the foot is flat ${say(change.midstance_pct)}, hardest
            pull ${say(change.peak_pct)}, over the whole step ${say(change.impulse_pct)}.${' '}
        ${change.post_idle && html`<strong>The forefoot post ends behind the metatarsal heads and lifts nothing there: it is left out.</strong> `}
        ${change.midstance_pct
            && html`A tenth less or more while flat in ${quantity(100 * change.chance_midstance_falls_a_tenth, '%', 0)} of what
            may be true of this tissue; grade ${change.grade}.`}
    </p>`;
}

/** @param {{slips_bw: number[]}} pose */
function sumOf(pose) {
    return pose.slips_bw.reduce((sum, one) => sum + one, 0);
}

/** The change that takes most load away in mid-stance. @param {any[]} changes */
function strongest(changes) {
    return [...changes].filter((one) => one.midstance_pct).sort((a, b) => a.midstance_pct.median - b.midstance_pct.median)[0]?.name;
}

/** The pull at this instant, as a number and a bar. @param {{tension: number|null, against?: number}} props */
function Pull({ tension, against }) {
    if (tension === null) return html`<p class="pull"><span class="figure-absent">not solved at this instant</span></p>`;
    return html`<p class="pull"><strong>${number(tension, 2)}<small></small></strong><span>times the body’s weight</span>
        ${against !== undefined && against > 0
            && html`<span class="pull-change">${signed((100 * (tension - against)) / against, 0)} % at this instant</span>`}
    </p>`;
}

/** @param {{of: any, arm: any, change: any, percent: number}} props */
function Curve({ of, arm, change, percent }) {
    const top = roundTop(Math.max(...of.stance.map((/** @type {any} */ point) => (point.computed ? point.tension_bw.p95 : 0))));
    const known = (/** @type {any} */ point, /** @type {string} */ key) => (point.computed ? point.tension_bw[key] : null);
    const x = of.stance.map((/** @type {any} */ point) => point.percent);
    const withArm = x.map((/** @type {number} */ p) => (of.stance[curveIndex(p)]?.computed ? arm?.tension_bw[curveIndex(p)]?.[1] ?? null : null));
    const lines = [
        { name: 'Today, with its band', values: of.stance.map((/** @type {any} */ p) => known(p, 'median')),
            low: of.stance.map((/** @type {any} */ p) => known(p, 'p05')),
            high: of.stance.map((/** @type {any} */ p) => known(p, 'p95')), colour: 'series-1' },
        ...(arm ? [{ name: `With ${change.name}`, values: withArm, colour: 'series-2', isDashed: true }] : []),
    ];
    const rows = of.stance.filter((/** @type {any} */ p) => p.computed)
        .map((/** @type {any} */ p) =>
            [`${number(p.percent)} %`, number(p.tension_bw.median, 3), bandText(p.tension_bw, 3),
                arm ? number(arm.tension_bw[curveIndex(p.percent)]?.[1] ?? NaN, 3) : '']);
    return html`<section class="card">
        <${Chart} title="Tension through one step" x=${x} xName="stance, %" yName="body weights" lines=${lines} yRange=${[0, top]}
            marks=${[{ at: Math.round(percent), name: '' }]}
        table=${html`<${Table} caption="Tension of the plantar fascia through stance, body weights"
            head=${['Stance', 'Today', '5th to 95th percentile', arm ? `With ${change.name}` : '']} rows=${rows} />`} />
        ${isSlackLate(of.stance) && html`<p class="note">${SLACK_LATE}</p>`}
    </section>`;
}

const SLACK_LATE = 'At the end of push-off the band reaches almost down to nothing: in some of the tissue sets that fit the published '
    + 'results the fascia has all but let go by then, in most it has not. Which is true of this foot is not known.';

/** Whether the last instants' low edge has fallen away from the middle. @param {any[]} stance */
function isSlackLate(stance) {
    const last = stance.filter((one) => one.computed).at(-1);
    return last && last.tension_bw.p05 < 0.25 * last.tension_bw.median;
}

/** @param {{of: any, chosen: string, onChoose: (name: string) => void}} props */
function Changes({ of, chosen, onChoose }) {
    const all = of.changes.flatMap((/** @type {any} */ one) =>
        [one.midstance_pct, one.peak_pct, one.impulse_pct].filter(Boolean).flatMap((band) => [band.p05, band.p95]));
    const reach = /** @type {[number, number]} */ ([Math.min(-10, ...all), Math.max(5, ...all)]);
    const byHelp = [...of.changes].sort((a, b) => (a.midstance_pct?.median ?? 1e3) - (b.midstance_pct?.median ?? 1e3));
    const row = (/** @type {any} */ one) => html`<tr class=${classes(one.name === chosen && 'is-chosen')}>
        <th scope="row">
            <span class="change-name">
                <button type="button" class="quiet" aria-pressed=${one.name === chosen} onClick=${() => onChoose(one.name)}>
                    ${sentenceCase(one.name)}</button>
                <${Why} label=${one.name} ...${changeReason(one)} /></span>
            <small class="change-from">${one.numbers_from}</small></th>
        <td><${Bar} band=${one.midstance_pct} reach=${reach} /></td>
        <td><${Bar} band=${one.peak_pct} reach=${reach} why=${one.midstance_pct ? undefined : one.peak_pct_why} /></td>
        <td><${Bar} band=${one.impulse_pct} reach=${reach} /></td>
        <td>${one.midstance_pct ? quantity(100 * one.chance_midstance_falls_a_tenth, '%', 0) : ''}</td>
            <td><span class="grade">${one.grade}</span></td>
    </tr>`;
    const group = (/** @type {string} */ name, /** @type {any[]} */ rows) =>
        rows.length > 0 && html`<tbody><tr class="group"><th scope="rowgroup" colspan="6">${name}</th></tr>${rows.map(row)}</tbody>`;
    return html`
        <section class="card"><h2>What each treatment changes</h2>
            <div class="table-room" tabindex="0" role="region" aria-label="What each treatment changes">
                <table class="changes">
                    <thead>
                        <tr><th scope="col">Treatment</th><th scope="col">Foot flat (30 to 55 %)</th>
                            <th scope="col">Hardest pull</th><th scope="col">Whole step</th>
                            <th scope="col">A tenth less, or more</th><th scope="col">Grade</th></tr>
                    </thead>
                ${group('One treatment',
                    byHelp.filter((one) => !one.combined))}${group('Several together: run as such, effects do not add',
                    byHelp.filter((one) => one.combined))}
                </table>
            </div>
            <p class="note">
                Change of the pull, per cent, median and 5th to 95th percentile, the treatment’s own uncertainty in it; left of
                the line is less. A: agrees with measurements it was not fitted to; B: rests on one set of data; C: patched or
                contradicted. <strong>Not known</strong>
                , where a device is worn: what it does at push-off, where the pull is hardest; “?” beside the treatment says why.
                Load is not pain: less load does not promise less pain.
            </p>
        </section>`;
}

/** A band as a bar about zero, its number beside it. @param {{band: any, reach: [number, number], why?: string}} props */
export function Bar({ band, reach, why }) {
    if (!band) return html`<span class="later">not known${why && html`<br /><small>${why}</small>`}</span>`;
    const at = (/** @type {number} */ value) => 3 + (114 * (value - reach[0])) / (reach[1] - reach[0]);
    const [a, b] = [at(band.p05), at(band.p95)];
    return html`<span class="bar">
        <svg viewBox="0 0 120 20" preserveAspectRatio="xMidYMid meet" aria-hidden="true">
            <path class="zero" d=${`M${at(0)} 1V19`} />
            <rect class=${band.median < 0 ? 'less' : 'more'} x=${Math.min(a, b)} y="6" width=${Math.max(2, Math.abs(b - a))} height="8" rx="3" />
            <circle cx=${at(band.median)} cy="10" r="3" /></svg>
        <span><strong>${signed(band.median, 0)} %</strong> <small>${bandText(band, 0, true)}</small></span></span>`;
}
