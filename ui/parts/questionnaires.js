// SPDX-License-Identifier: GPL-3.0-or-later
// Longer questionnaires: filled in, scored by the server, changes read against what matters. The words of
// an item come from the clinic's text file; without them only its number stands there.
import { html, useEffect, useState, useId } from '../lib/ui.js';
import { mayWrite } from '../lib/state.js';
import { api, Refusal } from '../lib/api.js';
import { dateText, number, signed, sentenceCase } from '../lib/format.js';
import { today, isDate } from '../lib/dates.js';
import { useRows } from './use_rows.js';

/** @typedef {{scale: string, name: string, items: number, least_items: number, item_low: number, item_high: number, better: string, asks: string|null, note: string|null, values: any[], text?: string, words?: string[]}} Scale */

/** An answer as typed: a number, "n" for not applicable, nothing for missing. @param {string} typed */
export function itemOf(typed) {
    const plain = typed.trim().replace(',', '.');
    if (plain === '') return null;
    return /^(n|na|n\/a|not applicable)$/i.test(plain) ? 'not applicable' : Number(plain);
}

/** Known scales, with the clinic's words where its text file has them, and the clinic's own. @returns {Scale[]|null} */
function useScales() {
    const [all, setAll] = useState(/** @type {Scale[]|null} */ (null));
    useEffect(() => {
        const load = async () => {
            const known = (await api.scales()).scales;
            const clinic = await api.clinic().catch(() => null);
            const texts = (clinic?.body ?? clinic)?.questionnaires ?? [];
            const own = await Promise.all(texts.map(async (/** @type {string} */ text) =>
                ({ ...(await api.scores({ questionnaire: text, sheets: [] })), text })));
            const worded = own.map((one) => ({ ...one, words: one.item_words }));
            setAll([...known.filter((/** @type {Scale} */ one) => !worded.some((mine) => mine.scale === one.scale)), ...worded]);
        };
        load().catch(() => setAll([]));
    }, []);
    return all;
}

/** @param {{who: string, rows: import('../lib/types.d.ts').Row[]}} props */
export function Questionnaires({ who, rows }) {
    const scales = useScales();
    const kept = rows.filter((row) => Array.isArray(row.body.items));
    const [added, setAdded] = useState(/** @type {any[]} */ ([]));
    const all = [...kept.map((row) => row.body), ...added.filter((one) => !kept.some((row) => row.id === one.id))];
    if (!scales) return null;
    const groups = scales.flatMap((scale) =>
        ['left', 'right',
            'person'].map((foot) => ({ scale, foot, sheets: all.filter((one) => one.scale === scale.scale && (one.foot ?? 'person') === foot) })))
        .filter((one) => one.sheets.length > 0);
    return html`
        <section class="card" id="questionnaires"><h2>Questionnaires <small>scored by their published rules</small></h2>
            ${groups.length === 0 && html`<p class="empty">None was filled in yet.</p>`}
            ${groups.map((one) => html`<${Course} key=${`${one.scale.scale} ${one.foot} ${one.sheets.length}`} ...${one} />`)}
            ${mayWrite('score') && html`<${Fill} scales=${scales} onKept=${(/** @type {any} */ body) => setAdded([...added, body])} who=${who} />`}
        </section>`;
}

/** What a request about one scale holds. @param {Scale} scale @param {any[]} sheets */
function requestOf(scale, sheets) {
    const best = sheets.find((one) => one.best_grade)?.best_grade;
    return { ...(scale.text ? { questionnaire: scale.text } : { scale: scale.scale }), ...(best ? { best_grade: best } : {}),
        sheets: sheets.map(({ date, items }) => ({ date, items })) };
}

/** @param {{scale: Scale, foot: string, sheets: any[]}} props */
function Course({ scale, foot, sheets }) {
    const { rows: scored, fault } = useRows(() => api.scores(requestOf(scale, sheets)), []);
    if (fault) return html`<p class="trouble">${fault}</p>`;
    if (!scored) return null;
    const cell = (/** @type {any} */ value) =>
        (value.value === null ? value.why_not
            : `${number(value.value, 1)}${value.since_first === undefined ? '' : ` (${signed(value.since_first, 1)})`}`);
    return html`
        <h3>${sentenceCase(scale.name)}${foot === 'person' ? '' : `, ${foot} foot`}</h3>
        <div class="table-room" tabindex="0" role="region" aria-label=${`${scale.name}, ${foot}`}>
            <table><thead><tr><th scope="col">Date</th><th scope="col">Answered</th>
            ${scored.values.map((/** @type {any} */ value) =>
                html`<th scope="col">
                    ${sentenceCase(value.name)} <small>
                        ${number(value.low, 0)} to ${number(value.high, 0)}${value.unit}, ${scored.better} is better</small>
                </th>`)}
                <th scope="col">Change since the first</th>
            </tr>
            </thead>
            <tbody>
                ${scored.sheets.map((/** @type {any} */ sheet) =>
                    html`<tr><td class="when">${dateText(sheet.date)}</td>
                        <td>
                            ${sheet.answered}${sheet.missing > 0 ? `, ${sheet.missing} missing` : ''}${sheet.not_applicable > 0
                                ? `, ${sheet.not_applicable} not applicable` : ''}
                        </td>
                ${sheet.values.map((/** @type {any} */ value) => html`<td>${cell(value)}</td>`)}
                    <td>
                        ${sheet.values.filter((/** @type {any} */ value) => value.change)
                            .map((/** @type {any} */ value) => `${value.name}: ${value.change}`).join('; ')}
                    </td>
                    </tr>`)}
            </tbody>
            </table>
        </div>
        <p class="small">
            ${scored.values.map((/** @type {any} */ value) =>
                `${sentenceCase(value.name)}: a change matters from ${value.change_that_matters ?? 'an unknown size'}, is beyond the error from ${value.smallest_change_beyond_error
                    ?? 'an unknown size'} (${value.source})`)
                .join('. ')}.${scored.turned ? ` ${sentenceCase(scored.turned)}.` : ''}
        </p>`;
}

