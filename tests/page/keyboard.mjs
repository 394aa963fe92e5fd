// SPDX-License-Identifier: GPL-3.0-or-later
// A visit without a mouse: only keys are pressed, and the focus is always to be seen.
import assert from 'node:assert/strict';
import { open, computed, isSaved, noTroubles, WORK_MS } from './browser.mjs';

const MOST_TABS = 260;

/** Tabs until the focus is there: that it can be reached so is part of the test. @param {any} page @param {string} selector @param {string} [text] */
async function reach(page, selector, text = '', key = 'Tab') {
    for (let i = 0; i < MOST_TABS; i++) {
        const isThere = await page.evaluate(([css, words]) => {
            const element = document.activeElement;
            return !!element?.matches(css) && (element.getAttribute('aria-label') ?? element.textContent ?? '').includes(words);
        }, [selector, text]);
        if (isThere) return i;
        await page.keyboard.press(key);
    }
    throw new Error(`not reached by ${MOST_TABS} tabs: ${selector} ${text}`);
}

/** The focus ring is drawn. @param {any} page */
async function ringIsSeen(page) {
    const width = await page.evaluate(() => {
        const element = /** @type {HTMLElement} */ (document.activeElement);
        const ringed = element.matches('.segments input') ? element.closest('label') : element;
        return parseFloat(getComputedStyle(/** @type {Element} */ (ringed)).outlineWidth) * (getComputedStyle(/** @type {Element} */ (ringed)).outlineStyle === 'none' ? 0 : 1);
    });
    assert.ok(width >= 2, 'the focus cannot be seen');
}

export async function test_a_visit_by_keyboard_alone({ browser, server }) {
    const { page, troubles } = await open(browser);
    await page.goto(server.address);
    await page.getByLabel('Passphrase').waitFor();
    await reach(page, 'input[autocomplete=username]');
    await page.keyboard.type(server.users.clinician.login);
    await page.keyboard.press('Tab');
    await page.keyboard.type(server.users.clinician.passphrase);
    await page.keyboard.press('Enter');
    await page.locator('.people').waitFor();
    await page.keyboard.press('Tab');
    await reach(page, 'input[type=search]', '', 'Shift+Tab');
    await page.keyboard.type('HB-0042');
    await page.waitForFunction(() => document.querySelectorAll('.people tbody tr').length === 1);
    await reach(page, '.people a');
    await ringIsSeen(page);
    await page.keyboard.press('Enter');
    await page.locator('#red-flags').waitFor();
    await computed(page);

    // Findings: y, n, ? and Delete answer where the focus is.
    await reach(page, '#red-flags input[type=radio]');
    await page.keyboard.press('y');
    await page.getByText(/^Red flag: fever/).waitFor();
    await isSaved(page);
    await ringIsSeen(page);
    await page.keyboard.press('?');
    await page.getByText(/1 question of 17 without an answer/).waitFor();
    await page.keyboard.press('n');
    await page.getByText(/all 17 asked, none present/).waitFor();
    await isSaved(page);

    // Undo by keys, then redo.
    const before = await page.locator('.visit-bar .save').textContent();
    await page.keyboard.press('Control+z');
    await page.waitForFunction((old) => document.querySelector('.visit-bar .save')?.textContent !== old, before);
    await isSaved(page);
    await page.keyboard.press('Control+Shift+z');
    await page.getByText(/all 17 asked, none present/).waitFor();
    await isSaved(page);

    // Foot: the picture turns, a landmark is nudged.
    await reach(page, '.rail a', 'Foot', 'Shift+Tab');
    await page.keyboard.press('Enter');
    await page.locator('.room-view canvas').first().waitFor({ timeout: WORK_MS });
    assert.equal(await page.evaluate(() => document.activeElement?.id), 'main', 'the area has the focus after its way was taken');
    await reach(page, '.room-view');
    await ringIsSeen(page);
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('+');
    await reach(page, 'summary', 'Landmarks');
    await page.keyboard.press('Enter');
    await reach(page, '.landmarks button', 'Arch apex');
    await page.keyboard.press('Enter');
    await reach(page, '.room-view', '', 'Shift+Tab');
    await page.keyboard.press('Alt+ArrowRight');
    await page.keyboard.press('Alt+ArrowRight');
    await page.getByText(/by hand, (0\.9|1(\.[01])?)\smm/).first().waitFor();

    // Load: pause and step through the instants.
    await reach(page, '.rail a', 'Load', 'Shift+Tab');
    await page.keyboard.press('Enter');
    await page.locator('.stage-bar input[type=range]').waitFor();
    await computed(page);
    await reach(page, '.stage-bar input[type=range]');
    const first = await page.locator('.slide .reading').first().textContent();
    await page.keyboard.press('ArrowRight');
    await page.waitForFunction((old) => document.querySelector('.slide .reading')?.textContent !== old, first);

    // Plan: an act moved by two weeks, the rules' answer read out.
    await reach(page, '.rail a', 'Plan', 'Shift+Tab');
    await page.keyboard.press('Enter');
    await reach(page, '.week-chip', 'radial shockwave');
    await ringIsSeen(page);
    await page.keyboard.press('ArrowLeft');
    await page.locator('.rule-answer:not(.is-asked)').waitFor();
    assert.equal(await page.locator('.rule-answer').getAttribute('role'), 'status');
    await page.keyboard.press('ArrowLeft');
    await isSaved(page);

    // A dialog keeps the focus and gives it back.
    await reach(page, 'button', 'History', 'Shift+Tab');
    await page.keyboard.press('Enter');
    await page.getByRole('dialog').waitFor();
    assert.ok(await page.evaluate(() => document.activeElement?.closest('dialog') !== null));
    await page.keyboard.press('Escape');
    await page.getByRole('dialog').waitFor({ state: 'detached' });
    assert.equal(await page.evaluate(() => document.activeElement?.textContent), 'History');
    noTroubles(troubles);
}
