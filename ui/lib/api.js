// SPDX-License-Identifier: GPL-3.0-or-later
// The only place that talks to the server.

/** @typedef {import('./types.d.ts').Session} Session */
/** @typedef {import('./types.d.ts').Row} Row */
/** @typedef {import('./types.d.ts').Head} Head */
/** @typedef {import('./types.d.ts').Job} Job */
/** @typedef {import('./types.d.ts').Fault} Fault */

/** The server said no, or did not answer (status 0). */
export class Refusal extends Error {
    /** @param {number} status @param {any} body */
    constructor(status, body) {
        super(body?.error ?? (status === 0 ? 'The server does not answer.' : `The server answered ${status}.`));
        this.status = status;
        this.body = body ?? {};
        /** @type {Fault[]} */
        this.faults = body?.faults ?? [];
    }
}

let token = '';
/** @type {() => void} */
let onSignedOut = () => {};

/** @param {() => void} call */
export function whenSignedOut(call) {
    onSignedOut = call;
}

/**
 * @param {string} method @param {string} path @param {any} [body] JSON, or bytes as they are
 * @param {AbortSignal} [signal]
 */
async function ask(method, path, body, signal) {
    /** @type {Record<string, string>} */
    const headers = { Accept: 'application/json' };
    if (method !== 'GET') headers['X-Heelwright-Token'] = token;
    const isBytes = body instanceof Blob || body instanceof ArrayBuffer;
    if (body !== undefined) headers['Content-Type'] = isBytes ? 'application/octet-stream' : 'application/json';
    let reply;
    try {
        reply = await fetch(`/api${path}`, {
            method, headers, signal, cache: 'no-store', credentials: 'same-origin',
            body: body === undefined || isBytes ? body : JSON.stringify(body),
        });
    } catch (fault) {
        if (signal?.aborted) throw fault;
        throw new Refusal(0, null);
    }
    const text = await reply.text();
    let json = null;
    try {
        json = text ? JSON.parse(text) : null;
    } catch {
        json = { error: `The server answered ${reply.status} with something that is not JSON.` };
    }
    if (reply.ok) return json;
    if (reply.status === 401 && path !== '/session') onSignedOut();
    throw new Refusal(reply.status, json);
}

/** @param {Session} session */
function keepToken(session) {
    token = session?.token ?? '';
    return session;
}

/** Lists come bare or under a name. @param {any} reply @param {string} name @returns {any[]} */
function listOf(reply, name) {
    return Array.isArray(reply) ? reply : reply?.[name] ?? reply?.rows ?? [];
}

const id = encodeURIComponent;

