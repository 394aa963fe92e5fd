// SPDX-License-Identifier: GPL-3.0-or-later
// Fields of a form: each bound to one path of an edited record, its unit shown, its fault beside it.
import { html, classes, useId, useState } from '../lib/ui.js';
import { unitText, sentenceCase } from '../lib/format.js';
import { readNumber } from '../lib/groups.js';
import { isDate } from '../lib/dates.js';
import { computation } from '../lib/state.js';

/** @typedef {import('../lib/record.js').EditedRecord} EditedRecord */
/** @typedef {import('../lib/types.d.ts').Finding} Finding */

/** What the server found wrong with a path. @param {EditedRecord} record @param {string} path */
export function faultAt(record, path) {
    const all = [...record.faults.value, ...(record.kind === 'visit' ? computation.faults.value : [])];
    return all.find((fault) => fault.key === path)?.sentence ?? '';
}

/** @param {{id: string, text: string}} props */
function Fault({ id, text }) {
    return html`<span class="fault" id=${id} role=${text ? 'alert' : undefined}>${text}</span>`;
}

/**
 * A number with its unit. Typing "?" says that it was not asked.
 * @param {{record: EditedRecord, path: string, row: {what: string, unit?: string, low?: number, high?: number},
 *   label?: string, canBeNotAsked?: boolean, isBare?: boolean, disabled?: boolean}} props isBare: the label is only heard
 */
export function NumberField({ record, path, row, label, canBeNotAsked = true, isBare = false, disabled = false }) {
    const id = useId('number');
    const value = record.at(path);
    const isNotAsked = value === 'not asked';
    const shown = value === undefined || isNotAsked ? '' : String(value);
    // What is typed holds only over the value it was typed on: a value that changes meanwhile is shown.
    const on = isNotAsked ? '?' : shown;
    const [typing, setTyping] = useState({ text: '', fault: '', on: /** @type {string|null} */ (null) });
    const typed = typing.on === on ? typing.text : null;
    const fault = typing.on === on ? typing.fault : '';
    const setTyped = (/** @type {string|null} */ text) => setTyping({ text: text ?? '', fault: '', on: text === null ? null : on });
    const commit = () => {
        if (typed === null) return;
        if (typed.trim() === '?' && canBeNotAsked) record.set(path, 'not asked');
        else {
            const read = readNumber(typed, row);
            if (read.fault) {
                setTyping({ text: typed, fault: read.fault, on });
                return;
            }
            record.set(path, read.isEmpty ? undefined : read.value);
        }
        setTyped(null);
    };
    const wrong = fault || faultAt(record, path);
    const text = label ?? sentenceCase(row.what);
    return html`
        <div class=${classes('field', wrong && 'is-wrong')}>
            <label for=${id} class=${isBare ? 'unseen' : ''}>${text}</label>
            <span class="with-unit">
                <input id=${id} type="text" inputmode="decimal" autocomplete="off" disabled=${disabled}
                    value=${typed ?? shown} placeholder=${isNotAsked ? 'not asked' : ''}
                    aria-invalid=${wrong ? 'true' : undefined} aria-describedby=${`${id}-fault`}
                    onInput=${(/** @type {any} */ e) => setTyped(e.currentTarget.value)} onBlur=${commit}
                    onKeyDown=${(/** @type {KeyboardEvent} */ e) => e.key === 'Enter' && commit()} />
                ${row.unit && html`<span class="unit">${unitText(row.unit)}</span>`}
                ${canBeNotAsked && html`<button type="button" class="not-asked" aria-pressed=${isNotAsked} disabled=${disabled}
                    aria-label=${`${text}: not asked`} title="Not asked (or type ?)"
                    onClick=${() => record.set(path, isNotAsked ? undefined : 'not asked')}>not asked</button>`}
            </span>
            <${Fault} id=${`${id}-fault`} text=${wrong} />
        </div>`;
}

/**
 * One of a few words, or not asked, or not answered. Keys: first letters, Delete for no answer.
 * @param {{record: EditedRecord, path: string, label: string, words: string[], isBare?: boolean, canBeNotAsked?: boolean,
 *   warn?: string, disabled?: boolean}} props warn: the word that alarms
 */
export function ChoiceField({ record, path, label, words, isBare = false, canBeNotAsked = true, warn, disabled = false }) {
    const id = useId('choice');
    const value = record.at(path);
    const options = canBeNotAsked ? [...words, 'not asked'] : words;
    const wrong = faultAt(record, path);
    const onKey = (/** @type {KeyboardEvent} */ event) => {
        if (event.ctrlKey || event.metaKey || event.altKey) return;
        if (event.key === 'Delete' || event.key === 'Backspace') record.set(path, undefined);
        const byLetter = event.key === '?' ? 'not asked' : words.find((word) => word[0] === event.key);
        if (!byLetter || !options.includes(byLetter)) return;
        event.preventDefault();
        record.set(path, byLetter);
    };
    return html`
        <fieldset class=${classes('field', 'choice', wrong && 'is-wrong')} onKeyDown=${onKey} aria-describedby=${`${id}-fault`} disabled=${disabled}>
            <legend class=${isBare ? 'unseen' : ''}>${label}</legend>
            <span class=${classes('segments', value === undefined && 'is-open')}>
                ${options.map((word) => html`
                    <label
                        class=${classes(word === value && 'is-chosen', word === value && word === warn && 'is-alarm',
                            word === 'not asked' && 'is-not-asked')}>
                        <input type="radio" name=${id} value=${word} checked=${word === value} onChange=${() => record.set(path, word)} />
                        <span>${word}</span>
                    </label>`)}
            </span>
            <${Fault} id=${`${id}-fault`} text=${wrong} />
        </fieldset>`;
}

