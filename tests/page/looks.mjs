// SPDX-License-Identifier: GPL-3.0-or-later
// Every area in light and dark: no fault of axe, targets large enough, nothing wider than the screen;
// pictures for a person to look at.
import assert from 'node:assert/strict';
import { open, openDemo, signIn, goTo, computed, axe, shoot, noTroubles, SCREENS, WORK_MS } from './browser.mjs';
import { begin } from './visits.mjs';

const AREAS = ['Person', 'Findings', 'Foot', 'Load', 'Orthosis', 'Plan', 'Treatment', 'Follow-up', 'Today', 'Caseload', 'Trials', 'Settings'];
const LEAST = 24; // CSS px, WCAG 2.2 criterion 2.5.8

/** @param {any} page @param {string} where */
async function targetsAreLarge(page, where) {
    const small = await page.evaluate((least) => [...document.querySelectorAll('button, select, input:not([type=radio]), summary, .segments label, nav a')].filter((element) => {
        const box = element.getBoundingClientRect();
        return box.width > 0 && (box.width < least - 0.5 || box.height < least - 0.5) && !element.closest('.skip, [popover]') && !(element.matches('input[type=checkbox]') && element.closest('label'));
    }).map((element) => `${element.tagName} ${element.className} ${element.textContent?.slice(0, 30)}`), LEAST);
    assert.deepEqual(small, [], `${where}: targets under ${LEAST} px`);
}

/** @param {any} page @param {string} where */
async function fits(page, where) {
    const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    assert.ok(over <= 1, `${where}: ${over} px wider than the screen`);
}

/** Rooms in 3-D hold their surfaces, so that a picture of them shows something. @param {any} page @param {string} area */
async function isDrawn(page, area) {
    if (['Foot', 'Load', 'Orthosis'].includes(area)) {
        await page.locator('.room-view canvas').first().waitFor({ timeout: WORK_MS });
        await page.waitForTimeout(1000);
    }
    await page.waitForTimeout(250);
}

async function everyArea({ browser, server }, theme, width, height, isChecked, areas = AREAS) {
    const { page, troubles } = await open(browser, { theme, width, height });
    const word = width < 1000 ? `${theme}-tablet` : theme;
    await page.goto(server.address);
    await page.getByRole('button', { name: 'Sign in' }).waitFor();
    if (isChecked) await axe(page, `sign in, ${theme}`);
    await shoot(page, `sign-in-${word}`);
    await signIn(page, server, 'owner');
    await openDemo(page);
    await computed(page);
    for (const area of areas) {
        await goTo(page, area);
        await isDrawn(page, area);
        if (area === 'Load') await page.locator('.stage-bar input[type=range]').fill('27');
        await page.evaluate((isOpen) => document.querySelectorAll('main details').forEach((one) => (/** @type {any} */ (one).open = isOpen)), isChecked);
        if (isChecked) await axe(page, `${area}, ${theme}`);
        await targetsAreLarge(page, `${area}, ${word}`);
        await fits(page, `${area}, ${word}`);
        await page.evaluate(() => document.querySelectorAll('main details').forEach((one) => (/** @type {any} */ (one).open = false)));
        await page.evaluate(() => scrollTo(0, 0));
        await shoot(page, `${area.toLowerCase()}-${word}`);
    }
    noTroubles(troubles);
}

export async function test_every_area_in_light_has_no_fault(context) {
    await everyArea(context, 'light', 1440, 1000, true);
    console.log(`  pictures in ${SCREENS}`);
}

export async function test_two_areas_in_dark_have_no_fault(context) {
    await everyArea(context, 'dark', 1440, 1000, true, ['Orthosis', 'Plan']);
}

export async function test_two_areas_fit_a_tablet(context) {
    await everyArea(context, 'light', 820, 1180, false, ['Findings', 'Load']);
}

export async function test_every_area_in_dark_has_no_fault(context) {
    await everyArea(context, 'dark', 1440, 1000, true);
}

export async function test_every_area_fits_a_tablet(context) {
    await everyArea(context, 'light', 820, 1180, false);
}

export async function test_dialogs_forms_and_an_empty_visit_have_no_fault({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'owner');
    await page.getByRole('button', { name: 'New person' }).click();
    await axe(page, 'new person');
    await page.keyboard.press('Escape');
    await begin(page, 'Freya Sound', 'HB-9001');
    for (const area of ['Findings', 'Foot', 'Load', 'Orthosis', 'Plan', 'Treatment', 'Follow-up']) {
        await goTo(page, area);
        await page.waitForTimeout(600);
        await axe(page, `${area} of an empty visit`);
    }
    await shoot(page, 'empty-follow-up');
    await page.locator('.visit-bar').getByRole('button', { name: 'History' }).click();
    await page.getByRole('dialog').locator('tbody tr').first().waitFor();
    await axe(page, 'history');
    await page.keyboard.press('Escape');
    await goTo(page, 'Treatment');
    await page.getByLabel('Act', { exact: true }).selectOption('corticosteroid injection');
    await page.getByLabel('Foot', { exact: true }).selectOption('left');
    await axe(page, 'logging an injection');
    await shoot(page, 'injection');
    await page.goto(`${server.address}#/score`);
    await page.getByRole('heading', { name: 'How is your heel?' }).waitFor();
    await axe(page, 'score form');
    await shoot(page, 'score-form');
    noTroubles(troubles);
}
