// SPDX-License-Identifier: GPL-3.0-or-later
// An ultrasound picture of one heel: its scale, calipers, the two edges of the fascia proposed, corrected, accepted.
// Every number comes from the server; nothing is a thickness before a person has accepted both edges.
import { html, useState, useEffect, useId, classes } from '../lib/ui.js';
import { person, visit, mayWrite } from '../lib/state.js';
import { api, Refusal } from '../lib/api.js';
import { number } from '../lib/format.js';
import { withValue } from '../lib/paths.js';
import { ChoiceField } from './field.js';
import { SideMark } from './figure.js';
import { Upload } from './upload.js';

/** @typedef {'left'|'right'} Side */
/** @typedef {import('../lib/record.js').EditedRecord} EditedRecord */
/** @typedef {{frame?: number, ruler?: number[], ruler_mm?: number, caliper?: number[], box?: number[], site_x?: number, edges?: string, corrections?: number[][], spacing_confirmed?: boolean}} Marks */

const SITES = ["heel bone's front edge", 'midfoot', 'other'];
const PLANES = ['longitudinal', 'transverse'];

/** What a click on the picture sets: how many places, and under which name. */
const TOOLS = /** @type {{key: string, name: string, places: number, hint: string}[]} */ ([
    { key: 'ruler', name: 'Depth scale', places: 2, hint: 'Touch two marks of the depth scale, far apart, and say what lies between them.' },
    { key: 'caliper', name: 'Caliper', places: 2, hint: 'Touch both ends.' },
    { key: 'box', name: 'Box', places: 2, hint: 'Touch two opposite corners of a box around the fascia, about 2 mm wider than it.' },
    { key: 'site', name: 'Site', places: 1, hint: 'Touch where the thickness counts: where the fascia passes the front edge of the heel bone.' },
    { key: 'superficial', name: 'Correct upper edge', places: 1, hint: 'Touch a place the upper (superficial) edge runs through.' },
    { key: 'deep', name: 'Correct lower edge', places: 1, hint: 'Touch a place the lower (deep) edge runs through.' },
]);

/** @param {{record: EditedRecord}} props */
export function Ultrasound({ record }) {
    return html`
        <section class="card" aria-label="Ultrasound"><h2>Ultrasound</h2>
            <p class="note">
                Lengths are read only where the picture's own scale, or one you mark, can be trusted. The edge assistant is not
                validated on plantar fascia: it proposes, you accept or correct.
            </p>
            <div class="feet">
                ${/** @type {Side[]} */ (['left', 'right']).map((side) => html`<${OneSide} record=${record} side=${side} key=${side} />`)}</div>
        </section>`;
}

/** @param {{record: EditedRecord, side: Side}} props */
function OneSide({ record, side }) {
    const kept = record.at(`feet.${side}.ultrasound`);
    const take = async (/** @type {File} */ file) => {
        const who = person.peek();
        if (!who) return '';
        const got = await api.addImage(who.id, file);
        // A new picture is a new reading: what was accepted on the old one does not hold.
        record.replace(withoutThickness(record.draft.peek(), side, { file: got.file, name: file.name }));
        record.save();
        return `${got.about.kind}, ${got.about.columns} × ${got.about.rows} pixels.`;
    };
    return html`
        <div class="us-side"><h3><${SideMark} side=${side} />${kept?.name && html`<small class="file-name">${kept.name}</small>`}</h3>
            ${kept?.file && html`<${Workbench} record=${record} side=${side} kept=${kept} key=${kept.file} />`}
            <${Upload}
                label=${kept?.file ? `Another picture of the ${side} heel` : `Drop an ultrasound picture of the ${side} heel here, or choose a file`}
                isSmall=${!!kept?.file}
                kinds=".dcm,.png,.jpg,.jpeg,.tif,.tiff,application/dicom" note="DICOM, or a screen grab as PNG, JPEG or TIFF" onTake=${take} />
        </div>`;
}

/** The body with this side's picture and without a thickness. @param {any} body @param {Side} side @param {any} picture */
function withoutThickness(body, side, picture) {
    const had = body.feet?.[side]?.ultrasound?.thickness_mm;
    const isItsOwn = had !== undefined && body.feet?.[side]?.fascia_thickness_mm === had;
    const next = withValue(body, `feet.${side}.ultrasound`, picture);
    return isItsOwn ? withValue(next, `feet.${side}.fascia_thickness_mm`, undefined) : next;
}

