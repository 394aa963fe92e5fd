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
/** Records left before the server took them: they go on trying. */
export const leaving = signal(/** @type {EditedRecord[]} */ ([]));

export const role = computed(() => session.value?.user?.role ?? null);

/** May the one signed in write this kind? The server decides; this only greys out. @param {string} kind */
export function mayWrite(kind) {
    const now = role.value;
    if (now === 'owner' || now === 'clinician') return true;
    if (now === 'assistant') return ['visit', 'score', 'person'].includes(kind);
    return false;
}

let stopListening = () => {};
let lastUser = ''; // whose typing may still be in memory

/** Everything a signed-in browser needs before the first area. @param {Session} now */
export async function begin(now) {
    // Until a passphrase of their own is set, nothing else is answered.
    if (now.user && !now.user.must_set_passphrase) {
        const [words, known] = await Promise.all([api.vocabulary(), api.evidence().catch(() => null)]);
        batch(() => {
            vocabulary.value = words;
            evidence.value = known;
        });
        stopListening();
        stopListening = listen((job) => computation.heard(job), heardChange);
    }
    if (now.user && lastUser !== now.user.id) dropPerson(); // never saved in somebody else's name
    lastUser = now.user?.id ?? lastUser;
    session.value = now;
    for (const record of [person.peek(), visit.peek(), ...leaving.peek()])
        if (now.user && !now.user.must_set_passphrase && record?.state.peek() === 'away') record.save();
}

/** @param {{kind: string, id: string}} change */
function heardChange(change) {
    changeNumber.value++;
    for (const record of [person.peek(), visit.peek()])
        if (record && record.kind === change.kind && record.id === change.id)
            record.changedElsewhere().catch(() => {});
}

/** Sends what is typed; false where the server did not take all of it. */
export async function saveAll() {
    const records = [person.peek(), visit.peek(), ...leaving.peek()].filter((record) => record !== null);
    await Promise.all(records.map((record) => record.save()));
    return records.every((record) => record.state.peek() === 'saved');
}

/** Leaves nothing of anybody in memory. */
export function forget() {
    stopListening();
    stopListening = () => {};
    dropPerson();
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
    for (const record of [person.peek(), visit.peek()]) leave(record);
    clearPerson();
}

/** What is typed and not yet on the server goes on trying by itself. @param {EditedRecord|null} record */
function leave(record) {
    if (!record || record.state.peek() === 'saved') return;
    leaving.value = [...leaving.peek(), record];
    record.onSaved = () => {
        if (record.state.peek() === 'saved') leaving.value = leaving.peek().filter((one) => one !== record);
    };
    record.close();
}

/** Nothing typed is sent any more: another person sits here. */
function dropPerson() {
    for (const record of [person.peek(), visit.peek(), ...leaving.peek()]) record?.discard();
    leaving.value = [];
    clearPerson();
}

function clearPerson() {
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
    leave(visit.peek());
    const record = new EditedRecord({ ...row, kind: 'visit' }, () => {
        const at = visits.peek().findIndex((one) => one.id === record.id);
        if (at >= 0)
            visits.value = visits.peek().map((one, i) =>
                (i === at ? { ...one, version: record.version.peek(), body: record.saved.peek() } : one));
        if (mayWrite('visit')) computation.request(record.id, record.version.peek(), record.saved.peek());
    });
    visit.value = record;
    await computation.open(record.person ?? '', record.id, record.version.peek(), mayWrite('visit'), row.body);
}

/** A new visit takes over what does not change from one to the next; never answers or scores. */
export async function addVisit() {
    const who = person.peek();
    if (!who) return;
    const last = visits.peek()[0]?.body;
    const body = withGiven(newVisit(who.draft.peek(), last), await api.records(who.id, 'treatment'));
    const head = await api.addRecord(who.id, 'visit', body, 'new visit');
    const row = { kind: 'visit', id: head.id, person: who.id, version: head.version ?? 1, body };
    visits.value = sortVisits([row, ...visits.peek()]);
    await openVisit(row);
}

const GIVEN = ['act', 'date', 'foot', 'substance', 'dose_mg', 'concentration_percent', 'volume_mL'];

/** Settings of a session, as the log and as the case name them. */
const SETTINGS = { pulses: 'pulses', frequency_Hz: 'rate_Hz', pressure_bar: 'pressure_bar', energy_mJ_per_mm2: 'energy_mJ_per_mm2', serial: 'head' };

/** A visit that knows what was given here until its day, once each: spacing rules stand on it. @param {any} body @param {{body: any}[]} treatments */
export function withGiven(body, treatments) {
    /** @type {any[]} */
    const known = body.past_treatments ?? [];
    const isKnown = (/** @type {any} */ one) => known.some((old) => ['act', 'date', 'foot'].every((key) => old[key] === one[key]));
    const settings = (/** @type {any} */ of) =>
        Object.fromEntries(Object.entries(SETTINGS).filter(([from]) => of[from] !== undefined).map(([from, to]) => [to, of[from]]));
    const fresh = treatments.map((row) =>
        ({ ...Object.fromEntries(GIVEN.filter((key) => row.body[key] !== undefined).map((key) => [key, row.body[key]])), ...settings(row.body) }))
        .filter((one) => one.date <= body.visit_date && !isKnown(one));
    return fresh.length ? { ...body, past_treatments: [...known, ...fresh] } : body;
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
