// SPDX-License-Identifier: GPL-3.0-or-later
// The caseload with its papers and tables, and papers looked at where the clinician is.
import assert from 'node:assert/strict';
import fs from 'node:fs';
import { open, openDemo, signIn, goTo, noTroubles, axe, shoot, WORK_MS } from './browser.mjs';

/** Clicks and gives what the browser was handed. @param {any} page @param {() => Promise<void>} act @param {number} count */
async function taken(page, act, count) {
    const files = new Map();
    const all = new Promise((done) => {
        page.on('download', async (download) => {
            files.set(download.suggestedFilename(), fs.readFileSync(await download.path(), 'utf8'));
            if (files.size === count) done(undefined);
        });
    });
    await act();
    await all;
    return files;
}

/** A red flag that nobody followed up is the first thing a clinician sees of the day. */
export async function test_who_is_to_be_called_stands_on_the_days_page({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    const card = page.getByRole('region', { name: 'To be called', exact: true });
    const first = card.getByRole('row').nth(1);
    await first.getByText('A red flag stood at the newest visit, and nothing is written since').waitFor();
    const name = await first.getByRole('link').textContent();
    await first.getByRole('link').click();
    await page.getByRole('heading', { level: 1, name: 'Follow-up' }).waitFor();
    await page.locator('.visit-bar').getByText(name ?? '').waitFor();
    noTroubles(troubles);
}

export async function test_the_owner_takes_the_caseload_away_with_and_without_people({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'owner');
    await goTo(page, 'Caseload');
    for (const name of ['By treatment first given', /^Until the pain is gone/, 'Beside published results', 'Adverse events', 'To be called', 'What the books hold'])
        await page.getByRole('heading', { name }).waitFor();
    await page.getByText('bruise over the heel').waitFor();
    await page.locator('#two-groups').getByText('Peto and Peto', { exact: false }).first().waitFor();
    await page.getByText('No signal.').waitFor();
    await axe(page, 'caseload');
    await page.setViewportSize({ width: 1200, height: 4200 });
    await shoot(page, 'caseload');
    await page.getByLabel(/^What for/).fill('audit of the year');
    const whole = await taken(page, () => page.getByRole('button', { name: 'With codes and dates' }).click(), 9);
    assert.match(whole.get('recalls.csv'), /invented/);
    const shut = await taken(page, () => page.getByRole('button', { name: 'Without people' }).click(), 5);
    for (const [name, text] of shut) if (name !== 'dictionary.csv') assert.doesNotMatch(text, /HB-0|20\d\d-\d\d/, name);
    await goTo(page, 'Settings');
    await page.locator('td', { hasText: /^export/ }).first().waitFor({ state: 'attached' }); // it stands in the audit
    noTroubles(troubles);
}

export async function test_a_paper_is_looked_at_where_the_clinician_is({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await openDemo(page);
    await goTo(page, 'Treatment');
    const answer = page.waitForResponse((/** @type {any} */ reply) => reply.url().endsWith('/treatment-record'));
    await page.getByRole('button', { name: /^Look at it: Treatment record/ }).click();
    assert.equal((await (await answer).body()).subarray(0, 5).toString('latin1'), '%PDF-');
    await page.locator('iframe.paper-frame').waitFor();
    await page.getByRole('button', { name: 'Print' }).waitFor();
    await shoot(page, 'paper');
    noTroubles(troubles, /asked elsewhere: chrome(-extension)?:/); // the browser's own reader
}

export async function test_a_bundle_goes_out_and_comes_back_as_the_same_visit({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await openDemo(page);
    await goTo(page, 'Plan');
    const link = page.getByRole('link', { name: 'For another program' });
    await link.waitFor({ timeout: WORK_MS });
    const [download] = await Promise.all([page.waitForEvent('download'), link.click()]);
    const text = fs.readFileSync(await download.path(), 'utf8');
    const exported = caseOf(text);
    await goTo(page, 'Person');
    await page.getByText('Import a visit').click();
    await page.getByLabel(/^A visit-bundle/).setInputFiles({ name: 'visit-bundle.json', mimeType: 'application/json', buffer: Buffer.from(text) });
    await page.getByText('The visit is in the record.').waitFor();
    const body = await page.evaluate(async () => {
        const { api } = await import('/lib/api.js');
        const { person } = await import('/lib/state.js');
        const rows = await api.records(person.value.id, 'visit');
        return rows.at(-1).body;
    });
    assert.deepEqual(body, exported); // the record is the case that was exported, to the last key
    await page.getByLabel(/^A visit-bundle/).setInputFiles({ name: 'x.json', mimeType: 'application/json', buffer: Buffer.from(text.replace(/("hash"\s*:\s*")..../g, '$1AAAA')) });
    await page.getByText(/hash/).waitFor();
    noTroubles(troubles, /status of 4/);
}

/** The case file a bundle carries. @param {string} text */
function caseOf(text) {
    const documents = JSON.parse(text).entry.map((/** @type {any} */ one) => one.resource).filter((/** @type {any} */ one) => one.resourceType === 'DocumentReference');
    const data = documents.map((/** @type {any} */ one) => one.content[0].attachment.data).find(Boolean);
    return JSON.parse(Buffer.from(data, 'base64').toString('utf8'));
}
