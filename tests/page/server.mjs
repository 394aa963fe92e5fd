// SPDX-License-Identifier: GPL-3.0-or-later
// The program's own server on an invented clinic of its own, to be killed and started again.
import { spawn, execFileSync } from 'node:child_process';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';

export const ROOT = path.resolve(import.meta.dirname, '../..');
export const PROGRAM = process.env.HEELWRIGHT_PROGRAM ?? path.join(ROOT, 'build/release/heelwright');

export class Server {
    constructor() {
        this.data = fs.mkdtempSync(path.join(os.tmpdir(), 'heelwright-page-'));
        this.port = 0;
        /** @type {Record<string, {login: string, passphrase: string}>} by role */
        this.users = {};
    }

    /** Ready once it says where it serves. */
    start() {
        this.ended = '';
        this.process = spawn(PROGRAM, ['serve', '--demo', '--data', this.data, '--port', String(this.port), '--ui', path.join(ROOT, 'ui')], { stdio: ['ignore', 'pipe', 'pipe'] });
        let said = '';
        let complained = '';
        return new Promise((ready, fail) => {
            const timer = setTimeout(() => fail(new Error(`the server did not start: ${said}`)), 20000);
            this.process.stderr.on('data', (text) => { // a line a request
                complained = (complained + text).slice(-4000);
                if (process.env.HEELWRIGHT_LOG) fs.appendFileSync(process.env.HEELWRIGHT_LOG, text);
            });
            this.process.on('exit', (code, signal) => {
                this.ended = `the server ended by itself (${signal ?? `exit ${code}`}): ${complained.slice(-2000)}`;
                fail(new Error(this.ended)); // no matter once it is ready
            });
            this.process.stdout.on('data', (text) => {
                said += text;
                for (const [, role, login, passphrase] of said.matchAll(/^ {2}(\w+) +(\S+) +passphrase (\S+)$/gm)) this.users[role] = { login, passphrase };
                const at = /serves at (http:\/\/127\.0\.0\.1:(\d+)\/)/.exec(said);
                if (!at) return;
                clearTimeout(timer);
                [, this.address] = at;
                this.port = Number(at[2]);
                ready(this);
            });
        });
    }

    /** Without a chance to tidy up. */
    kill() {
        if (this.process.exitCode !== null || this.process.signalCode !== null) return Promise.resolve();
        return new Promise((gone) => {
            this.process.removeAllListeners('exit');
            this.process.on('exit', gone);
            this.process.kill('SIGKILL');
        });
    }

    async end() {
        await this.kill();
        fs.rmSync(this.data, { recursive: true, force: true });
    }
}

/** An invented person's scans, made by the program. @param {number} seed */
export function demoScans(seed) {
    const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'heelwright-scans-'));
    execFileSync(PROGRAM, ['demo', '--seed', String(seed), '--out', folder], { stdio: 'ignore' });
    return { folder, left: path.join(folder, 'left-scan.stl'), right: path.join(folder, 'right-scan.stl') };
}
