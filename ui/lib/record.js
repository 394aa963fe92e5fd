// SPDX-License-Identifier: GPL-3.0-or-later
// One record being edited: what is saved, what is typed, and how the two come together.
//
// A change is saved by itself after a short rest. Nothing typed is dropped: while the server is away
// the draft stays and is tried again; where somebody else saved first, both are merged and what both
// changed is asked. Undo writes an older version's body as a new version.
import { signal, batch } from './ui.js';
import { api, Refusal } from './api.js';
import { merge, same, valueAt, withValue } from './paths.js';

/** @typedef {'saved'|'waiting'|'saving'|'away'|'refused'|'clash'} SaveState */
/** @typedef {import('./types.d.ts').Row} Row */

const REST_MS = 450;    // after the last change
const RETRY_MS = 2000;  // while the server is away

export class EditedRecord {
    /** @param {Row} row @param {() => void} [onSaved] */
    constructor(row, onSaved = () => {}) {
        this.kind = row.kind;
        this.id = row.id;
        this.person = row.person;
        this.version = signal(row.version);
        this.saved = signal(row.body);
        this.draft = signal(row.body);
        this.state = signal(/** @type {SaveState} */ ('saved'));
        this.sentence = signal('');
        this.faults = signal(/** @type {import('./types.d.ts').Fault[]} */ ([]));
        this.clash = signal(/** @type {null|{theirs: any, version: number, who: string, merged: import('./paths.js').Merged}} */ (null));
        this.undoneTo = signal(/** @type {number|null} */ (null)); // the version whose body stands now
        this.top = row.version;                                     // newest version before undoing
        this.onSaved = onSaved;
        this.timer = 0;
        this.closed = false;
    }

    /** @param {string} path */
    at(path) {
        return valueAt(this.draft.value, path);
    }

    /** Undefined takes the key away. @param {string} path @param {any} value */
    set(path, value) {
        if (same(this.at(path), value)) return;
        this.replace(withValue(this.draft.peek(), path, value));
    }

    /** @param {any} body */
    replace(body) {
        // What was signed is the version that was signed: an edit is a new one, signed by nobody.
        if (body.signed && same(body.signed, this.draft.peek().signed)) body = withValue(body, 'signed', undefined);
        batch(() => {
            this.draft.value = body;
            this.undoneTo.value = null;
            if (this.state.value !== 'clash') this.state.value = 'waiting';
        });
        this.saveIn(REST_MS);
    }

    /** @param {number} ms */
    saveIn(ms) {
        clearTimeout(this.timer);
        this.timer = globalThis.setTimeout(() => this.save(), ms);
    }

    async save() {
        clearTimeout(this.timer);
        const state = this.state.peek();
        if (this.closed || state === 'saving' || state === 'clash' || state === 'saved') return;
        const sent = this.draft.peek();
        if (same(sent, this.saved.peek())) {
            this.settle('saved', '');
            return;
        }
        this.settle('saving', '');
        try {
            const reply = await this.write(this.version.peek(), sent);
            this.keep(reply.version, sent);
        } catch (fault) {
            if (fault instanceof Refusal) this.refused(fault, sent);
            else throw fault;
        }
    }

    /** @param {number} version @param {any} body */
    write(version, body) {
        const why = changedKeys(this.saved.peek(), body).slice(0, 4).join(', ') || 'change';
        return this.kind === 'person' ? api.savePerson(this.id, version, body, why)
            : api.saveRecord(this.kind, this.id, version, body, why);
    }

    /** @param {number} version @param {any} body what now stands on the server */
    keep(version, body) {
        batch(() => {
            this.version.value = version;
            this.saved.value = body;
            this.top = version;
            this.faults.value = [];
            this.settle(same(this.draft.value, body) ? 'saved' : 'waiting', this.sentence.value);
        });
        if (this.state.peek() === 'waiting') this.saveIn(0);
        this.onSaved();
    }

    /** @param {Refusal} fault @param {any} sent */
    refused(fault, sent) {
        if (fault.status === 409 && fault.body.current) this.clashed(fault.body.current, sent);
        else if (fault.status === 0 || fault.status >= 500) {
            this.settle('away', 'Not saved yet: the server does not answer. What you typed is kept here and sent again.');
            this.saveIn(RETRY_MS);
        } else if (fault.status === 401) {
            this.settle('away', 'Not saved yet: you are signed out. What you typed is kept; sign in again and it is sent.');
        } else {
            this.faults.value = fault.faults;
            this.settle('refused', fault.message);
        }
    }

