// SPDX-License-Identifier: GPL-3.0-or-later
// Orthosis: the order beside the device on its foot; solved again while a slider moves.
import { html, useState, useRef, useEffect } from '../lib/ui.js';
import { visit, computation, role, session } from '../lib/state.js';
import { api } from '../lib/api.js';
import { rangeOf } from '../lib/press.js';
import { roundAbove } from '../lib/colours.js';
import { number, quantity, keyText, keyUnit, sentenceCase, verdictParts } from '../lib/format.js';
import { deviceReason, DEVICE_KEYS, changeReason } from '../lib/reasons.js';
import { Progress } from '../parts/progress.js';
import { DeviceView } from '../parts/device_scene.js';
import { Figure, NotYet } from '../parts/figure.js';
import { Against } from '../parts/against.js';
import { Order } from '../parts/order.js';
import { TradeOff } from '../parts/trade_off.js';
import { useMesh } from '../parts/use_mesh.js';
import { Devices } from '../parts/devices.js';
import { Papers } from '../parts/papers.js';
import { Table } from '../parts/chart.js';
import { Milling } from '../parts/milling.js';
import { Press, Painting, usePressMap } from '../parts/press.js';

/** @typedef {'left'|'right'} Side */

export function Orthosis() {
    const record = visit.value;
    const [side, setSide] = useState(/** @type {Side} */ ('left'));
    if (!record) return html`<p class="empty">No visit yet: “New visit” above begins one.</p>`;
    return html`
        <${Progress} />
        <${Pair} />
        <div class="tabs" role="group" aria-label="Which foot">${/** @type {Side[]} */ (['left', 'right']).map((one) => html`
            <button type="button" aria-pressed=${one === side} onClick=${() => setSide(one)}>
                ${one === 'left' ? 'Left orthosis' : 'Right orthosis'}</button>`)}
        </div>
        <${OneOrthosis} key=${`${record.id} ${side}`} side=${side} record=${record} />
        <${Milling} record=${record} />`;
}

function Pair() {
    const plan = computation.result.value?.visit?.plan;
    const pair = computation.result.value?.visit?.pair;
    if (!plan) return null;
    const { word, reason } = verdictParts(plan.verdict);
    return html`<p class=${`release ${plan.released ? 'is-released' : 'is-held'}`}>
        <strong>${word}.</strong> ${reason}${pair && html`<span class="pair-line">${pair}</span>`}</p>`;
}

/** @param {{side: Side, record: import('../lib/record.js').EditedRecord}} props */
function OneOrthosis({ side, record }) {
    const saved = computation.result.value;
    const trial = computation.trial.value; // of one foot alone
    const shown = trial?.visit?.feet?.[side]?.orthosis ? trial : saved;
    const built = shown?.visit?.feet?.[side]?.orthosis;
    const [showFoot, setShowFoot] = useState(true);
    const [showGhost, setShowGhost] = useState(true);
    const [cut, setCut] = useState(/** @type {number|null} */ (null));
    const [painted, setPainted] = useState(/** @type {import('../lib/press.js').MapKey|''} */ (''));
    const before = useRef(/** @type {{now: any, was: any}} */ ({ now: null, was: null }));
    const name = `${side}_orthosis.mesh`;
    useEffect(() => { // a result with the same device is no newer design
        const { now, was } = before.current;
        if (saved?.files[name]) before.current = { now: saved, was: now?.files[name] === saved.files[name] ? was : now };
    }, [saved]);
    const device = useMesh(shown, name);
    const earlier = shown === trial ? saved : before.current.was;
    const ghost = useMesh(earlier, name);
    const foot = useMesh(saved, `${side}_foot.mesh`);
    const map = usePressMap(painted ? shown : null, side);
    const range = painted && map ? rangeOf(map[painted]) : null;
    const top = roundAbove(range?.high ?? 1);
    const choosePaint = (/** @type {import('../lib/press.js').MapKey|''} */ key) => {
        setPainted(key);
        setShowFoot(key === ''); // foot and ghost lie over the colours; both can be had back
        if (key) setShowGhost(false);
    };
    const length = saved?.visit?.feet?.[side]?.scan?.foot_length_mm ?? 260;
    if (!built && !record.at(`feet.${side}.scan`)) return html`<section class="card">
        <${NotYet}>an orthosis needs a scan of this foot: see “Foot”.</${NotYet}></section>`;
    return html`
        <div class="workbench">
            <section class="card order"><h2>Order</h2>
                <${Order} side=${side} record=${record} built=${built} />
            </section>
            <section class="card device-card">
                <${DeviceView} side=${side} foot=${foot} device=${device} ghost=${showGhost && ghost !== device ? ghost : null}
                    showFoot=${showFoot} cut=${cut} map=${map} painted=${painted} top=${top} />
                <${Painting} painted=${painted} onChoose=${choosePaint} range=${range} top=${top} press=${built?.press} moment=${map?.moment} />
                <div class="stage-bar">
                    <label class="pick"><input type="checkbox" checked=${showFoot} onChange=${() => setShowFoot(!showFoot)} /> foot</label>
                    <label class="pick">
                        <input type="checkbox" checked=${showGhost} onChange=${() => setShowGhost(!showGhost)} /> design before, as a ghost</label>
                    <label class="slide">
                        <span>Cut open at <strong class="reading">${cut === null ? 'nowhere' : `${number(cut, 0)} mm from the heel`}</strong></span>
                        <input type="range" min="0" max=${Math.round(length)} step="1" value=${cut ?? Math.round(length)}
                            onInput=${(/** @type {any} */ e) =>
                                setCut(Number(e.currentTarget.value) >= Math.round(length) ? null : Number(e.currentTarget.value))} />
                    </label>
                </div>
                ${showGhost && html`<${Against} side=${side} shown=${shown} earlier=${earlier} record=${record} />`}
                ${built
                    && html`<div class="figures">
                        ${DEVICE_KEYS.filter((key) => built[key] !== undefined).slice(0, 6)
                            .map((key) =>
                                html`<${Figure} key=${key} label=${sentenceCase(keyText(key))} value=${built[key]}
                                    unit=${keyUnit(key)} digits=${1} why=${deviceReason(key)} size="small" />`)}
                    </div>`}
            </section>
        </div>
        <${Effect} side=${side} shown=${shown} />
        ${built && html`<${ShoeFit} rows=${built.shoe_fit} />`}
        ${built && html`<${TradeOff} side=${side} record=${record} />`}
        ${built && html`<${Press} side=${side} built=${built} />`}
        <${Files} side=${side} built=${built} />
        ${role.value !== 'assistant' && html`<${Devices} side=${side} built=${built} />`}`;
}

