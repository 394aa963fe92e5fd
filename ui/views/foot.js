// SPDX-License-Identifier: GPL-3.0-or-later
// Foot: a scan dropped, cleaned, confirmed; landmarks and measures; one foot against the other.
import { html } from '../lib/ui.js';
import { visit, person, computation } from '../lib/state.js';
import { api } from '../lib/api.js';
import { number, keyText, keyStem, keyUnit, unitText, sentenceCase } from '../lib/format.js';
import { MEASURE_KEYS, measureReason, halfWidth } from '../lib/reasons.js';
import { withValue } from '../lib/paths.js';
import { address } from '../lib/router.js';
import { Progress } from '../parts/progress.js';
import { Inferred, Say } from '../parts/foot_inferred.js';
import { Landmarks } from '../parts/foot_landmarks.js';
import { Upload } from '../parts/upload.js';
import { Why } from '../parts/why.js';
import { SideMark } from '../parts/figure.js';
import { ChoiceField, NumberField } from '../parts/field.js';
import { Fit } from '../parts/foot_fit.js';
import { Compare, AgainstLast } from '../parts/foot_compare.js';

/** @typedef {'left'|'right'} Side */

const SIDES = /** @type {Side[]} */ (['left', 'right']);
const KINDS = '.stl,.obj,.ply,.3mf,.xyz,.txt,.gz';

export function Foot() {
    const record = visit.value;
    if (!record) return html`<p class="empty">No visit yet: “New visit” above begins one.</p>`;
    const feet = computation.result.value?.visit?.feet ?? {};
    return html`
        <${Progress} />
        ${['left', 'right'].some((side) => record.at(`feet.${side}.scan`)) && html`<${Chain} feet=${feet} />`}
        <div class="feet">${SIDES.map((side) => html`<${OneFoot} side=${side} record=${record} of=${feet[side]} key=${side} />`)}</div>
        ${feet.left?.scan && feet.right?.scan && html`<${Compare} left=${feet.left} right=${feet.right} />`}
        <${Fit} feet=${feet} />
        <${AgainstLast} record=${record} />`;
}

/** What a scan leads to, and how far it has come. @param {{feet: any}} props */
function Chain({ feet }) {
    const of = SIDES.map((side) => feet[side]).filter((foot) => foot?.scan);
    const has = (/** @type {string} */ key) => of.length > 0 && of.every((foot) => foot[key]);
    const steps = [
        { name: 'Measures', area: 'foot', isDone: has('measures') }, { name: 'Load', area: 'load', isDone: has('peak_bw') },
        { name: 'Orthosis', area: 'orthosis', isDone: has('orthosis') },
        { name: 'Plan', area: 'plan', isDone: !!computation.result.value?.visit?.plan },
    ];
    return html`<ol class="chain">
        ${steps.map((step) =>
            html`<li class=${step.isDone ? 'is-done' : ''}>
                <a href=${address(step.area, person.value?.id)}>${step.name}: ${step.isDone ? 'computed' : 'not yet'}</a></li>`)}
    </ol>`;
}

/** No answer is on its way any more: it was refused, or asks. */
function isAnswered() {
    return computation.job.value === null && computation.trouble.value !== '';
}

/** @param {{side: Side, record: import('../lib/record.js').EditedRecord, of: any}} props */
function OneFoot({ side, record, of }) {
    const given = record.at(`feet.${side}.scan`);
    const scan = given ? of?.scan : null;
    return html`
        <section class="card foot-card" aria-label=${`${side} foot`}>
            <h2><${SideMark} side=${side} />${given?.name && html`<small class="file-name">${given.name}</small>`}</h2>
            ${!given && html`<${Drop} side=${side} record=${record} isSmall=${false} />`}
            ${given && scan && html`<${Inferred} side=${side} record=${record} scan=${scan} />`}
            ${given && !scan && isAnswered() && html`<${Say} side=${side} record=${record} />`}
            ${scan && html`<${Landmarks} side=${side} scan=${scan} record=${record} />`}
            ${of?.measures && html`<${Measures} measures=${{ ...scan, ...of.measures }} scan=${scan} side=${side} sex=${record.at('person.sex')} />`}
            ${given && html`<${Drop} side=${side} record=${record} isSmall />`}
            ${!given && html`<${Typed} side=${side} record=${record} />`}
        </section>`;
}

/** @param {{side: Side, record: import('../lib/record.js').EditedRecord, isSmall: boolean}} props */
function Drop({ side, record, isSmall }) {
    const take = async (/** @type {File} */ file) => {
        computation.times.value = { dropped: performance.now() };
        const got = await api.addFile(/** @type {any} */ (person.peek()).id, file);
        // A new scan is a new foot: what was confirmed of the old one does not hold.
        const foot = withValue(withValue(record.at(`feet.${side}`) ?? {}, 'measures', undefined), 'scan',
            { file: got.file, name: got.name ?? file.name });
        record.set(`feet.${side}`, foot);
        record.save();
        return `${number(got.triangles, 0)} triangles read; being cleaned and measured.`;
    };
    return html`<${Upload}
        label=${isSmall ? `Another scan of the ${side} foot` : `Drop a scan of the ${side} foot here, or choose a file`}
        kinds=${KINDS} isSmall=${isSmall} onTake=${take}
        note="STL, OBJ, PLY, 3MF or points as XYZ text, also gzip; any unit, any pose" />`;
}

