// SPDX-License-Identifier: GPL-3.0-or-later
// Runs the page's tests in a real browser; "tally: PASSED FAILED SKIPPED" is the last line.
//   node tests/page/run.mjs [WORD]   only tests whose name has WORD
// One browser, and one server for all tests but those that say isAlone. The short suite is SHORT below;
// HEELWRIGHT_SUITE=whole, or a WORD, runs the rest too.
import fs from 'node:fs';
import { Server, PROGRAM, ROOT } from './server.mjs';
import { launch, CHROMIUM, SCREENS } from './browser.mjs';

export class LeftOut extends Error {}

const only = process.argv[2] ?? '';
const isWhole = process.env.HEELWRIGHT_SUITE === 'whole' || only !== '';
const LONGEST_MS = 600000; // a test that hangs ends

/** What ./check runs each time, in this order: first those that leave the demo clinic as it was. */
const SHORT = [
    'test_every_area_in_light_has_no_fault', 'test_two_areas_in_dark_have_no_fault', 'test_two_areas_fit_a_tablet',
    'test_a_clinician_does_a_whole_visit', 'test_a_visit_by_keyboard_alone', 'test_after_signing_out_the_back_button_shows_nothing',
    'test_a_wrong_file_is_refused_in_a_sentence_and_nothing_changes', 'test_two_people_on_one_record_are_both_asked_and_heard',
    'test_a_server_killed_in_mid_save_loses_nothing_and_says_so',
    'test_a_thickness_is_kept_only_with_both_edges_accepted',
];
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

/** @param {Promise<void>} test */
function inTime(test) {
    let timer;
    const late = new Promise((_, fail) => (timer = setTimeout(() => fail(new Error(`not done after ${LONGEST_MS / 1000} s`)), LONGEST_MS)));
    return Promise.race([test, late]).finally(() => clearTimeout(timer));
}

async function runAll() {
    const why = missing();
    const suites = await Promise.all(['visits', 'keyboard', 'safety', 'looks', 'scans', 'recordings', 'speed', 'clinic', 'papers'].map((name) => import(`./${name}.mjs`)));
    const all = new Map(suites.flatMap((suite) => Object.entries(suite)).filter(([name]) => name.startsWith('test')));
    const rest = [...all.keys()].filter((name) => !SHORT.includes(name));
    const names = (isWhole ? [...SHORT, ...rest] : SHORT).filter((name) => name.includes(only));
    const tests = names.map((name) => /** @type {[string, any]} */ ([name, all.get(name)]));
    if (why) {
        for (const [name] of tests) console.log(`left out: ${name}: ${why}`);
        tally.out = tests.length;
        return;
    }
    const browser = await launch();
    const shared = new Server();
    await shared.start();
    for (const [name, test] of tests) {
        const server = test.isAlone ? new Server() : shared;
        try {
            if (test.isAlone) await server.start();
            const started = Date.now();
            await inTime(test({ browser, server, LeftOut }));
            if (server.ended) throw new Error(server.ended);
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
                if (server.ended) console.log(server.ended);
            }
        }
        for (const context of browser.contexts()) await context.close();
        if (test.isAlone) await server.end().catch(() => {});
        else if (shared.ended) await shared.start(); // the other tests are still worth their answer
    }
    await shared.end().catch(() => {});
    await browser.close();
}

await runAll();
console.log(`tally: ${tally.ok} ${tally.bad} ${tally.out}`);
process.exit(tally.bad ? 1 : 0);