/** @param {{side: Side, shown: any}} props */
function Effect({ side, shown }) {
    const change = shown?.visit?.feet?.[side]?.changes?.find((/** @type {any} */ one) => one.name === 'orthosis as ordered');
    if (!change) return null;
    const why = changeReason(change);
    return html`
        <section class="card"><h2>What it changes on the fascia</h2><div class="figures">
            <${Figure} label="Mid-stance load" value=${change.midstance_pct?.median} unit="%" digits=${1} isChange
                band=${change.midstance_pct} why=${why} />
            <${Figure} label="Impulse" value=${change.impulse_pct?.median} unit="%" digits=${1} isChange band=${change.impulse_pct} why=${why} />
            <${Figure} label="Peak" value=${change.peak_pct?.median ?? null} unit="%" digits=${1} isChange band=${change.peak_pct}
                why=${why} absent=${change.peak_pct_why ? 'not known' : 'not computed yet'} />
        </div>${change.cautions.map((/** @type {string} */ text) => html`<p class="caution">${text}</p>`)}</section>`;
}

/** The device against the shoe: what the case does not say of the shoe is not known. @param {{rows: any[]}} props */
function ShoeFit({ rows }) {
    const over = rows.filter((row) => row.over);
    return html`
        <section class="card"><h2>In the shoe${over.length > 0 && html` <span class="tag is-alarm">too large</span>`}</h2>
            <${Table} caption="The device against the shoe" head=${['What', 'Is, mm', 'Room, mm', 'Goes in?']}
                rows=${rows.map((row) => [sentenceCase(row.name), number(row.value_mm, 1),
                row.limit_mm === null ? 'not known' : number(row.limit_mm, 1),
                row.over ? 'too large' : row.limit_mm === null ? 'not known' : 'yes'])} />
            <p class="note">The shoe’s inner length and widths are asked under “Person”.</p>
        </section>`;
}

/** @param {{side: Side, built: any}} props */
function Files({ side, built }) {
    const result = computation.result.value;
    const released = result?.visit?.plan?.released;
    const names = Object.keys(result?.files ?? {}).filter((name) => /\.(stl|3mf)$/i.test(name) && name.includes(side));
    if (!result || names.length === 0) return null;
    const letters = built?.embossed
        && `On the underside: ${built.embossed}, letters of ${quantity(built.letters_mm, 'mm')} raised by ${quantity(built.raised_mm, 'mm')}`;
    return html`
        <section class="card"><h2>Files${!released && html` <span class="tag is-alarm">NOT RELEASED</span>`}</h2>
            ${!released && html`<p class="caution">What is not released says so in the file and on the sheet. See “Plan” for the open questions.</p>`}
            <ul class="files">
                ${names.map((name) => html`<li><a href=${api.fileAddress(result.files[name], name)} target="_blank" rel="noopener">${name}</a></li>`)}
            </ul>
            ${letters && html`<p class="note">${letters}. Milling leaves them out.</p>`}
            <${Papers} names=${['order.pdf']} />
            ${session.value?.clinic?.invented && html`<p class="note">Invented person.</p>`}
        </section>`;
}
