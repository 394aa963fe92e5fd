// SPDX-License-Identifier: GPL-3.0-or-later
// What the program computes of a scan is seen: the device's maps and limits, two visits' scans, the papers.
import assert from 'node:assert/strict';
import fs from 'node:fs';
import { open, openDemo, signIn, goTo, computed, isSaved, shoot, noTroubles } from './browser.mjs';
import { begin, dropScan } from './visits.mjs';
import { demoScans } from './server.mjs';

/** The result on the page, as the program computed it. @param {any} page */
async function readResult(page) {
    return page.evaluate(async () => {
        const { computation } = await import('/lib/state.js');
        const { visit, files } = computation.result.value;
        return { visit, files: Object.keys(files), maps: await computation.pressMaps(computation.result.value) };
    });
}

export async function test_the_device_is_painted_by_what_presses_it({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await openDemo(page);
    await computed(page);
    await goTo(page, 'Orthosis');
    const card = page.getByRole('region', { name: 'How the left device bears the foot', exact: true });
    await card.getByText('computed in full', { exact: true }).waitFor({ timeout: 60000 });
    const { visit, maps } = await readResult(page);
    const { press } = visit.feet.left.orthosis;
    assert.equal(press.effort, 'final');
    const parts = press.moments.find((one) => one.moment === 'mid-stance').parts;
    const rows = await card.locator('.regions tbody tr').evaluateAll((all) => all.map((row) => [...row.querySelectorAll('td')].map((cell) => cell.textContent)));
    assert.deepEqual(rows.map((row) => [row[0], row[2], /over/.test(row[4])]), parts.map((part) => [String(part.mean_kPa), String(part.peak_kPa), part.over_mean_limit || part.over_peak_limit]));
    for (const text of press.cautions) await card.getByText(text, { exact: true }).waitFor();
    for (const [name, key] of [['Pressure', 'pressure_kPa'], ['Sinking', 'sink_mm'], ['Stress', 'stress_MPa']]) {
        await page.getByRole('group', { name: 'Colours on the device' }).getByRole('button', { name }).click();
        await page.getByRole('img', { name: /: from 0 to [\d.]+ (kPa|mm|MPa)$/ }).waitFor();
        const top = Number(/from 0 to ([\d.]+)/.exec(await page.locator('.device-card svg.scale').getAttribute('aria-label'))[1]);
        const greatest = Math.max(...maps.feet.left[key]);
        assert.ok(top >= greatest && top < 2.01 * greatest, `${name}: scale to ${top}, greatest ${greatest}`);
        await page.waitForTimeout(400);
        await shoot(page, `device-${name.toLowerCase()}`);
    }
    await card.getByRole('button', { name: 'Push-off' }).click();
    await card.getByText('Pressure on the foot, push-off', { exact: false }).waitFor();
    await page.evaluate(() => document.querySelector('.regions')?.scrollIntoView({ block: 'center' }));
    await shoot(page, 'device-regions');
    noTroubles(troubles);
}

export async function test_papers_are_at_hand_where_they_are_needed({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await openDemo(page);
    await computed(page);
    const { files } = await readResult(page);
    const want = { Plan: ['letter.pdf', 'patient.pdf', 'plan.ics', 'consent.pdf', 'plan.pdf'], Load: ['load.pdf'], Orthosis: ['order.pdf'] };
    for (const [area, names] of Object.entries(want)) {
        await goTo(page, area);
        const there = names.filter((name) => files.includes(name));
        await page.waitForFunction((count) => document.querySelectorAll('.papers a').length === count, there.length);
        for (const name of there) {
            const [download] = await Promise.all([page.waitForEvent('download'), page.locator(`.papers a[download="${name}"]`).click()]);
            const begins = fs.readFileSync(await download.path()).subarray(0, 15).toString('latin1');
            assert.match(begins, name.endsWith('.ics') ? /^BEGIN:VCALENDAR/ : /^%PDF-1/, name);
        }
    }
    assert.ok(['letter.pdf', 'patient.pdf', 'load.pdf'].every((name) => files.includes(name)));
    noTroubles(troubles);
}

export async function test_a_scan_is_compared_with_the_last_visits({ browser, server }) {
    const { page, troubles } = await open(browser);
    const [first, second] = [demoScans(7), demoScans(8)];
    await signIn(page, server, 'clinician');
    await begin(page, 'Marit Quay', 'HB-7100');
    await goTo(page, 'Foot');
    await dropScan(page, 'left', first.left);
    await isSaved(page);
    await computed(page);
    await page.locator('.visit-bar').getByRole('button', { name: /^New visit/ }).click();
    const card = page.getByRole('region', { name: 'Against the last visit' });
    await card.getByText('there is nothing to compare', { exact: false }).waitFor({ timeout: 30000 });
    await dropScan(page, 'left', second.left);
    await card.getByRole('columnheader', { name: 'Now − then' }).waitFor({ timeout: 30000 });
    await computed(page);
    await card.getByRole('button', { name: 'Show where they differ' }).click();
    await card.locator('[data-median]').waitFor({ timeout: 30000 });
    const median = Number(await card.locator('[data-median]').getAttribute('data-median'));
    assert.ok(median > 0.05 && median < 10, `two invented feet lie ${median} mm apart`);
    await card.locator('.room-view').scrollIntoViewIfNeeded();
    await page.waitForTimeout(400);
    await shoot(page, 'against-last');
    noTroubles(troubles);
    for (const scans of [first, second]) fs.rmSync(scans.folder, { recursive: true });
}