/** @param {any} kept what the visit holds of the picture @param {Marks} marks */
function bare(kept, marks) {
    const { file, name, site, plane } = kept;
    return { file, name, ...(site ? { site } : {}), ...(plane ? { plane } : {}), page: marks };
}

/** @param {{record: EditedRecord, side: Side, kept: any}} props */
function Workbench({ record, side, kept }) {
    /** @type {Marks} */
    const marks = kept.page ?? {};
    const [tool, choose] = useState('box');
    const [first, setFirst] = useState(/** @type {number[]|null} */ (null));
    const [found, setFound] = useState(/** @type {any} */ (null));
    const [fault, setFault] = useState('');
    const asked = JSON.stringify(marks);
    useEffect(() => {
        let isOld = false;
        const ask = marks.ruler && !marks.ruler_mm ? { ...marks, ruler: undefined } : marks;
        api.measureImage(kept.file, ask).then((got) => !isOld && (setFound(got), setFault('')),
            (trouble) => {
                if (!(trouble instanceof Refusal)) throw trouble;
                if (isOld) return;
                setFault(trouble.message);
                if (!found) api.measureImage(kept.file, { frame: marks.frame }).then((got) => !isOld && setFound(got), () => {});
            });
        return () => {
            isOld = true;
        };
    }, [kept.file, asked]);
    const change = (/** @type {Marks} */ more) => {
        record.replace(withoutThickness(record.draft.peek(), side, bare(kept, { ...marks, ...more })));
    };
    const touch = (/** @type {number[]} */ at) => {
        const places = TOOLS.find((one) => one.key === tool)?.places;
        if (places === 2 && !first) return setFirst(at);
        setFirst(null);
        change(afterTouch(tool, marks, first, at));
    };
    const isFresh = fault === '' && found;
    return html`
        <div class="us-bench">
            ${mayWrite('visit')
                && html`<div class="tabs" role="group" aria-label=${`What a touch on the ${side} picture sets`}>${TOOLS.map((one) => html`
                <button type="button" key=${one.key} aria-pressed=${tool === one.key}
                    onClick=${() => { choose(one.key); setFirst(null); }}>${one.name}</button>`)}
                </div>
            <p class="note">${TOOLS.find((one) => one.key === tool)?.hint}${first ? ' One more.' : ''}</p>`}
            ${found
                && html`<${Picture} side=${side} kept=${kept} marks=${marks}
                    found=${isFresh ? found : { ...found, trace: null, caliper: null }} first=${first}
                    onTouch=${mayWrite('visit') ? touch : undefined} />`}
            ${found && html`<${Says} side=${side} about=${found} /><${Spacing} side=${side} about=${found} marks=${marks} onChange=${change} />`}
            <${MarkFields} marks=${marks} frames=${found?.frames ?? 1} onChange=${change} />
            ${fault && html`<p class="fault" role="alert">${fault}</p>`}
            ${isFresh && found.caliper
                && html`<p class="us-result">
                    Caliper <strong>${number(found.caliper.length_mm, 2)} mm</strong> ±${number(found.caliper.half_width_95_mm, 2)} mm;
                    scale: ${found.caliper.scale.from}${found.caliper.scale.warning && `, ${found.caliper.scale.warning}`}.
                </p>`}
            ${isFresh && found.trace
                && html`<${Acceptance} record=${record} side=${side} kept=${kept} trace=${found.trace} frame=${found.frame}
                    marks=${marks} key=${asked} />`}
            ${kept.thickness_mm !== undefined && html`<${AgainstEarlier} side=${side} kept=${kept} />`}
        </div>`;
}

/** @param {string} tool @param {Marks} marks @param {number[]|null} first @param {number[]} at @returns {Marks} */
function afterTouch(tool, marks, first, at) {
    const both = [...(first ?? at), ...at];
    if (tool === 'ruler') return { ruler: both };
    if (tool === 'caliper') return { caliper: both };
    if (tool === 'site') return { site_x: at[0] };
    if (tool === 'box') {
        const [a, b, c, d] = both;
        return { box: [Math.min(a, c), Math.min(b, d), Math.max(a, c), Math.max(b, d)], site_x: undefined, corrections: undefined };
    }
    return { corrections: [...(marks.corrections ?? []), [tool === 'deep' ? 1 : 0, ...at]].slice(-16) };
}

