// SPDX-License-Identifier: GPL-3.0-or-later
// What the whole page knows: who is signed in, whose record is open, what was computed for it.
import { signal, computed, batch } from './ui.js';
import { api, listen, whenSignedOut } from './api.js';
import { EditedRecord } from './record.js';
import { Computation } from './compute.js';
import { today } from './dates.js';

/** @typedef {import('./types.d.ts').Session} Session */
/** @typedef {import('./types.d.ts').Row} Row */
/** @typedef {import('./types.d.ts').Vocabulary} Vocabulary */

export const session = signal(/** @type {Session|null} */ (null));
export const vocabulary = signal(/** @type {Vocabulary|null} */ (null));
export const evidence = signal(/** @type {any} */ (null));
export const away = signal(''); // a sentence while the server cannot be reached at the start
export const changeNumber = signal(0); // raised at every change anywhere: lists read again

export const person = signal(/** @type {EditedRecord|null} */ (null));
export const visit = signal(/** @type {EditedRecord|null} */ (null));
export const visits = signal(/** @type {Row[]} */ ([]));
export const computation = new Computation();

export const role = computed(() => session.value?.user?.role ?? null);

/** May the one signed in write this kind? The server decides; this only greys out. @param {string} kind */
export function mayWrite(kind) {
    const now = role.value;
    if (now === 'owner' || now === 'clinician') return true;
    if (now === 'assistant') return ['visit', 'score', 'person'].includes(kind);
    return false;
}

let stopListening = () => {};

/** Everything a signed-in browser needs before the first area. @param {Session} now */
export async function begin(now) {
    if (now.user) {
        const [words, known] = await Promise.all([api.vocabulary(), api.evidence().catch(() => null)]);
        batch(() => {
            vocabulary.value = words;
            evidence.value = known;
        });
        stopListening();
        stopListening = listen((job) => computation.heard(job), heardChange);
    }
    session.value = now;
}

/** @param {{kind: string, id: string}} change */
function heardChange(change) {
    changeNumber.value++;
    for (const record of [person.peek(), visit.peek()])
        if (record && record.kind === change.kind && record.id === change.id)
            record.changedElsewhere().catch(() => {});
}

/** Leaves nothing of anybody in memory. */
export function forget() {
    stopListening();
    stopListening = () => {};
    closePerson();
    batch(() => {
        vocabulary.value = null;
        evidence.value = null;
        session.value = session.value && { ...session.value, user: null };
    });
}

whenSignedOut(() => {
    // What is typed stays in memory until the same tab is signed in again or closed.
    if (session.peek()?.user) session.value = { .../** @type {Session} */ (session.peek()), user: null };
});

export function closePerson() {
    person.peek()?.close();
    visit.peek()?.close();
    batch(() => {
        person.value = null;
        visit.value = null;
        visits.value = [];
    });
    computation.close();
}

/** @param {string} id */
export async function openPerson(id) {
    if (person.peek()?.id === id) return;
    closePerson();
    const [row, all] = await Promise.all([api.person(id), api.records(id, 'visit').catch(() => [])]);
    person.value = new EditedRecord({ ...row, kind: 'person' });
    visits.value = sortVisits(all);
    if (visits.value[0]) await openVisit(visits.value[0]);
}

/** @param {Row[]} rows */
function sortVisits(rows) {
    return [...rows].sort((a, b) => String(b.body.visit_date).localeCompare(String(a.body.visit_date)));
}

/** @param {Row} row */
export async function openVisit(row) {
    visit.peek()?.close();
    const record = new EditedRecord({ ...row, kind: 'visit' }, () => {
        const at = visits.peek().findIndex((one) => one.id === record.id);
        if (at >= 0)
            visits.value = visits.peek().map((one, i) =>
                (i === at ? { ...one, version: record.version.peek(), body: record.saved.peek() } : one));
        if (mayWrite('visit')) computation.request(record.id, record.version.peek());
    });
    visit.value = record;
    await computation.open(record.person ?? '', record.id, record.version.peek(), mayWrite('visit'));
}

/** A new visit takes over what does not change from one to the next; never answers or scores. */
export async function addVisit() {
    const who = person.peek();
    if (!who) return;
    const last = visits.peek()[0]?.body;
    const body = newVisit(who.draft.peek(), last);
    const head = await api.addRecord(who.id, 'visit', body, 'new visit');
    const row = { kind: 'visit', id: head.id, person: who.id, version: head.version ?? 1, body };
    visits.value = sortVisits([row, ...visits.peek()]);
    await openVisit(row);
}

/** @param {any} who @param {any} last */
export function newVisit(who, last) {
    const keep = (/** @type {any} */ from, /** @type {string[]} */ keys) =>
        Object.fromEntries(keys.filter((key) => from?.[key] !== undefined).map((key) => [key, from[key]]));
    const feet = Object.fromEntries(['left', 'right'].map((side) =>
        [side, keep(last?.feet?.[side], ['scan', 'measures', 'orthosis'])]));
    return {
        heelwright_case: 1,
        ...(who.invented ? { invented: true } : {}),
        visit_date: today(),
        person: {
            ...keep(last?.person, ['birth_year', 'sex']),
            ...(who.born ? { birth_year: Number(who.born.slice(0, 4)) } : {}), ...keep(who, ['sex']),
        },
        ...keep(last, ['height_cm', 'medicines', 'conditions', 'allergies', 'past_treatments', 'shoe']),
        red_flags: {},
        feet,
    };
}
