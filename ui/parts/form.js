// SPDX-License-Identifier: GPL-3.0-or-later
// A short form that adds one record: fields by a table, faults beside them, nothing sent by half.
import { html, useState, useId } from '../lib/ui.js';
import { Refusal } from '../lib/api.js';
import { readNumber } from '../lib/groups.js';
import { isDate } from '../lib/dates.js';

/**
 * @typedef {{key: string, label: string, kind: 'text'|'number'|'date'|'choice'|'long'|'check'|'password', options?: (string|[string, string])[],
 *   low?: number, high?: number, unit?: string, isNeeded?: boolean, hint?: string}} FormRow
 */

/** One field's text as a value, or what is wrong with it. @param {FormRow} row @param {any} text @returns {{value?: any, fault?: string}} */
export function readField(row, text) {
    if (row.kind === 'check') return { value: text === true ? true : undefined };
    const plain = String(text ?? '').trim();
    if (plain === '') return row.isNeeded ? { fault: 'needed' } : {};
    if (row.kind === 'number') return readNumber(plain, row);
    if (row.kind === 'date' && !isDate(plain)) return { fault: `“${plain}” is not a day` };
    return { value: plain };
}

/**
 * @param {{rows: FormRow[], start?: Record<string, any>, button: string, onSubmit: (body: any) => Promise<any>, disabled?: boolean, onInput?: (typed: any) => void}} props
 */
export function AddForm({ rows, start = {}, button, onSubmit, disabled = false, onInput }) {
    const [typed, setTyped] = useState(/** @type {Record<string, any>} */ (start));
    const [faults, setFaults] = useState(/** @type {Record<string, string>} */ ({}));
    const [said, say] = useState({ text: '', isFault: false });
    const form = useId('form');
    const set = (/** @type {string} */ key, /** @type {any} */ value) => {
        const next = { ...typed, [key]: value };
        setTyped(next);
        onInput?.(next);
    };
    const submit = async (/** @type {Event} */ event) => {
        event.preventDefault();
        const read = rows.map((row) => ({ row, ...readField(row, typed[row.key]) }));
        const wrong = Object.fromEntries(read.filter((one) => one.fault).map((one) => [one.row.key, one.fault ?? '']));
        setFaults(wrong);
        if (Object.keys(wrong).length > 0) return say({ text: '', isFault: false });
        try {
            const done = await onSubmit(Object.fromEntries(read.filter((one) => one.value !== undefined).map((one) => [one.row.key, one.value])));
            setTyped(start);
            say({ text: typeof done === 'string' ? done : 'Saved.', isFault: false });
        } catch (trouble) {
            if (!(trouble instanceof Refusal)) throw trouble;
            setFaults(Object.fromEntries(trouble.faults.map((fault) => [fault.key, fault.sentence])));
            say({ text: trouble.message, isFault: true });
        }
        return undefined;
    };
    return html`
        <form onSubmit=${submit} novalidate>
            <div class="fields">
                ${rows.map((row) =>
                    html`<${Line} key=${row.key} id=${`${form}-${row.key}`} row=${row} value=${typed[row.key]}
                        fault=${faults[row.key]} onSet=${(/** @type {any} */ value) => set(row.key, value)} />`)}
            </div>
            <p class=${said.isFault ? 'fault' : 'note'} role=${said.isFault ? 'alert' : 'status'}>${said.text}</p>
            <p class="actions"><button type="submit" class="main" disabled=${disabled}>${button}</button></p>
        </form>`;
}

/** @param {{id: string, row: FormRow, value: any, fault?: string, onSet: (value: any) => void}} props */
function Line({ id, row, value, fault, onSet }) {
    const read = (/** @type {any} */ e) => onSet(row.kind === 'check' ? e.currentTarget.checked : e.currentTarget.value);
    const common = { id, onInput: read, onChange: read, 'aria-describedby': `${id}-fault`,
        'aria-invalid': fault ? 'true' : undefined, 'aria-required': row.isNeeded ? 'true' : undefined };
    if (row.kind === 'check') return html`<div class="field">
        <label class="pick"><input type="checkbox" checked=${value === true} ...${common} /> ${row.label}</label>
        <span class="fault" id=${`${id}-fault`}>${fault}</span></div>`;
    return html`
        <div class=${`field ${fault ? 'is-wrong' : ''}`}><label for=${id}>${row.label}${row.isNeeded && ' *'}</label>
            <span class="with-unit">
                ${row.kind === 'choice'
                    ? html`<select value=${value ?? ''} ...${common}><option value="">…</option>${(row.options ?? []).map((one) => {
                const [key, text] = Array.isArray(one) ? one : [one, one];
                return html`<option value=${key} selected=${key === value}>${text}</option>`;
            })}</select>`
            : row.kind === 'long' ? html`<textarea value=${value ?? ''} ...${common} />`
                : html`<input type=${row.kind === 'date' ? 'date' : row.kind === 'password' ? 'password' : 'text'}
                    inputmode=${row.kind === 'number' ? 'decimal' : undefined} autocomplete="off" value=${value ?? ''}
                    ...${common} />`}
                ${row.unit && html`<span class="unit">${row.unit}</span>`}</span>
            ${row.hint && html`<small>${row.hint}</small>`}
            <span class="fault" id=${`${id}-fault`} role=${fault ? 'alert' : undefined}>${fault}</span></div>`;
}