/** @param {{side: Side, kept: any, marks: Marks, found: any, first: number[]|null, onTouch?: (at: number[]) => void}} props */
function Picture({ side, kept, marks, found, first, onTouch }) {
    const { columns, rows } = found;
    const points = (/** @type {number[][]} */ edge) => edge.map(([x, y]) => `${x + 0.5},${y + 0.5}`).join(' ');
    const line = (/** @type {number[]|undefined} */ at, /** @type {string} */ name) =>
        at && html`<line class=${name} x1=${at[0] + 0.5} y1=${at[1] + 0.5} x2=${at[2] + 0.5} y2=${at[3] + 0.5} />`;
    const touch = (/** @type {any} */ event) => {
        const place = event.currentTarget.getBoundingClientRect();
        onTouch?.([((event.clientX - place.left) / place.width) * columns,
            ((event.clientY - place.top) / place.height) * rows].map((v) => Math.round(2 * (v - 0.5)) / 2));
    };
    return html`
        <svg class="us-picture" viewBox=${`0 0 ${columns} ${rows}`} role="img" onClick=${touch}
            aria-label=${`Ultrasound picture of the ${side} heel${found.trace
                ? `, both edges traced, ${number(found.trace.thickness_mm, 1)} mm apart at the site` : ''}`}>
            <image href=${`${api.imageAddress(kept.file)}?frame=${marks.frame ?? 1}`} width=${columns} height=${rows} />
            ${marks.box
                && html`<rect class="us-box" x=${marks.box[0]} y=${marks.box[1]} width=${marks.box[2] - marks.box[0]}
                    height=${marks.box[3] - marks.box[1]} />`}
            ${line(marks.ruler, 'us-ruler')}${line(marks.caliper, 'us-caliper')}
            ${found.trace
                && html`<polyline class="us-upper" points=${points(found.trace.superficial_edge_pixels)} />
                    <polyline class="us-lower" points=${points(found.trace.deep_edge_pixels)} />
                <line class="us-site" x1=${found.trace.site_x_pixels + 0.5} x2=${found.trace.site_x_pixels + 0.5}
                    y1=${marks.box?.[1]} y2=${marks.box?.[3]} />`}
            ${(marks.corrections ?? []).map(([edge, x, y]) =>
                html`<circle class=${edge ? 'us-lower' : 'us-upper'} cx=${x + 0.5} cy=${y + 0.5} r=${columns / 160} />`)}
            ${first && html`<circle class="us-ruler" cx=${first[0] + 0.5} cy=${first[1] + 0.5} r=${columns / 160} />`}
        </svg>`;
}

/** Whom the file names, for a person to compare. @param {{side: Side, about: any}} props */
function Says({ side, about }) {
    const says = about.file_says;
    const told = { L: 'left', R: 'right' }[/** @type {'L'|'R'} */ (says.laterality)];
    const words = [says.patient_id && `number ${says.patient_id}`, says.patient_name && `name ${says.patient_name}`,
        says.birth_date && `born ${says.birth_date}`,
        says.study_date && `taken ${says.study_date}`, says.body_part && says.body_part.toLowerCase(), told && `${told} side`].filter(Boolean);
    return html`
        <p class="note">
            ${about.kind}. ${words.length ? `The file says: ${words.join(', ')}. Is that this person?`
                : 'The file does not say whom it shows: make sure it is this person.'}
        </p>
        ${told && told !== side && html`<p class="caution" role="alert">The file says ${told}; this is the ${side} heel.</p>`}`;
}

/** A pixel spacing that the file does not call calibrated counts only when a person says so. @param {{side: Side, about: any, marks: Marks, onChange: (more: Marks) => void}} props */
function Spacing({ side, about, marks, onChange }) {
    const spacing = about.pixel_spacing;
    // By PS3.3 C.8.5.5: two-dimensional, both axes in centimetres. Such a region's own scale counts.
    const hasScale = about.regions.some((/** @type {any} */ one) => one.spatial_format === 1 && one.units_x === 3 && one.units_y === 3);
    if (!spacing || spacing.is_calibrated || hasScale) return null;
    return html`<label class="us-accept"><input type="checkbox" checked=${marks.spacing_confirmed === true} disabled=${!mayWrite('visit')}
        onChange=${(/** @type {any} */ e) => onChange({ spacing_confirmed: e.currentTarget.checked || undefined })} />${' '}
        The file gives pixels of ${number(spacing.between_columns_mm, 3)} × ${number(spacing.between_rows_mm, 3)} mm and does not
        say that they hold for this picture of the ${side} heel: I have
        compared them with its depth scale, and they do</label>`;
}

const LISTS = /** @type {{key: 'ruler'|'caliper'|'box', label: string}[]} */ ([
    { key: 'ruler', label: 'Depth scale: x, y of two marks' }, { key: 'caliper', label: 'Caliper: x, y of both ends' },
    { key: 'box', label: 'Box: left, top, right, bottom' },
]);

