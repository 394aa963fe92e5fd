// SPDX-License-Identifier: GPL-3.0-or-later
// Reasoning, plan, treatment and follow-up as a clinician meets them on the page.
import assert from 'node:assert/strict';
import { open, openDemo, signIn, goTo, computed, isSaved, noTroubles, axe, shoot } from './browser.mjs';
import { begin } from './visits.mjs';

/** Answers one word of a foot's finding. @param {any} page @param {string} group @param {string} word */
async function choose(page, group, word) {
    await page.getByRole('group', { name: group }).getByRole('radio', { name: word, exact: true }).click();
}

export async function test_another_cause_than_the_fascia_is_a_complete_outcome({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await begin(page, 'Runa Breakwater', 'HB-8101');
    await goTo(page, 'Findings');
    await choose(page, 'Left foot: is there heel pain?', 'yes');
    const causes = page.locator('#causes');
    await causes.getByText('cannot be said', { exact: false }).first().waitFor();
    await choose(page, 'Left foot: where it is most tender', 'heel pad');
    await choose(page, 'Left foot: how the pain goes through the day', 'with long standing');
    await causes.getByRole('heading', { name: /Not the plantar fascia/ }).waitFor();
    assert.match(await causes.textContent(), /Heel fat pad:.*Cushion/);
    await choose(page, 'Left foot: toe raised in standing brings on the pain', 'negative');
    await causes.getByText('Windlass, standing').waitFor();
    assert.match(await causes.textContent(), /0\.68 \(/, 'De Garceau 2003: 0.68');
    await causes.scrollIntoViewIfNeeded();
    await axe(page, 'causes');
    await shoot(page, 'causes');
    noTroubles(troubles);
}

export async function test_questionnaires_are_scored_and_the_clinics_own_loaded({ browser, server }) {
    const owner = await open(browser);
    await signIn(owner.page, server, 'owner');
    await owner.page.getByRole('link', { name: 'Settings' }).click();
    await owner.page.getByLabel('Its text').fill('scale: quay-stairs\nname: Stairs of the quay\nlowest answer: 0\nhighest answer: 4\nbetter: sideways\nscore: percent\nleast answered: 1\n- Going up\n- Going down\n');
    await owner.page.getByRole('button', { name: 'Check and keep' }).click();
    await owner.page.getByText('must be lower or higher').waitFor();
    const text = owner.page.getByLabel('Its text');
    await text.fill((await text.inputValue()).replace('sideways', 'higher'));
    await owner.page.getByRole('button', { name: 'Check and keep' }).click();
    await owner.page.getByText('quay-stairs').waitFor();

    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    await begin(page, 'Odd Slipway', 'HB-8102');
    await goTo(page, 'Follow-up');
    const room = page.locator('#questionnaires');
    await room.getByText('Fill one in').click();
    await room.getByLabel('Questionnaire').selectOption({ label: 'Foot function index, answers 0 to 10' }).catch(() => room.getByLabel('Questionnaire').selectOption('ffi'));
    for (let i = 1; i <= 23; i++) await room.getByLabel(`Item ${i}`, { exact: true }).fill(i <= 9 ? '10' : '0');
    await room.getByLabel('Item 23', { exact: true }).fill('11');
    await room.getByRole('button', { name: 'Score and keep' }).click();
    await room.getByText(/item 23 .* is 11/).waitFor();
    await room.getByLabel('Item 23', { exact: true }).fill('0');
    await room.getByRole('button', { name: 'Score and keep' }).click();
    await room.getByText('39.1').waitFor(); // of the sum; 33.3 is the mean of the parts
    await room.getByText('33.3').waitFor();
    await room.getByLabel('Questionnaire').selectOption('quay-stairs');
    await room.getByLabel('Going up').fill('4');
    await room.getByLabel('Going down').fill('n');
    await room.getByRole('button', { name: 'Score and keep' }).click();
    await room.getByRole('heading', { name: /Stairs of the quay/ }).waitFor();
    await axe(page, 'questionnaires');
    await room.scrollIntoViewIfNeeded();
    await shoot(page, 'questionnaires');
    noTroubles([...troubles, ...owner.troubles], /status of 4\d\d/);
}
