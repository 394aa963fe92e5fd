// SPDX-License-Identifier: GPL-3.0-or-later
// Runs the page's tests in a real browser; "tally: PASSED FAILED SKIPPED" is the last line.
//   node tests/page/run.mjs [WORD]   only tests whose name has WORD
import fs from 'node:fs';
import { Server, PROGRAM, ROOT } from './server.mjs';
import { launch, CHROMIUM, SCREENS } from './browser.mjs';

export class LeftOut extends Error {}

const only = process.argv[2] ?? '';
const tally = { ok: 0, bad: 0, out: 0 };

function missing() {
    if (!fs.existsSync(PROGRAM)) return `${PROGRAM} is not built`;
    if (!fs.existsSync(CHROMIUM)) return 'no chromium here';
    if (!fs.existsSync(`${ROOT}/node_modules/playwright-core`)) return 'no node_modules here: npm ci --ignore-scripts';
    if (!fs.existsSync(`${ROOT}/ui/vendor/preact.js`)) return 'no ui/vendor here: tools/vendor.sh';
    return '';
}

/** What the browser showed when a test went wrong. */
async function seen(browser, name) {
    const pages = browser.contexts().flatMap((context) => context.pages());
    fs.mkdirSync(SCREENS, { recursive: true });
    for (const [i, page] of pages.entries()) await page.screenshot({ path: `${SCREENS}/wrong-${name}-${i}.png`, timeout: 5000 }).catch(() => {});
}

async function runAll() {
    const why = missing();
    const suites = await Promise.all(['visits', 'keyboard', 'safety', 'looks', 'speed'].map((name) => import(`./${name}.mjs`)));
    const tests = suites.flatMap((suite) => Object.entries(suite)).filter(([name]) => name.startsWith('test') && name.includes(only));
    if (why) {
        for (const [name] of tests) console.log(`left out: ${name}: ${why}`);
        tally.out = tests.length;
        return;
    }
    const browser = await launch();
    for (const [name, test] of tests) {
        const server = new Server();
        try {
            await server.start();
            const started = Date.now();
            await test({ browser, server, LeftOut });
            tally.ok++;
            console.log(`ok: ${name} (${((Date.now() - started) / 1000).toFixed(1)} s)`);
        } catch (trouble) {
            if (trouble?.constructor?.name === 'LeftOut') {
                tally.out++;
                console.log(`left out: ${name}: ${trouble.message}`);
            } else {
                tally.bad++;
                await seen(browser, name);
                console.log(`wrong: ${name}\n${trouble.stack ?? trouble}`);
            }
        }
        for (const context of browser.contexts()) await context.close();
        await server.end().catch(() => {});
    }
    await browser.close();
}

await runAll();
console.log(`tally: ${tally.ok} ${tally.bad} ${tally.out}`);
process.exit(tally.bad ? 1 : 0);
