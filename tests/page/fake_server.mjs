// SPDX-License-Identifier: GPL-3.0-or-later
// A stand-in for the server while it is being written: in memory, for the page's tests only.
// node tests/page/fake_server.mjs PORT PAGEFILES DEMOFOLDER
import http from 'node:http';
import fs from 'node:fs';
import path from 'node:path';
import crypto from 'node:crypto';
import { execFile } from 'node:child_process';

const [port, tool, demo] = process.argv.slice(2);
const ui = path.resolve(import.meta.dirname, '../../ui');
const TYPES = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml', '.json': 'application/json', '.pdf': 'application/pdf' };
const CSP = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";
const records = new Map(), files = new Map(), jobs = new Map(), streams = new Set();
const newId = () => crypto.randomBytes(8).toString('hex');
let change = 0;
const users = [['owner', 'Marta Quay', ['injection', 'focused_shockwave']], ['clinician', 'Jon Pell', ['injection']], ['assistant', 'Ida Roe', []], ['maker', 'Tom Keel', []]].map(([role, name, permissions]) => ({ id: newId(), login: role, name, role, permissions }));
const sessions = new Map();
const say = (event, data) => streams.forEach((s) => s.write(`event: ${event}\ndata: ${JSON.stringify(data)}\n\n`));
function put(kind, id, person, body, who, why) {
    const key = `${kind}/${id}`;
    const list = records.get(key) ?? [];
    const row = { kind, id, person, version: list.length + 1, body, who, why, when: new Date().toISOString() };
    records.set(key, [...list, row]);
    say('change', { change: ++change, kind, id });
    return row;
}
const newest = (key) => records.get(key)?.at(-1);
const keep = (bytes) => { const hash = crypto.createHash('sha256').update(bytes).digest('hex').slice(0, 32); files.set(hash, bytes); return hash; };
const caseBody = JSON.parse(fs.readFileSync(`${demo}/case.json`));
const person = newId();
put('person', person, person, { code: caseBody.person.code, name: 'Hanna Breck', born: String(caseBody.person.birth_year), birth_year: caseBody.person.birth_year, sex: caseBody.person.sex, invented: true }, 'owner', 'new');
for (const side of ['left', 'right']) caseBody.feet[side].scan = { ...caseBody.feet[side].scan, file: keep(fs.readFileSync(`${demo}/${side}-scan.stl`)), name: `${side}-scan.stl` };
delete caseBody.person.code;
put('visit', newId(), person, caseBody, 'owner', 'new visit');
const docs = fs.readFileSync(path.resolve(import.meta.dirname, '../../docs/case.md'), 'utf8');
const findings = [];
for (const [title, scope] of [['At the top', 'visit'], ['In `person`', 'person'], ['In `red_flags`', 'red_flag'], ['In `feet.left`', 'foot'], ['In `heel_pain`', 'heel_pain']]) {
    const part = docs.slice(docs.indexOf(`### ${title}`)).split('\n### ')[0 + 1 - 1];
    for (const m of part.matchAll(/^\| `(\w+)` \| ([^|]*) \| ([^|]*) \|$/gm)) {
        const n = /^(-?\d+(?:\.\d+)?) to (-?\d+(?:\.\d+)?)(?: (.*))?$/.exec(m[2]);
        findings.push(n ? { key: m[1], scope, kind: 'number', unit: n[3] ?? '', low: +n[1], high: +n[2], words: [], what: m[3] } : { key: m[1], scope, kind: m[2] === 'no, yes' ? 'answer' : 'word', unit: '', low: 0, high: 0, words: m[2].split(', '), what: m[3] });
    }
}
const acts = [...docs.slice(docs.indexOf('### Treatments')).matchAll(/^- `([^`]+)`/gm)].map((m) => m[1]);
function compute(job, visit, body) {
    const folder = fs.mkdtempSync('/tmp/fake-');
    const at = newest(`visit/${visit}`);
    const copy = structuredClone(body ?? at.body);
    copy.person = { code: newest(`person/${at.person}`).body.code, ...copy.person };
    for (const foot of Object.values(copy.feet ?? {})) if (foot.scan) { fs.writeFileSync(`${folder}/${foot.scan.file}`, files.get(foot.scan.file)); delete foot.scan.name; }
    fs.writeFileSync(`${folder}/case.json`, JSON.stringify(copy));
    job.state = 'running';
    execFile(tool, [`${folder}/case.json`, folder], (bad, out, err) => {
        if (bad) Object.assign(job, { state: 'failed', sentence: err.trim() });
        else {
            const made = fs.readdirSync(folder).filter((f) => !/^case|^[0-9a-f]{32}$/.test(f));
            job.result = { visit_version: at.version, files: Object.fromEntries(made.map((f) => [f, keep(fs.readFileSync(`${folder}/${f}`))])) };
            Object.assign(job, { state: 'done', progress: 1, sentence: 'Done' });
            if (!body) put('result', visit, at.person, job.result, 'program', 'computed');
        }
        fs.rmSync(folder, { recursive: true });
        say('job', job);
    });
}
function api(method, url, body, raw, who) {
    const p = url.pathname.slice(5).split('/');
    const name = who?.name;
    if (p[0] === 'vocabulary') return { findings, acts };
    if (p[0] === 'evidence') return { evidence: [], sources: [] };
    if (p[0] === 'rules') return { rules: [] };
    if (p[0] === 'people' && !p[1]) {
        if (method === 'POST') { const id = newId(); return put('person', id, id, body.body, name, body.why); }
        const q = (url.searchParams.get('search') ?? '').toLowerCase();
        return { people: [...records.values()].map((l) => l.at(-1)).filter((r) => r.kind === 'person' && JSON.stringify(r.body).toLowerCase().includes(q)) };
    }
    if (p[0] === 'people' && p[2] === 'records') {
        if (method === 'POST') return put(p[3], newId(), p[1], body.body, name, body.why);
        return { records: [...records.values()].map((l) => l.at(-1)).filter((r) => r.person === p[1] && r.kind === url.searchParams.get('kind')) };
    }
    if (p[0] === 'people' && p[2] === 'files') {
        if (raw.length < 84) return [422, { error: `the file has ${raw.length} bytes; that is not a scan` }];
        return { file: keep(raw), name: url.searchParams.get('name'), triangles: Math.floor((raw.length - 84) / 50), bytes: raw.length };
    }
    if (p[0] === 'people' && p[2] === 'code') return { code: 'gull-4711', until: new Date(Date.now() + 9e5).toISOString() };
    if (p[0] === 'people' || p[0] === 'records') {
        const key = p[0] === 'people' ? `person/${p[1]}` : `${p[1]}/${p[2]}`;
        const now = newest(key);
        if (!now) return [404, { error: 'not found' }];
        if (p[3] === 'history') return { history: records.get(key).map(({ body: _, ...head }) => head) };
        if (method === 'GET') return now;
        if (body.version !== now.version) return [409, { error: 'somebody saved first', current: now }];
        if (p[3] === 'undo') return put(now.kind, now.id, now.person, records.get(key)[body.to - 1].body, name, `undo to version ${body.to}`);
        return put(now.kind, now.id, now.person, body.body, name, body.why);
    }
    if (p[0] === 'visits') {
        const job = { id: newId(), state: 'waiting', progress: 0, sentence: 'Computing' };
        jobs.set(job.id, job);
        compute(job, p[1], body.case);
        return { job: job.id };
    }
    if (p[0] === 'jobs') return jobs.get(p[1]);
    if (p[0] === 'users') return { users };
    if (p[0] === 'clinic') return { version: 1, body: { name: 'Kettle Quay foot clinic' } };
    if (p[0] === 'audit') return { audit: [...records.values()].flat().map(({ body: _, ...head }) => head) };
    return [404, { error: `no such door: ${url.pathname}` }];
}
http.createServer((req, res) => {
    const url = new URL(req.url, 'http://x');
    const parts = [];
    req.on('data', (d) => parts.push(d));
    req.on('end', () => {
        const raw = Buffer.concat(parts);
        const sid = /hw_session=(\w+)/.exec(req.headers.cookie ?? '')?.[1];
        const who = sessions.get(sid);
        const send = (status, json, more = {}) => { res.writeHead(status, { 'Content-Type': 'application/json', 'Cache-Control': 'no-store', ...more }); res.end(JSON.stringify(json)); };
        if (!url.pathname.startsWith('/api/')) {
            const file = path.join(ui, url.pathname === '/' ? 'index.html' : url.pathname);
            if (!fs.existsSync(file)) return send(404, {});
            res.writeHead(200, { 'Content-Type': TYPES[path.extname(file)] ?? 'application/octet-stream', 'Content-Security-Policy': CSP, 'Cache-Control': 'no-store' });
            return res.end(fs.readFileSync(file));
        }
        const session = (user) => ({ user: user ?? null, token: 'token', first_use: false, clinic: { name: 'Kettle Quay foot clinic', invented: true } });
        if (url.pathname === '/api/session') {
            if (req.method === 'GET') return send(200, session(who));
            if (req.method === 'DELETE') { sessions.delete(sid); return send(200, {}); }
            const user = users.find((u) => u.login === JSON.parse(raw).login);
            if (!user) return send(401, { error: 'name or passphrase is wrong' });
            const id = newId();
            sessions.set(id, user);
            return send(200, session(user), { 'Set-Cookie': `hw_session=${id}; HttpOnly; SameSite=Strict; Path=/` });
        }
        if (url.pathname === '/api/score-form') return send(200, {});
        if (!who) return send(401, { error: 'sign in first' });
        if (url.pathname === '/api/events') { res.writeHead(200, { 'Content-Type': 'text/event-stream' }); streams.add(res); req.on('close', () => streams.delete(res)); return res.write(':\n\n'); }
        if (url.pathname.startsWith('/api/files/')) {
            const bytes = files.get(url.pathname.split('/')[3]);
            res.writeHead(bytes ? 200 : 404, { 'Content-Type': TYPES[path.extname(url.searchParams.get('name') ?? '')] ?? 'application/octet-stream' });
            return res.end(bytes);
        }
        const body = raw.length && req.headers['content-type'] === 'application/json' ? JSON.parse(raw) : null;
        const answer = api(req.method, url, body, raw, who);
        return Array.isArray(answer) ? send(...answer) : send(answer ? 200 : 404, answer ?? {});
    });
}).listen(+port, '127.0.0.1', () => console.log(`http://127.0.0.1:${port}/`));