/** A mark typed; what is typed stays until it is left or entered. @param {{label: string, text: string, onTake: (text: string) => void}} props */
function MarkField({ label, text, onTake }) {
    const id = useId('mark');
    const [typed, setTyped] = useState(text);
    useEffect(() => setTyped(text), [text]);
    const take = () => typed.trim() !== text && onTake(typed.trim());
    return html`<div class="field"><label for=${id}>${label}</label>
        <input id=${id} type="text" inputmode="decimal" autocomplete="off" disabled=${!mayWrite('visit')} value=${typed}
            onInput=${(/** @type {any} */ e) => setTyped(e.currentTarget.value)} onBlur=${take}
            onKeyDown=${(/** @type {KeyboardEvent} */ e) => e.key === 'Enter' && take()} /></div>`;
}

/** The same marks by keyboard. @param {{marks: Marks, frames: number, onChange: (more: Marks) => void}} props */
function MarkFields({ marks, frames, onChange }) {
    const id = useId('marks');
    const [isOpen, open] = useState(false);
    // What lies between the marks is asked for as soon as they stand.
    useEffect(() => {
        if (marks.ruler && !marks.ruler_mm) open(true);
    }, [!!marks.ruler, !!marks.ruler_mm]);
    const four = (/** @type {string} */ key, /** @type {string} */ text) => {
        const list = text.split(/[ ,;]+/).filter(Boolean).map(Number);
        if (list.length === 0) onChange({ [key]: undefined });
        else if (list.length === 4 && list.every(Number.isFinite)) onChange({ [key]: list });
    };
    const one = (/** @type {string} */ key, /** @type {string} */ text) =>
        onChange({ [key]: text === '' || !Number.isFinite(Number(text)) ? undefined : Number(text) });
    return html`
        <details class="us-marks" open=${isOpen} onToggle=${(/** @type {any} */ e) => open(e.currentTarget.open)}>
            <summary>Marks as numbers, in pixels</summary><div class="fields">
            ${LISTS.map(({ key, label }) =>
                html`<${MarkField} key=${key} label=${label} text=${marks[key]?.join(', ') ?? ''}
                    onTake=${(/** @type {string} */ text) => four(key, text)} />`)}
            <${MarkField} label="Between the marks of the depth scale, mm" text=${String(marks.ruler_mm ?? '')}
                onTake=${(/** @type {string} */ text) => one('ruler_mm', text)} />
            <${MarkField} label="Site: column" text=${String(marks.site_x ?? '')} onTake=${(/** @type {string} */ text) => one('site_x', text)} />
            ${frames > 1
                && html`<${MarkField} label=${`Frame, 1 to ${frames}`} text=${String(marks.frame ?? 1)}
                    onTake=${(/** @type {string} */ text) => one('frame', text)} />`}
            <div class="field"><label for=${`${id}-edges`}>The edges are</label>
                <select id=${`${id}-edges`} disabled=${!mayWrite('visit')} value=${marks.edges ?? 'steps'}
                    onChange=${(/** @type {any} */ e) => onChange({ edges: e.currentTarget.value })}>
                    <option value="steps">steps of brightness</option><option value="lines">bright lines</option></select></div>
            ${marks.corrections && mayWrite('visit')
                && html`<p>
                    <button type="button" class="quiet" onClick=${() => onChange({ corrections: undefined })}>
                        Take all corrections of the edges away</button>
                </p>`}
        </div></details>`;
}

