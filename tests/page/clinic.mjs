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
