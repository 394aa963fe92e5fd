// SPDX-License-Identifier: GPL-3.0-or-later
// Asking while a slider moves: only the newest question is answered on the page.
import test from 'node:test';
import assert from 'node:assert/strict';
import { Computation } from '../../../ui/lib/compute.js';

/** A server with jobs that end when told to. */
function stage() {
    const jobs = new Map();
    let count = 0;
    const asked = [];
    globalThis.fetch = async (path, how = {}) => {
        const reply = (body, status = 200) => new Response(typeof body === 'string' ? body : JSON.stringify(body), { status });
        if (path.endsWith('/compute')) {
            asked.push(JSON.parse(how.body));
            const id = `job${++count}`;
            jobs.set(id, { id, state: 'running', progress: 0.5, sentence: 'at it' });
            return reply({ job: id });
        }
        const job = /\/jobs\/(\w+)$/.exec(path);
        if (job) return reply(jobs.get(job[1]));
        const file = /\/files\/(\w+)/.exec(path);
        if (file) return reply(`{"made_by": "${file[1]}"}`);
        return reply({ error: `no ${path}` }, 404);
    };
    const finish = (id, more = {}) => jobs.set(id, { id, state: 'done', progress: 1, sentence: '', result: { visit_version: 1, files: { 'visit.json': `of${id}` } }, ...more });
    return { asked, finish };
}

const turn = () => new Promise((go) => setTimeout(go, 5));

test('an older answer that comes late is dropped', async () => {
    const { finish } = stage();
    const one = new Computation();
    one.visitId = 'v';
    const first = one.try(1, { a: 1 }, ['orthosis']);
    await turn();
    const second = one.try(1, { a: 2 }, ['orthosis']);
    await turn();
    finish('job2');
    one.heard({ id: 'job2', state: 'done', progress: 1, sentence: '' });
    await second;
    assert.equal(one.trial.value.visit.made_by, 'ofjob2');
    finish('job1');
    one.heard({ id: 'job1', state: 'done', progress: 1, sentence: '' });
    await first;
    assert.equal(one.trial.value.visit.made_by, 'ofjob2');
    one.close();
});

test('a trial never stands as the visit’s result; the result takes the trial away', async () => {
    const { finish, asked } = stage();
    const one = new Computation();
    one.visitId = 'v';
    const trial = one.try(1, { a: 1 }, ['orthosis']);
    await turn();
    finish('job1');
    one.heard({ id: 'job1', state: 'done', progress: 1, sentence: '' });
    await trial;
    assert.equal(one.result.value, null);
    const full = one.request('v', 2, { a: 2 }, 0);
    await turn();
    finish('job2');
    one.heard({ id: 'job2', state: 'done', progress: 1, sentence: '' });
    await turn();
    assert.equal(one.result.value.visit.made_by, 'ofjob2', 'what is quick is seen first');
    assert.equal(one.trial.value, null);
    assert.ok(!asked[1].parts.includes('press') && !asked[1].parts.includes('causes'));
    await turn();
    finish('job3');
    one.heard({ id: 'job3', state: 'done', progress: 1, sentence: '' });
    await full;
    assert.equal(one.result.value.visit.made_by, 'ofjob3');
    assert.equal('case' in asked[2], false, 'what is saved is computed as saved');
    assert.deepEqual(asked[2].parts, ['foot', 'load', 'causes', 'orthosis', 'press', 'plan']);
    one.close();
});

test('a new scan is seen in stages, measures first; a failure ends them with its sentence', async () => {
    const { finish, asked } = stage();
    const one = new Computation();
    one.visitId = 'v';
    const body = { feet: { left: { scan: { file: 'abc' } } } };
    const all = one.request('v', 2, body);
    await turn();
    assert.deepEqual(asked[0].parts, ['foot']);
    finish('job1');
    one.heard({ id: 'job1', state: 'done', progress: 1, sentence: '' });
    await turn();
    await turn();
    assert.equal(one.result.value.visit.made_by, 'ofjob1');
    assert.deepEqual(asked[1].parts, ['load', 'orthosis', 'plan']);
    finish('job2', { state: 'failed', sentence: 'this is not a foot', result: undefined });
    one.heard({ id: 'job2', state: 'failed', progress: 1, sentence: '' });
    await all;
    assert.equal(one.trouble.value, 'this is not a foot');
    assert.equal(asked.length, 2);
    one.close();
});

test('while a slider moves the device is never pressed in full', async () => {
    const { asked } = stage();
    const one = new Computation();
    one.visitId = 'v';
    one.try(1, { a: 1 }, ['orthosis']);
    await turn();
    assert.deepEqual(asked.map((question) => question.parts), [['orthosis']]);
    one.close();
});

test('leaving the visit drops what was asked for it', async () => {
    const { finish } = stage();
    const one = new Computation();
    one.visitId = 'v';
    const late = one.try(1, { a: 1 }, ['orthosis']);
    await turn();
    one.close();
    finish('job1');
    assert.equal(one.trial.value, null);
    await Promise.race([late, turn()]);
    assert.equal(one.trial.value, null);
});