/** Both edges looked at, one by one; only then is there a thickness. @param {{record: EditedRecord, side: Side, kept: any, trace: any, frame: number, marks: Marks}} props */
function Acceptance({ record, side, kept, trace, frame, marks }) {
    const [seen, see] = useState({ superficial: kept.superficial_edge_accepted === true, deep: kept.deep_edge_accepted === true });
    const isWhole = seen.superficial && seen.deep && kept.site && kept.plane;
    const keep = () => {
        const reading = { ...bare(kept, marks), frame, method: 'traced', scale: trace.scale.from,
            thickness_mm: trace.thickness_mm, half_width_95_mm: trace.half_width_95_mm,
            superficial_edge_accepted: true, deep_edge_accepted: true };
        let body = withValue(record.draft.peek(), `feet.${side}.ultrasound`, reading);
        if (kept.site === SITES[0]) body = withValue(body, `feet.${side}.fascia_thickness_mm`, trace.thickness_mm);
        record.replace(body);
        record.save();
    };
    // Another site or plane is another reading.
    const face = { kind: 'visit', faults: record.faults, at: (/** @type {string} */ path) => record.at(path),
        set: (/** @type {string} */ path, /** @type {any} */ word) =>
            record.replace(withoutThickness(record.draft.peek(), side, bare({ ...kept, [path.split('.').pop() ?? '']: word }, marks))) };
    const edge = (/** @type {'superficial'|'deep'} */ key, /** @type {string} */ text) => html`
        <label class="us-accept">
            <input type="checkbox" checked=${seen[key]} disabled=${!mayWrite('visit')}
                onChange=${(/** @type {any} */ e) => see({ ...seen, [key]: e.currentTarget.checked })} /> ${text}
        </label>`;
    return html`
        <div class="us-result">
            <p>
                Proposed: <strong>${number(trace.thickness_mm, 2)} mm</strong> at the site, 95 %
                within ${number(trace.half_width_95_mm, 2)} mm, of tracing, pixel, scale and blur; along the
                trace ${number(trace.least_mm, 1)} to ${number(trace.most_mm, 1)} mm.
                Scale: ${trace.scale.from}${trace.scale.warning && `, ${trace.scale.warning}`}.
            </p>
            <p class="note">
                ${trace.echo_ratio !== null
                    && `Brightness ${number(trace.echo_ratio, 2)} of that of the 2 mm above; ${number(100 * trace.dark_share,
                        0)} % of the band is darker than half of it (by our own measure; it hangs on the machine's settings). `}${trace.note}
            </p>
            <div class="fields">
                <${ChoiceField} record=${face} path=${`feet.${side}.ultrasound.site`} label="Site" words=${SITES} canBeNotAsked=${false} />
                <${ChoiceField} record=${face} path=${`feet.${side}.ultrasound.plane`} label="Plane" words=${PLANES} canBeNotAsked=${false} /></div>
            ${edge('superficial', 'I have looked at the upper (superficial) edge: it runs where I see it')}
            ${edge('deep', 'I have looked at the lower (deep) edge: it runs where I see it')}
            ${mayWrite('visit')
                && html`<p class="actions">
                    <button type="button" class="main" disabled=${!isWhole} onClick=${keep}>
                        Keep ${number(trace.thickness_mm, 2)} mm as the ${side} fascia’s thickness</button>
                </p>`}
            ${!isWhole
                && html`<p class="note">
                    Needed before it can be
                    kept: ${[!seen.superficial && 'the upper edge accepted', !seen.deep && 'the lower edge accepted',
                        !kept.site && 'the site', !kept.plane && 'the plane'].filter(Boolean).join(', ')}.
                </p>`}
            ${kept.thickness_mm !== undefined && html`<p class="ok">Kept: ${number(kept.thickness_mm, 2)} mm, ${kept.site}, ${kept.plane}.</p>`}
        </div>`;
}

/** The last visit before this one with an accepted thickness of this side, and what may be said of the change. @param {{side: Side, kept: any}} props */
function AgainstEarlier({ side, kept }) {
    const [text, say] = useState('');
    const date = visit.value?.at('visit_date') ?? '';
    useEffect(() => {
        let isOld = false;
        const look = async () => {
            const rows = await api.records(person.peek()?.id ?? '', 'visit');
            const earlier = rows.filter((row) =>
                row.id !== visit.peek()?.id && row.body?.feet?.[side]?.ultrasound?.thickness_mm !== undefined && row.body.visit_date < date)
                .sort((a, b) => (a.body.visit_date < b.body.visit_date ? 1 : -1))[0];
            if (!earlier) return 'No earlier picture of this side has an accepted thickness.';
            const change = await api.thicknessChange(side, earlier.body.feet[side].ultrasound, kept);
            return `Since ${earlier.body.visit_date}: ${change.change_mm > 0 ? '+' : ''}${number(change.change_mm,
                2)} mm, ±${number(change.half_width_95_mm,
                2)} mm of tracing, pixel, scale and blur${change.is_beyond_tracing ? '' : ': no more than they vary'}; probe and hand are not in it.`;
        };
        look().then((told) => !isOld && say(told), (trouble) => !isOld && trouble instanceof Refusal && say(`Not compared: ${trouble.message}`));
        return () => {
            isOld = true;
        };
    }, [kept.thickness_mm, kept.site, kept.plane]);
    return text && html`<p class=${classes('note', text.startsWith('Not compared') && 'caution')}>${text}</p>`;
}