export const api = {
    /** @returns {Promise<Session>} */
    session: async () => keepToken(await ask('GET', '/session')),
    /** @param {string} login @param {string} passphrase @returns {Promise<Session>} */
    signIn: async (login, passphrase) => {
        await api.session();
        return keepToken(await ask('POST', '/session', { login, passphrase }));
    },
    signOut: () => ask('DELETE', '/session'),
    /** @param {any} owner {code, login, name, passphrase} @returns {Promise<Session>} */
    firstUse: async (owner) => keepToken(await ask('POST', '/first-use', owner)),

    vocabulary: () => ask('GET', '/vocabulary'),
    /** @param {string} [search] @returns {Promise<Row[]>} */
    people: async (search = '') => listOf(await ask('GET', `/people?search=${id(search)}`), 'people'),
    /** @param {any} body @returns {Promise<Head>} */
    addPerson: (body) => ask('POST', '/people', { body, why: 'new person' }),
    /** @param {string} person @returns {Promise<Row>} */
    person: (person) => ask('GET', `/people/${id(person)}`),
    /** @param {string} person @param {number} version @param {any} body @param {string} why */
    savePerson: (person, version, body, why) => ask('PUT', `/people/${id(person)}`, { version, body, why }),
    /** @param {string} person @param {string} why */
    erasePerson: (person, why) => ask('POST', `/people/${id(person)}/erase`, { why }),
    /** @param {string} person @param {string} kind @returns {Promise<Row[]>} */
    records: async (person, kind) => listOf(await ask('GET', `/people/${id(person)}/records?kind=${id(kind)}`), 'records'),
    /** @param {string} person @param {string} kind @param {any} body @param {string} why @returns {Promise<Head>} */
    addRecord: (person, kind, body, why) => ask('POST', `/people/${id(person)}/records/${id(kind)}`, { body, why }),
    /** @param {string} kind @param {string} record @param {number} [version] @returns {Promise<Row>} */
    record: (kind, record, version) =>
        ask('GET', `/records/${id(kind)}/${id(record)}${version ? `?version=${version}` : ''}`),
    /** @param {string} kind @param {string} record @returns {Promise<Head[]>} */
    history: async (kind, record) => listOf(await ask('GET', `/records/${id(kind)}/${id(record)}/history`), 'history'),
    /** @param {string} kind @param {string} record @param {number} version @param {any} body @param {string} why */
    saveRecord: (kind, record, version, body, why) =>
        ask('PUT', `/records/${id(kind)}/${id(record)}`, { version, body, why }),
    /** @param {string} kind @param {string} record @param {number} version @param {number} to */
    undo: (kind, record, version, to) => ask('POST', `/records/${id(kind)}/${id(record)}/undo`, { version, to }),

    /** @param {string} person @param {File} file @returns {Promise<{file: string, name: string, triangles: number, bytes: number}>} */
    addFile: (person, file) => ask('PUT', `/people/${id(person)}/files?name=${id(file.name)}`, file),
    /** @param {string} hash @param {string} name */
    fileAddress: (hash, name) => `/api/files/${id(hash)}?name=${id(name)}`,
    /** @param {string} hash @param {string} name @returns {Promise<ArrayBuffer>} */
    fileBytes: async (hash, name) => {
        const reply = await fetch(api.fileAddress(hash, name), { credentials: 'same-origin' }).catch(() => null);
        if (!reply?.ok) throw new Refusal(reply?.status ?? 0, { error: `The file ${name} cannot be read.` });
        return reply.arrayBuffer();
    },
    /** A paper that is made when it is asked for. @param {string} address */
    paperBytes: async (address) => {
        const reply = await fetch(address, { credentials: 'same-origin', cache: 'no-store' }).catch(() => null);
        if (reply?.ok) return reply.arrayBuffer();
        throw new Refusal(reply?.status ?? 0, await reply?.json().catch(() => null) ?? null);
    },
    auditAddress: '/api/caseload/report',
    /** @param {string} person */
    treatmentRecordAddress: (person) => `/api/people/${id(person)}/treatment-record`,
    /** One table of the caseload; that it was taken is written down. @param {string} table @param {string} why @returns {Promise<ArrayBuffer>} */
    exportTable: async (table, why) => {
        const reply = await fetch('/api/caseload/export', { method: 'POST', credentials: 'same-origin', cache: 'no-store',
            headers: { 'Content-Type': 'application/json', 'X-Heelwright-Token': token }, body: JSON.stringify({ table, why }) }).catch(() => null);
        if (reply?.ok) return reply.arrayBuffer();
        throw new Refusal(reply?.status ?? 0, await reply?.json().catch(() => null) ?? null);
    },

    /** @param {string} person @param {string} text a bundle @returns {Promise<Head>} */
    importBundle: (person, text) => {
        let bundle = null;
        try {
            bundle = JSON.parse(text);
        } catch {
            throw new Refusal(0, { error: 'This file is not JSON.' });
        }
        return ask('POST', `/people/${id(person)}/import`, bundle);
    },

    /** @param {string} person @param {File} file @returns {Promise<{file: string, about: any}>} */
    addImage: (person, file) => ask('PUT', `/people/${id(person)}/images?name=${id(file.name)}`, file),
    /** @param {string} hash */
    imageAddress: (hash) => `/api/images/${id(hash)}`,
    /** @param {string} hash @param {any} marks ruler, caliper, box ... in pixels */
    measureImage: (hash, marks) => ask('POST', `/images/${id(hash)}`, marks),
    /** @param {string} side @param {any} earlier @param {any} later readings as visits keep them */
    thicknessChange: (side, earlier, later) => ask('POST', '/thickness-change', { side, earlier, later }),
    /** @param {string} person @param {File} file @param {string} unit @returns {Promise<{file: string, about: any}>} */
    addWalk: (person, file, unit) => ask('PUT', `/people/${id(person)}/walks?name=${id(file.name)}${unit ? `&unit=${id(unit)}` : ''}`, file),
    /** @param {string} hash @param {any} which plate, step, markers, mass */
    walk: (hash, which) => ask('POST', `/walks/${id(hash)}`, which),
    /** @param {string} person @param {File} file @returns {Promise<{file: string}>} */
    addPressure: (person, file) => ask('PUT', `/people/${id(person)}/pressures?name=${id(file.name)}`, file),
    /** @param {string} hash @param {any} how cell, unit, mass */
    pressure: (hash, how) => ask('POST', `/pressures/${id(hash)}`, how),

    /** @param {string} visit @param {number} version @param {string[]} parts @param {any} [trial] @param {any} [mill] choice for the part "mill" @param {number} [previous] version whose devices it is laid on @returns {Promise<{job: string}>} */
    compute: (visit, version, parts, trial, mill, previous) =>
        ask('POST', `/visits/${id(visit)}/compute`, { version, parts, ...(trial ? { case: trial } : {}), ...(mill ? { mill } : {}),
            ...(previous ? { previous } : {}) }),
    /** @param {string} job @returns {Promise<Job>} */
    job: (job) => ask('GET', `/jobs/${id(job)}`),
    /** @param {string} job */
    cancel: (job) => ask('POST', `/jobs/${id(job)}/cancel`, {}),

    /** @param {string} code */
    devices: async (code) => listOf(await ask('GET', `/devices?code=${id(code)}`), 'devices'),
    /** @param {string} old @param {string} fresh */
    newPassphrase: (old, fresh) => ask('POST', '/session/passphrase', { old, new: fresh }),

    /** A second clinician agrees to overrule a rule. @param {{login: string, passphrase: string, person: string, rule: string, reason: string}} word @returns {Promise<{second: string}>} */
    second: (word) => ask('POST', '/second', word),

    users: async () => listOf(await ask('GET', '/users'), 'users'),
    /** @param {any} user */
    addUser: (user) => ask('POST', '/users', user),
    /** @param {string} user @param {any} body */
    saveUser: (user, body) => ask('PUT', `/users/${id(user)}`, body),
    workers: async () => listOf(await ask('GET', '/workers'), 'workers'),
    /** @param {{name: string, line: string}} worker @returns {Promise<{worker: {id: string, name: string, line: string}}>} */
    addWorker: (worker) => ask('POST', '/workers', worker),
    /** @param {string} worker */
    withdrawWorker: (worker) => ask('POST', `/workers/${id(worker)}/withdraw`, {}),
    clinic: () => ask('GET', '/clinic'),
    /** @param {number} version @param {any} body */
    saveClinic: (version, body) => ask('PUT', '/clinic', { version, body, why: 'settings' }),
    milling: () => ask('GET', '/milling'),
    rules: () => ask('GET', '/rules'),
    evidence: () => ask('GET', '/evidence'),
    trials: () => ask('GET', '/trials'),
    caseload: () => ask('GET', '/caseload'),
    /** @param {'first step'|'average'|'activity'} pain @param {{date: string, score: number}[]} scores */
    course: (pain, scores) => ask('POST', '/course', { pain, scores }),
    scales: () => ask('GET', '/scales'),
    /** Sheets of one questionnaire, scored. @param {any} request */
    scores: (request) => ask('POST', '/scores', request),
    audit: () => ask('GET', '/audit'),
    backup: () => ask('POST', '/backup', {}),
    verify: () => ask('GET', '/verify'),
    /** @param {string} person @returns {Promise<{code: string, until: string}>} */
    scoreCode: (person) => ask('POST', `/people/${id(person)}/code`, {}),
    /** @param {string} code @param {any} scores */
    sendScores: (code, scores) => ask('POST', '/score-form', { code, scores }),
};

/**
 * Events of this browser; reconnects by itself.
 * @param {(job: Job) => void} onJob @param {(change: {change: number, kind: string, id: string}) => void} onChange
 */
export function listen(onJob, onChange) {
    const source = new EventSource('/api/events');
    source.addEventListener('job', (event) => onJob(JSON.parse(event.data)));
    source.addEventListener('change', (event) => onChange(JSON.parse(event.data)));
    return () => source.close();
}