/** @param {{scales: Scale[], who: string, onKept: (body: any) => void}} props */
function Fill({ scales, who, onKept }) {
    const [key, setKey] = useState('');
    const [foot, setFoot] = useState('');
    const [date, setDate] = useState(today());
    const [best, setBest] = useState('');
    const [typed, setTyped] = useState(/** @type {string[]} */ ([]));
    const [said, say] = useState('');
    const id = useId('fill');
    const scale = scales.find((one) => one.scale === key);
    const isGrade = key === 'roles-maudsley';
    const submit = async (/** @type {Event} */ event) => {
        event.preventDefault();
        if (!scale || !isDate(date)) return say('A questionnaire and a day are needed.');
        let items = Array.from({ length: scale.items }, (_, i) => itemOf(typed[i] ?? ''));
        if (scale.least_items < scale.items) while (items.length > scale.least_items && items[items.length - 1] === null) items = items.slice(0, -1);
        if (items.some((one) => Number.isNaN(one))) return say('An answer is a number, n for not applicable, or nothing.');
        const body = { date, scale: scale.scale, items, from: 'follow-up', ...(foot ? { foot } : {}),
            ...(isGrade && best ? { best_grade: Number(best) } : {}) };
        try {
            await api.scores(requestOf(scale, [body]));
            const row = await api.addRecord(who, 'score', body, `${scale.name} filled in`);
            onKept({ ...body, id: row.id });
            setTyped([]);
            say('Kept.');
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            say(trouble.message);
        }
        return undefined;
    };
    const words = (/** @type {number} */ i) =>
        scale?.words?.[i] ?? (scale?.asks ? (scale.items > 1 ? `${scale.asks} (${i + 1})` : scale.asks) : `Item ${i + 1}`);
    return html`<details><summary>Fill one in</summary><form onSubmit=${submit} novalidate>
        <div class="fields">
            <div class="field"><label for=${`${id}-scale`}>Questionnaire</label>
                <select id=${`${id}-scale`} value=${key}
                    onChange=${(/** @type {any} */ e) => { setKey(e.currentTarget.value); setTyped([]); say(''); }}>
                    <option value="">…</option>
                    ${scales.map((one) => html`<option value=${one.scale}>${one.name}</option>`)}</select>
            </div>
            <div class="field"><label for=${`${id}-date`}>Day</label>
                <input id=${`${id}-date`} type="date" value=${date} onInput=${(/** @type {any} */ e) => setDate(e.currentTarget.value)} /></div>
            <div class="field"><label for=${`${id}-foot`}>Which foot it is about</label>
                <select id=${`${id}-foot`} value=${foot} onChange=${(/** @type {any} */ e) => setFoot(e.currentTarget.value)}>
                    <option value="">the person</option><option>left</option><option>right</option></select>
            </div>
            ${isGrade
                && html`<div class="field"><label for=${`${id}-best`}>The best grade here is</label>
                    <select id=${`${id}-best`} value=${best} onChange=${(/** @type {any} */ e) => setBest(e.currentTarget.value)}>
                        <option value="">…</option><option value="1">1</option><option value="4">4</option></select>
                </div>`}
        </div>
        ${scale
            && html`<p class="note">
                ${scale.item_low} to ${scale.item_high}; ${scale.better} is better. Leave empty what was not
                answered, <kbd>n</kbd> for not
                applicable. ${scale.note ? sentenceCase(scale.note) + '.' : ''}${!scale.words && !scale.asks
                    ? ' Its words are not in this program: the owner may load the clinic\'s own text file in Settings.' : ''}
            </p>
            <div class="fields">
                ${Array.from({ length: scale.items },
                    (_, i) =>
                        html`<div class="field" key=${i}><label for=${`${id}-${i}`}>${words(i)}</label>
                            <input id=${`${id}-${i}`} type="text" inputmode="decimal" autocomplete="off" value=${typed[i] ?? ''}
                                onInput=${(/** @type {any} */ e) => { const next = [...typed]; next[i] = e.currentTarget.value; setTyped(next); }} />
                        </div>`)}
            </div>`}
        <p role="status" class="note">${said}</p>
        <p class="actions"><button type="submit" class="main" disabled=${!scale}>Score and keep</button></p></form></details>`;
}