/** A finding by its kind. @param {{record: EditedRecord, path: string, row: Finding, label?: string, isBare?: boolean, warn?: string}} props */
export function FindingField({ record, path, row, label, isBare, warn }) {
    const text = label ?? sentenceCase(row.what);
    if (row.kind === 'number')
        return html`<${NumberField} record=${record} path=${path} row=${row} label=${text} isBare=${isBare} />`;
    const words = row.kind === 'answer' ? ['no', 'yes'] : row.words;
    return html`<${ChoiceField} record=${record} path=${path} label=${text} words=${words} isBare=${isBare} warn=${warn} />`;
}

/** @param {{record: EditedRecord, path: string, label: string, isLong?: boolean, autocomplete?: string, disabled?: boolean}} props */
export function TextField({ record, path, label, isLong = false, disabled = false }) {
    const id = useId('text');
    const Tag = isLong ? 'textarea' : 'input';
    const wrong = faultAt(record, path);
    return html`
        <div class=${classes('field', wrong && 'is-wrong')}>
            <label for=${id}>${label}</label>
            <${Tag} id=${id} type=${isLong ? undefined : 'text'} autocomplete="off" value=${record.at(path) ?? ''} disabled=${disabled}
                aria-describedby=${`${id}-fault`}
                onChange=${(/** @type {any} */ e) => record.set(path, e.currentTarget.value.trim() || undefined)} />
            <${Fault} id=${`${id}-fault`} text=${wrong} />
        </div>`;
}

/** @param {{record: EditedRecord, path: string, label: string}} props */
export function DateField({ record, path, label }) {
    const id = useId('date');
    const wrong = faultAt(record, path);
    return html`
        <div class=${classes('field', wrong && 'is-wrong')}>
            <label for=${id}>${label}</label>
            <input id=${id} type="date" value=${record.at(path) ?? ''} aria-describedby=${`${id}-fault`}
                onChange=${(/** @type {any} */ e) => record.set(path, isDate(e.currentTarget.value) ? e.currentTarget.value : undefined)} />
            <${Fault} id=${`${id}-fault`} text=${wrong} />
        </div>`;
}

/**
 * A list of names. Absent is unknown; an empty list is "none", said by a button.
 * @param {{record: EditedRecord, path: string, label: string, none: string, known?: string[]}} props
 */
export function ListField({ record, path, label, none, known = [] }) {
    const id = useId('list');
    const [typed, setTyped] = useState('');
    /** @type {any[]|undefined} */
    const list = record.at(path);
    const wrong = faultAt(record, path);
    const add = () => {
        const name = typed.trim();
        if (name) record.set(path, [...(list ?? []), name]);
        setTyped('');
    };
    const nameOf = (/** @type {any} */ one) => (typeof one === 'string' ? one : one.name);
    return html`
        <div class=${classes('field', 'list-field', wrong && 'is-wrong')}>
            <label for=${id}>${label}</label>
            <span class="chips">
                ${(list ?? []).map((one, i) => html`
                    <span class="chip">${nameOf(one)}
                        <button type="button" aria-label=${`Remove ${nameOf(one)}`}
                            onClick=${() => record.set(path, list?.filter((_, k) => k !== i))}>×</button>
                    </span>`)}
                ${list === undefined && html`<span class="unknown">not asked</span>`}
                ${list?.length === 0 && html`<span class="chip is-none">${none}</span>`}
            </span>
            <span class="with-unit">
                <input id=${id} type="text" autocomplete="off" value=${typed} list=${`${id}-known`} aria-describedby=${`${id}-fault`}
                    onInput=${(/** @type {any} */ e) => setTyped(e.currentTarget.value)}
                    onKeyDown=${(/** @type {KeyboardEvent} */ e) => e.key === 'Enter' && (e.preventDefault(), add())} onBlur=${add} />
                <datalist id=${`${id}-known`}>${known.map((name) => html`<option value=${name} />`)}</datalist>
                ${!list?.length && html`<button type="button" class="quiet" aria-pressed=${list?.length === 0}
                    onClick=${() => record.set(path, list ? undefined : [])}>${none}</button>`}
            </span>
            <${Fault} id=${`${id}-fault`} text=${wrong} />
        </div>`;
}
