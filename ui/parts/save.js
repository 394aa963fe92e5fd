// SPDX-License-Identifier: GPL-3.0-or-later
// What is saved and what is not; undo, redo, history; and two people on one record.
import { html, useState, useEffect } from '../lib/ui.js';
import { api } from '../lib/api.js';
import { momentText, keyText, sentenceCase, plural } from '../lib/format.js';
import { changedKeys } from '../lib/record.js';
import { Dialog } from './dialog.js';

/** @typedef {import('../lib/record.js').EditedRecord} EditedRecord */

const WORDS = { saved: 'Saved', waiting: 'Writing …', saving: 'Saving …', away: 'Not saved yet', refused: 'Not saved', clash: 'Two versions' };

/** @param {{record: EditedRecord, what: string}} props */
export function SaveState({ record, what }) {
    const [isOpen, open] = useState(false);
    const state = record.state.value;
    return html`
        <span class=${`save save-${state}`}>
            <span role="status" aria-live="polite"><span class="save-mark" aria-hidden="true"></span>
                ${WORDS[state]}${state === 'saved' ? ` · version ${record.version.value}` : ''}
                ${record.sentence.value && html`<span class="save-sentence">${record.sentence.value}</span>`}</span>
            <button type="button" class="quiet" disabled=${!record.canUndo()} onClick=${() => record.undo()} title="Undo (Ctrl Z)">Undo</button>
            <button type="button" class="quiet" disabled=${!record.canRedo()} onClick=${() => record.redo()} title="Redo (Ctrl Shift Z)">Redo</button>
            <button type="button" class="quiet" onClick=${() => open(true)}>History</button>
        </span>
        ${isOpen && html`<${History} record=${record} what=${what} onClose=${() => open(false)} />`}
        ${record.clash.value && html`<${Clash} record=${record} />`}`;
}

/** @param {{record: EditedRecord, what: string, onClose: () => void}} props */
function History({ record, what, onClose }) {
    const [rows, setRows] = useState(/** @type {any[]|null} */ (null));
    useEffect(() => {
        api.history(record.kind, record.id).then((all) => setRows([...all].sort((a, b) => b.version - a.version)), () => setRows([]));
    }, [record.version.value]);
    return html`
        <${Dialog} title=${`History of ${what}`} onClose=${onClose} isWide>
            <p>Nothing is overwritten. Restoring an older version writes it again as a new one.</p>
            <table>
                <thead>
                    <tr><th scope="col">Version</th><th scope="col">When</th><th scope="col">Who</th><th scope="col">What</th>
                        <th scope="col">Restore</th></tr>
                </thead>
                <tbody>${(rows ?? []).map((row) => html`
                    <tr><td>${row.version}</td><td class="when">${momentText(row.when)}</td><td>${row.who ?? ''}</td><td>${row.why ?? ''}</td>
                        <td>${row.version === record.version.value ? 'stands' : html`
                            <button type="button" class="quiet" onClick=${() => record.restore(row.version)}>Restore version ${row.version}</button>`}
                        </td>
                    </tr>`)}
                </tbody></table>
            ${rows === null && html`<p>Reading …</p>`}
        </${Dialog}>`;
}

/** @param {any} value */
function shown(value) {
    if (value === undefined) return 'no answer';
    return typeof value === 'object' ? JSON.stringify(value) : String(value);
}

/** @param {string} path */
function pathText(path) {
    return sentenceCase(path.replace(/^feet\.(left|right)\./, '$1 foot: ').split('.').map(keyText).join(', '));
}

/** @param {{record: EditedRecord}} props */
function Clash({ record }) {
    const clash = record.clash.value;
    const [choices, choose] = useState(/** @type {Record<string, 'mine'|'theirs'>} */ ({}));
    if (!clash) return null;
    const { conflicts, taken } = clash.merged;
    const isReady = conflicts.every((one) => choices[one.path]);
    return html`
        <${Dialog} title="Two people wrote this record" onClose=${() => {}} isWide>
            <p>
                ${clash.who} saved version ${clash.version} while you were
                writing. ${taken.length > 0
                    && `${plural(taken.length, 'change')} of theirs that you did not touch ${taken.length === 1 ? 'is' : 'are'} taken in.`}
                ${` ${plural(changedKeys(record.saved.value, record.draft.value).length - conflicts.length,
                    'change')} of yours that they did not touch stay.`}
                ${' Which of these should stand?'}</p>
            <table class="clash">
                <thead><tr><th scope="col">Field</th><th scope="col">You wrote</th><th scope="col">${clash.who} wrote</th></tr></thead>
                <tbody>${conflicts.map((one) => html`
                    <tr><th scope="row">${pathText(one.path)}</th>
                        ${/** @type {('mine'|'theirs')[]} */ (['mine', 'theirs']).map((whose) => html`
                            <td><label class="pick"><input type="radio" name=${one.path} checked=${choices[one.path] === whose}
                                onChange=${() => choose({ ...choices, [one.path]: whose })} /> ${shown(one[whose])}</label></td>`)}
                    </tr>`)}</tbody></table>
            <p class="actions"><button type="button" class="main" disabled=${!isReady} onClick=${() => record.solve(choices)}>Save so</button></p>
        </${Dialog}>`;
}
