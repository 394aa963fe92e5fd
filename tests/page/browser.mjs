// SPDX-License-Identifier: GPL-3.0-or-later
// A browser that counts what must not be: console errors, broken content policy, faults of axe.
import fs from 'node:fs';
import path from 'node:path';
import assert from 'node:assert/strict';
import { ROOT } from './server.mjs';

export const CHROMIUM = process.env.HEELWRIGHT_CHROMIUM ?? '/usr/bin/chromium';
export const SCREENS = process.env.HEELWRIGHT_SCREENS ?? '/tmp/heelwright-screens';
/** How long a test waits for work of the server's before it counts as lost: a guard against hanging, no measure of speed. */
export const WORK_MS = 300000;
const AXE = path.join(ROOT, 'node_modules/axe-core/axe.min.js');

export async function launch() {
    const { chromium } = await import('playwright-core');
    return chromium.launch({
        executablePath: CHROMIUM,
        args: ['--no-sandbox', '--use-gl=angle', '--use-angle=swiftshader', '--enable-unsafe-swiftshader', '--disable-quic', '--no-first-run', '--disable-background-networking'],
    });
}

/**
 * A page of its own session. `troubles` gathers what must stay empty.
 * @param {any} browser @param {{theme?: string, isCalm?: boolean, width?: number, height?: number}} [how]
 */
export async function open(browser, { theme = 'light', isCalm = true, width = 1440, height = 1000 } = {}) {
    const context = await browser.newContext({ viewport: { width, height }, reducedMotion: isCalm ? 'reduce' : 'no-preference', acceptDownloads: true });
    await context.addInitScript((word) => {
        if (location.protocol === 'http:') localStorage.setItem('theme', word);
        addEventListener('securitypolicyviolation', (event) => console.error(`CSP: ${event.violatedDirective} ${event.blockedURI}`));
    }, theme);
    const page = await context.newPage();
    page.setDefaultTimeout(60000);
    const troubles = [];
    page.on('console', (message) => {
        if (message.type() !== 'error') return;
        const text = message.text();
        troubles.push(/status of 409/.test(text) ? `${text} ${message.location().url}` : text);
    });
    page.on('pageerror', (error) => troubles.push(String(error.stack ?? error)));
    page.on('request', (request) => {
        const host = new URL(request.url()).hostname;
        if (host !== '127.0.0.1' && !request.url().startsWith('blob:') && !request.url().startsWith('data:')) troubles.push(`asked elsewhere: ${request.url()}`);
    });
    return { context, page, troubles };
}

/** @param {any} page @param {any} server @param {string} role */
export async function signIn(page, server, role) {
    if (!page.url().startsWith(server.address)) await page.goto(server.address);
    await page.getByLabel('Name to sign in with').fill(server.users[role].login);
    await page.getByLabel('Passphrase').fill(server.users[role].passphrase);
    await page.getByRole('button', { name: 'Sign in' }).click();
    await page.locator('nav.rail').waitFor();
}

/** The invented person with scans of both feet; gives the name. @param {any} page */
export async function openDemo(page) {
    await page.getByLabel(/^Find a person/).fill('HB-0042');
    const row = page.locator('.people tbody tr', { hasText: 'HB-0042' });
    await row.waitFor();
    const name = await row.getByRole('link').textContent();
    await row.getByRole('link').click();
    await page.locator('.visit-bar').waitFor();
    return name;
}

/** @param {any} page @param {string} area as written in the rail */
export async function goTo(page, area) {
    await page.getByRole('navigation', { name: 'Areas' }).getByRole('link', { name: area, exact: true }).click();
    await page.getByRole('heading', { level: 1, name: area }).waitFor();
}

/** @param {any} page */
export async function computed(page) {
    await page.waitForFunction(() => !document.querySelector('progress[aria-label="Computation"]') && document.querySelector('.save-saved'), null, { timeout: WORK_MS });
}

/** As it is read: a line's end in a template is a blank. @param {any} locator */
export async function textOf(locator) {
    return (await locator.textContent() ?? '').replace(/\s+/g, ' ');
}

/** @param {any} page */
export async function isSaved(page) {
    await page.locator('.visit-bar .save-saved').waitFor();
}

/** No violation of axe's WCAG 2.0 to 2.2 A and AA rules. @param {any} page @param {string} where */
export async function axe(page, where) {
    await page.evaluate(fs.readFileSync(AXE, 'utf8'));
    const found = await page.evaluate(() => /** @type {any} */ (window).axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] }));
    const lines = found.violations.flatMap((one) => one.nodes.map((node) => `${where}: ${one.id}: ${node.target.join(' ')}: ${node.failureSummary?.split('\n')[1]?.trim() ?? one.help}`));
    assert.deepEqual(lines, []);
}

/** @param {any} page @param {string} name */
export async function shoot(page, name) {
    fs.mkdirSync(SCREENS, { recursive: true });
    await page.screenshot({ path: path.join(SCREENS, `${name}.png`) });
}

/**
 * Only what a test said may come. A save that was answered 409 is merged or sent again by the page, and what stands
 * is what each test asks: told, not judged. @param {string[]} troubles @param {RegExp} [allowed]
 */
export function noTroubles(troubles, allowed) {
    const isClash = (/** @type {string} */ text) => /status of 409/.test(text);
    for (const text of troubles.filter(isClash)) console.log(`  a save met another: ${text}`);
    assert.deepEqual(troubles.filter((text) => !isClash(text) && !allowed?.test(text)), []);
}