/** Where a measure lies among people, in words. @param {any} percentile @param {string} key @param {string|undefined} sex */
function amongPeople(percentile, key, sex) {
    const of = percentile?.[keyStem(key)];
    if (!of) return '';
    const one = (/** @type {string} */ who) => `${number(of[who], 0)} of 100 ${who}`;
    return { female: one('women'), male: one('men') }[sex ?? ''] ?? `${one('women')}, ${one('men')}`;
}

/** @param {any} value @param {string} key @param {any} scan */
function measured(value, key, scan) {
    if (value !== null && value !== undefined) return html`<strong>${number(value, /index/.test(key) ? 3 : 1)}</strong> ${unitText(keyUnit(key))}`;
    const why = scan?.unknown_because?.[keyStem(key)];
    return html`<span class="unknown">unknown${why && `: ${why}`}</span>`;
}

/** Half of the 95 % interval over repetitions of the measuring, where it was asked for; or that a landmark was moved. @param {any} scan @param {string} key */
function spreadText(scan, key) {
    const found = scan?.by_hand?.measures_found ?? {};
    if (key in found) return html`<span class="by-hand">by hand</span>
        ; found: ${found[key] === null ? 'unknown' : `${number(found[key], /index/.test(key) ? 3 : 1)} ${unitText(keyUnit(key))}`}`;
    const half = halfWidth(scan, key);
    if (half === null) return html`<span class="later">${scan?.spread ? 'unknown' : 'not computed yet'}</span>`;
    return html`±${number(half, /index/.test(key) ? 3 : 1)} ${unitText(keyUnit(key))}`;
}

/** @param {{measures: any, scan: any, side: Side, sex: string|undefined}} props */
function Measures({ measures, scan, side, sex }) {
    const sizes = measures.shoe_sizes_about;
    return html`
        <table class="measures"><caption class="unseen">Measures of the ${side} foot</caption>
            <thead>
                <tr><th scope="col">Measure</th><th scope="col" class="num">Value</th><th scope="col">Spread</th>
                    <th scope="col">Among people</th></tr>
            </thead>
            <tbody>
                ${MEASURE_KEYS.filter((key) => key in measures)
                    .map((key) =>
                        html`<tr>
                            <th scope="row">
                                ${sentenceCase(keyText(key))} <${Why} label=${sentenceCase(keyText(key))} ...${measureReason(key, scan)} /></th>
                <td class="num wraps">${measured(measures[key], key, scan)}</td>
                <td>${spreadText(scan, key)}</td><td class="among">${amongPeople(measures.percentile, key, sex)}</td></tr>`)}
                ${measures.mondopoint
                    && html`<tr>
                        <th scope="row">
                            Size <${Why} label="Size"
                                what="Foot length and ball breadth in millimetres, length rounded to the next step of 5."
                                source="ISO 9407" uncertainty="as of the two measures" />
                        </th>
                    <td class="num"><strong>${measures.mondopoint.length}/${measures.mondopoint.breadth}</strong></td>
                        <td class="among" colspan="2">
                            Mondopoint${sizes && `; about EU ${sizes.eu}, UK ${sizes.uk}, US ${sizes.us_men} (men) or ${sizes.us_women} (women)`}</td>
                    </tr>`}
            </tbody></table>
            ${scan?.spread
                && html`<p class="note">
                    Spread: half of the 95 % interval over ${scan.spread.repetitions} repetitions of the measuring with the scan's
                    own noise (${number(scan.spread.noise_mm, 2)} mm). How the foot was held is not in it.
                </p>`}
            ${measures.percentile?.population
                && html`<p class="note">Among people: share with a smaller measure. ${measures.percentile.population}</p>`}
            ${sizes?.note && html`<p class="note">Sizes: ${sizes.note}.</p>`}`;
}

const TYPED = { foot_length_mm: [100, 400], truncated_length_mm: [60, 320], ball_breadth_mm: [40, 160],
    heel_breadth_mm: [20, 120], dorsum_height_mm: [20, 140], arch_apex_height_mm: [0, 80] };

/** @param {{side: Side, record: any}} props */
function Typed({ side, record }) {
    return html`
        <details class="typed" open=${record.at(`feet.${side}.measures`) !== undefined}><summary>No scan: type measures instead</summary>
            <div class="fields">
                ${Object.entries(TYPED)
                    .map(([key, [low, high]]) => html`<${NumberField} record=${record} path=${`feet.${side}.measures.${key}`} key=${key}
                row=${{ what: keyText(key), unit: 'mm', low, high }} label=${sentenceCase(keyText(key))} canBeNotAsked=${false} />`)}
                <${ChoiceField} record=${record} path=${`feet.${side}.measures.loading`} label="How the foot was held"
                    words=${['hanging', 'sitting', 'standing']} canBeNotAsked=${false} />
            </div>
        </details>`;
}
