// SPDX-License-Identifier: GPL-3.0-or-later
// What the program computed for the open visit, and the job that is at it.
// Only the newest question's answer is shown; older answers are dropped.
import { signal, batch } from './ui.js';
import { api, Refusal } from './api.js';
import { readMesh } from './mesh.js';

/** @typedef {import('./types.d.ts').Job} Job */
/** @typedef {{visit: any, walk: any, files: Record<string, string>, version: number, asked?: any}} Result asked: the case, where it was sent along */

/** All of a visit: what takes long, the causes of the load and the device pressed in full, is asked last. */
const PARTS = ['foot', 'load', 'causes', 'orthosis', 'press', 'plan'];
const QUICK = ['load', 'orthosis', 'plan'];
const ASK_MS = 60;
const REST_MS = 150;
const POLL_MS = 250; // events say it sooner; this is for when they do not come

/** @param {ArrayBuffer} bytes */
function jsonOf(bytes) {
    return JSON.parse(new TextDecoder().decode(bytes));
}

/** @param {any} body */
function scansOf(body) {
    return ['left', 'right'].map((side) => body?.feet?.[side]?.scan?.file ?? '').join(' ').trim();
}

/** No device in it was pressed in a hurry only. @param {Result|null} result */
function isWhole(result) {
    const feet = result?.visit?.feet ?? {};
    return ['left', 'right'].every((side) => feet[side]?.orthosis?.press?.effort !== 'preview');
}

export class Computation {
    constructor() {
        this.result = signal(/** @type {Result|null} */ (null));
        this.trial = signal(/** @type {Result|null} */ (null)); // of a case not saved: a slider being moved
        this.job = signal(/** @type {Job|null} */ (null));
        this.trouble = signal('');
        this.faults = signal(/** @type {import('./types.d.ts').Fault[]} */ ([]));
        this.times = signal(/** @type {Record<string, number>} */ ({})); // ms since asked, for the tests
        this.visitId = '';
        this.scans = ''; // which files were computed last
        this.asked = 0; // number of the newest question
        this.waiting = new Map(); // job id -> call
        this.meshes = new Map(); // hash -> promise of a mesh
        this.mapFiles = new Map(); // hash -> promise of a press.json or fit.json
        this.timer = 0;
    }

    /** @param {string} person @param {string} visitId @param {number} version @param {boolean} mayCompute @param {any} body */
    async open(person, visitId, version, mayCompute, body) {
        this.close();
        this.visitId = visitId;
        this.scans = scansOf(body);
        try {
            const row = (await api.records(person, 'result')).find((one) => one.id === visitId);
            if (this.visitId !== visitId) return;
            if (row) await this.take(row.body, 'result', ++this.asked);
            if (row?.body.visit_version === version && isWhole(this.result.peek())) return;
        } catch (fault) {
            if (!(fault instanceof Refusal)) throw fault;
        }
        if (mayCompute && this.visitId === visitId) await this.request(visitId, version, body, 0);
    }

    close() {
        clearTimeout(this.timer);
        this.asked++;
        this.visitId = '';
        this.waiting.clear();
        this.meshes.clear();
        this.mapFiles.clear();
        batch(() => {
            this.result.value = null;
            this.trial.value = null;
            this.job.value = null;
            this.trouble.value = '';
            this.faults.value = [];
        });
    }

    /** @param {string} visitId @param {number} version @param {any} body @param {number} [rest] ms to wait for more changes */
    request(visitId, version, body, rest = REST_MS) {
        if (visitId !== this.visitId) return Promise.resolve();
        clearTimeout(this.timer);
        const scans = scansOf(body);
        const isNew = scans !== this.scans;
        this.scans = scans;
        if (isNew && scans) return this.runInStages(version, body, [['foot'], QUICK]);
        return new Promise((done) => {
            this.timer = globalThis.setTimeout(() => done(this.runInStages(version, body, [QUICK])), rest);
        });
    }

    /** Each stage is shown as it comes; all of it, and only that, is kept. @param {number} version @param {any} body @param {string[][]} stages */
    async runInStages(version, body, stages) {
        for (const parts of stages) {
            const asked = this.asked + 1;
            await this.run(version, body, parts, 'result');
            if (asked !== this.asked || this.trouble.peek()) return; // something newer was asked, or it is no foot
        }
        await this.run(version, undefined, PARTS);
    }

    /** A case that is not saved. @param {number} version @param {any} body @param {string[]} parts */
    try(version, body, parts) {
        return this.run(version, body, parts);
    }

    /** A side question: answered to the one who asks, shown nowhere. @param {number} version @param {any} body @param {string[]} parts
     * @param {number} [previous] version whose devices these are laid on @returns {Promise<Result|null>} */
    async ask(version, body, parts, previous) {
        const { job } = await api.compute(this.visitId, version, parts, body, undefined, previous);
        for (;;) {
            const now = await api.job(job);
            if (now.state === 'failed') throw new Refusal(422, { error: now.sentence });
            if (now.state === 'cancelled') return null;
            if (now.state === 'done') return this.read(now.result);
            await new Promise((rest) => globalThis.setTimeout(rest, ASK_MS));
        }
    }