    /** @param {any} current newest row @param {any} sent */
    clashed(current, sent) {
        const who = current.who ?? 'Somebody else';
        if (same(current.body, sent)) {
            this.keep(current.version, sent); // our own save, whose answer was lost
            return;
        }
        const merged = merge(this.saved.peek(), this.draft.peek(), current.body);
        if (merged.conflicts.length > 0) {
            this.clash.value = { theirs: current.body, version: current.version, who, merged };
            this.settle('clash', `${who} saved version ${current.version} while you were writing.`);
            return;
        }
        batch(() => {
            this.version.value = current.version;
            this.saved.value = current.body;
            this.draft.value = merged.body;
            this.settle('waiting', `${who} saved too; both are kept.`);
        });
        this.saveIn(0);
    }

    /** The clash solved: for each path, whose value stands. @param {Record<string, 'mine'|'theirs'>} choices */
    solve(choices) {
        const clash = this.clash.peek();
        if (!clash) return;
        // Merged anew: something may have been typed since the question was put.
        const merged = merge(this.saved.peek(), this.draft.peek(), clash.theirs);
        let { body } = merged;
        for (const one of merged.conflicts)
            if (choices[one.path] === 'theirs') body = withValue(body, one.path, one.theirs);
        if (merged.conflicts.some((one) => !choices[one.path])) {
            this.clash.value = { ...clash, merged };
            return;
        }
        batch(() => {
            this.version.value = clash.version;
            this.saved.value = clash.theirs;
            this.draft.value = body;
            this.clash.value = null;
            this.settle('waiting', '');
        });
        this.saveIn(0);
    }

    canUndo() {
        return this.state.value === 'saved' && (this.undoneTo.value ?? this.version.value) > 1;
    }

    canRedo() {
        return this.state.value === 'saved' && this.undoneTo.value !== null && this.undoneTo.value < this.top;
    }

    /** An older version's body, written as a new version. @param {number} to */
    async restore(to) {
        const top = this.undoneTo.peek() === null ? this.version.peek() : this.top;
        try {
            const reply = await api.undo(this.kind, this.id, this.version.peek(), to);
            const row = this.kind === 'person' ? await api.person(this.id) : await api.record(this.kind, this.id);
            batch(() => {
                this.draft.value = row.body;
                this.keep(reply.version, row.body);
                this.top = top;
                this.undoneTo.value = to;
                this.settle('saved', `Version ${to} stands again, as version ${reply.version}.`);
            });
        } catch (fault) {
            if (fault instanceof Refusal) this.refused(fault, this.draft.peek());
            else throw fault;
        }
    }

    undo() {
        return this.canUndo() ? this.restore((this.undoneTo.peek() ?? this.version.peek()) - 1) : undefined;
    }

    redo() {
        return this.canRedo() ? this.restore((this.undoneTo.peek() ?? 0) + 1) : undefined;
    }

    /** Somebody else changed the record: taken over at once where nothing is typed here. */
    async changedElsewhere() {
        if (this.state.peek() !== 'saved') return;
        const row = this.kind === 'person' ? await api.person(this.id) : await api.record(this.kind, this.id);
        if (row.version <= this.version.peek() || this.state.peek() !== 'saved') return;
        batch(() => {
            this.version.value = row.version;
            this.top = row.version;
            this.saved.value = row.body;
            this.draft.value = row.body;
            this.sentence.value = `${row.who ?? 'Somebody else'} saved version ${row.version}.`;
        });
        this.onSaved();
    }

    /** Nothing more is sent from here. */
    discard() {
        this.closed = true;
        clearTimeout(this.timer);
    }

    close() {
        if (this.state.peek() === 'waiting' || this.state.peek() === 'away') this.save();
    }

    /** @param {SaveState} state @param {string} sentence */
    settle(state, sentence) {
        batch(() => {
            this.state.value = state;
            this.sentence.value = sentence;
        });
    }
}

/** Paths that differ, for the record's history. @param {any} a @param {any} b @param {string} [prefix] @returns {string[]} */
export function changedKeys(a, b, prefix = '') {
    const out = [];
    for (const key of new Set([...Object.keys(a ?? {}), ...Object.keys(b ?? {})])) {
        const [x, y] = [a?.[key], b?.[key]];
        if (same(x, y)) continue;
        const isBranch = [x, y].every((v) => v && typeof v === 'object' && !Array.isArray(v));
        if (isBranch) out.push(...changedKeys(x, y, `${prefix}${key}.`));
        else out.push(prefix + key);
    }
    return out;
}
