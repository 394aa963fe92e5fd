// SPDX-License-Identifier: GPL-3.0-or-later
// From the drop of a real scan to what is seen, measured in the browser. Goals for this machine: measures 2 s,
// load 3 s, first orthosis 5 s. The times are printed, never judged: other programs run here.
import assert from 'node:assert/strict';
import fs from 'node:fs';
import path from 'node:path';
import { open, signIn, goTo, noTroubles } from './browser.mjs';
import { begin, answerFlags } from './visits.mjs';

const GOALS = { measures: 2, load: 3, orthosis: 5 }; // s
const SCAN = 'focus_left_hires_m.obj'; // about 89 k triangles with its leg; its README names it a left foot

export async function test_drop_to_measures_load_and_first_orthosis({ browser, server, LeftOut }) {
    const data = process.env.HEELWRIGHT_DATA;
    const file = data && path.join(data, 'feet', SCAN);
    if (!file || !fs.existsSync(file)) throw new LeftOut('no shared open data');
    // The better of two: another program's burst on this machine is not ours.
    const took = [await dropOnce({ browser, server }, file, 'HB-9002'), await dropOnce({ browser, server }, file, 'HB-9003')]
        .reduce((a, b) => (a.orthosis <= b.orthosis ? a : b));
    for (const [what, goal] of Object.entries(GOALS)) {
        if (took[what] > goal) console.log(`  over its goal: ${what} took ${took[what].toFixed(2)} s, goal ${goal} s`);
        assert.ok(took[what] > 0, `no time of ${what}`);
    }
}

/** Seconds from the drop to what is seen of it. */
async function dropOnce({ browser, server }, file, code) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await begin(page, 'Liv Ness', code);
    await page.getByLabel('Body mass, weighed', { exact: true }).fill('82');
    await page.getByLabel('Standing height', { exact: true }).fill('171');
    await page.getByLabel('Standing height', { exact: true }).press('Enter');
    await goTo(page, 'Foot');
    await page.waitForTimeout(1500);
    // What is seen is asked in the page itself, at each frame: no time of the test's own is in it.
    await page.evaluate(() => {
        /** @type {any} */ (window).seen = new Promise((done) => {
            const seen = /** @type {Record<string, number>} */ ({});
            const look = () => {
                const now = performance.now();
                const chain = document.querySelector('.chain')?.textContent ?? '';
                if (!seen.measures && document.querySelector('.foot-card .measures')) seen.measures = now;
                if (!seen.load && /Load: computed/.test(chain)) seen.load = now;
                if (!seen.orthosis && /Orthosis: computed/.test(chain)) seen.orthosis = now;
                if (seen.measures && seen.load && seen.orthosis) done(seen);
                else requestAnimationFrame(look);
            };
            look();
        });
        document.querySelector('input[type=file]')?.addEventListener('change', () => (/** @type {any} */ (window).dropped = performance.now()), true);
    });
    await page.getByLabel('Drop a scan of the left foot here, or choose a file').setInputFiles(file);
    const { seen, dropped } = await page.evaluate(async () => ({ seen: await /** @type {any} */ (window).seen, dropped: /** @type {any} */ (window).dropped }));
    const took = Object.fromEntries(Object.entries(seen).map(([what, at]) => [what, (Number(at) - dropped) / 1000]));
    console.log(`  ${SCAN}: drop to measures ${took.measures.toFixed(2)} s, to load ${took.load.toFixed(2)} s, to first orthosis ${took.orthosis.toFixed(2)} s`);
    await answerFlags(page);
    noTroubles(troubles);
    return took;
}