    /** @param {any} body @returns {Promise<Result>} */
    async read(body) {
        const files = body.files ?? {};
        const [visit, walk] = await Promise.all(['visit.json', 'walk.json'].map(async (name) =>
            (files[name] ? jsonOf(await api.fileBytes(files[name], name)) : null)));
        return { visit, walk, files, version: body.visit_version };
    }

    /** All of the saved visit, with milling programs of its devices. @param {number} version @param {any} choice */
    mill(version, choice) {
        clearTimeout(this.timer);
        return this.run(version, undefined, [...PARTS, 'mill'], 'result', choice);
    }

    /** @param {number} version @param {any} body undefined: as saved @param {string[]} parts @param {'result'|'trial'} [where] @param {any} [mill] */
    async run(version, body, parts, where = body ? 'trial' : 'result', mill = undefined) {
        const asked = ++this.asked;
        const visitId = this.visitId;
        batch(() => {
            this.trouble.value = '';
            this.faults.value = [];
            this.job.value = { id: '', state: 'waiting', progress: 0, sentence: 'Asked' };
        });
        try {
            const { job } = await api.compute(visitId, version, parts, body, mill);
            const done = await this.wait(job, asked);
            if (!done || asked !== this.asked) return;
            if (done.state === 'done') await this.take(await this.resultOf(done, visitId), where, asked, body);
            else if (done.state === 'failed') this.fail(done.sentence, done.result?.faults);
            if (asked === this.asked) this.job.value = done;
        } catch (fault) {
            if (!(fault instanceof Refusal)) throw fault;
            if (asked === this.asked) {
                this.job.value = null;
                this.fail(fault.message, fault.faults);
            }
        }
    }

    /** @param {string} sentence @param {any} [faults] */
    fail(sentence, faults) {
        batch(() => {
            this.trouble.value = sentence;
            this.faults.value = faults ?? [];
        });
    }

    /** @param {Job} done @param {string} visitId */
    async resultOf(done, visitId) {
        if (done.result?.files) return done.result;
        return (await api.record('result', visitId)).body;
    }

    /** @param {string} id @param {number} asked @returns {Promise<Job|null>} */
    wait(id, asked) {
        return new Promise((finish) => {
            const look = async () => {
                if (asked !== this.asked) return finish(null);
                const job = await api.job(id).catch(() => null);
                if (!this.waiting.has(id)) return;
                if (job && this.see(job, asked)) finish(job);
                else globalThis.setTimeout(look, POLL_MS);
            };
            this.waiting.set(id, async () => {
                const job = await api.job(id).catch(() => null);
                if (job && this.waiting.has(id) && this.see(job, asked)) finish(job);
            });
            look();
        });
    }

    /** @param {Job} job @param {number} asked @returns {boolean} whether it has ended */
    see(job, asked) {
        const ended = ['done', 'failed', 'cancelled'].includes(job.state);
        if (ended) this.waiting.delete(job.id);
        if (asked === this.asked) this.job.value = job;
        return ended;
    }

    /** An event came. @param {Job} job */
    heard(job) {
        const call = this.waiting.get(job.id);
        if (!call) return;
        if (['done', 'failed', 'cancelled'].includes(job.state)) call();
        else if (this.job.peek()?.id === job.id || this.job.peek()?.id === '') this.job.value = { ...this.job.peek(), ...job };
    }

    /** @param {any} body @param {'result'|'trial'} where @param {number} asked @param {any} [tried] the case sent along */
    async take(body, where, asked, tried) {
        const read = { ...await this.read(body), asked: tried };
        if (asked !== this.asked) return;
        batch(() => {
            this[where].value = read;
            if (where === 'result') this.trial.value = null;
        });
    }

    /** Dates that a side question brought stand at once; the whole is computed behind them. @param {any} plan */
    takeDates(plan) {
        const now = this.result.peek();
        if (now?.visit?.plan) this.result.value = { ...now,
            visit: { ...now.visit, plan: { ...now.visit.plan, timeline: plan.timeline, notes: plan.notes } } };
    }

    /** A surface of the newest result, or null where it has none. @param {Result} of @param {string} name */
    mesh(of, name) {
        const hash = of.files[name];
        if (!hash) return Promise.resolve(null);
        if (!this.meshes.has(hash)) {
            if (this.meshes.size > 24) this.meshes.clear();
            this.meshes.set(hash, api.fileBytes(hash, name).then(readMesh));
        }
        return this.meshes.get(hash);
    }

    /** Maps of devices, a JSON file of the result, or null where it has none. @param {Result} of @param {'press.json'|'fit.json'|'milling.json'|'milling-map.json'} name @returns {Promise<any>} */
    maps(of, name) {
        const hash = of.files[name];
        if (!hash) return Promise.resolve(null);
        if (!this.mapFiles.has(hash)) {
            if (this.mapFiles.size > 5) this.mapFiles.clear(); // a megabyte each
            this.mapFiles.set(hash, api.fileBytes(hash, name).then(jsonOf));
        }
        return this.mapFiles.get(hash);
    }

    /** How a device is pressed. @param {Result} of @returns {Promise<any>} */
    pressMaps(of) {
        return this.maps(of, 'press.json');
    }

    stop() {
        const id = this.job.peek()?.id;
        if (id) api.cancel(id).catch(() => {});
    }
}
