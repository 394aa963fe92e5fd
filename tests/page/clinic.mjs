// SPDX-License-Identifier: GPL-3.0-or-later
// Reasoning, plan, treatment and follow-up as a clinician meets them on the page.
import assert from 'node:assert/strict';
import { open, openDemo, signIn, goTo, isSaved, noTroubles, axe, shoot, textOf } from './browser.mjs';
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
    assert.match(await textOf(causes), /Heel fat pad:.*Cushion/);
    await choose(page, 'Left foot: toe raised in standing brings on the pain', 'negative');
    await causes.getByText('Windlass, standing').waitFor();
    assert.match(await textOf(causes), /0\.68 \(/, 'De Garceau 2003: 0.68');
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

/** The chip of an act, by what it says. @param {any} page @param {RegExp} name */
const chip = (page, name) => page.locator('.weeks').getByRole('button', { name });

export async function test_a_plan_is_edited_answered_by_the_rules_and_signed({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'clinician');
    page.setDefaultTimeout(60000); // the whole visit is computed anew, beside other work
    await openDemo(page);
    await goTo(page, 'Plan');
    // What is chosen starts as soon as it may: shockwave six weeks after the corticosteroid of 21 days ago.
    const steroid = page.locator('.option', { has: page.getByRole('heading', { name: /^Corticosteroid injection/ }) });
    await steroid.getByLabel('in the plan').check();
    await chip(page, /^corticosteroid injection.*week 9/).first().waitFor();
    const shock = chip(page, /^radial shockwave.*session 1 of 3/).first();
    await shock.waitFor();
    await page.waitForFunction(() => [...document.querySelectorAll('.week-chip')].some((one) => /shockwave.*session 1 of 3, week 3/.test(one.getAttribute('aria-label') ?? '')));
    await shock.focus();
    await page.keyboard.press('ArrowLeft');
    const answer = page.locator('.rule-answer');
    await answer.getByText('A rule stops it that week').waitFor();
    assert.match(await textOf(answer), /sw-after-steroid/);
    await shock.focus();
    await page.keyboard.press('ArrowRight');
    await answer.getByText('It may stand there.').waitFor();
    await chip(page, /^radial shockwave.*session 1 of 3, week 4/).first().waitFor();
    await page.locator('#signature').getByRole('button', { name: 'Sign this version' }).click(); // waits until it is computed
    await page.getByText(/is signed/).first().waitFor();
    await isSaved(page);
    await axe(page, 'signed plan');
    await shoot(page, 'plan-signed');
    // An edit makes a version that nobody has signed.
    await steroid.getByLabel('in the plan').uncheck();
    await page.getByText(/is not signed/).waitFor();
    await isSaved(page);
    noTroubles(troubles);
}
test_a_plan_is_edited_answered_by_the_rules_and_signed.isAlone = true;

export async function test_a_trial_is_added_and_its_pool_moves({ browser, server }) {
    const { page, troubles } = await open(browser);
    page.setDefaultTimeout(60000);
    await signIn(page, server, 'clinician');
    await page.getByRole('link', { name: 'Trials' }).click();
    const forest = page.getByRole('img', { name: /^tape against sham/ });
    await forest.waitFor();
    const before = await forest.getAttribute('aria-label');
    const room = page.locator('#add-trial');
    await room.getByText('Add a trial').click();
    const typed = { 'Source: authors, year, journal *': 'Quay 2026 (invented)', 'Treatment *': 'tape', 'Control *': 'sham tape', 'Outcome *': 'pain', 'Weeks of follow-up': '1', 'People treated': '30', 'People in the control': '30', 'Difference, treated less control': '-2', 'its lower end, 95 %': '5', 'its upper end, 95 %': '9' };
    for (const [label, text] of Object.entries(typed)) await room.getByLabel(label, { exact: true }).fill(text);
    await room.getByLabel('Better is').selectOption('lower');
    await room.getByLabel('Pooled with').selectOption('tape against sham');
    await room.getByRole('button', { name: 'Add the trial' }).click();
    await room.getByText(/does not lie within its interval/).first().waitFor();
    await room.getByLabel('its lower end, 95 %').fill('-9');
    await room.getByLabel('its upper end, 95 %').fill('5');
    await room.getByRole('button', { name: 'Add the trial' }).click();
    await page.waitForFunction((old) => [...document.querySelectorAll('.forest')].some((one) => one.getAttribute('aria-label')?.startsWith('tape against sham') && one.getAttribute('aria-label') !== old), before);
    await page.locator('.forest text', { hasText: 'Quay 2026' }).first().waitFor();
    // One that counts successes: its scale is another, so it stays out and that is said.
    const counted = { 'Source: authors, year, journal *': 'Wharf 2026 (invented)', 'Treatment *': 'tape', 'Control *': 'sham tape', 'Outcome *': 'better', 'Weeks of follow-up': '1', 'People treated': '30', 'People in the control': '30', 'Events, treated': '20', 'Events, control': '10', 'Difference, treated less control': '', 'its lower end, 95 %': '', 'its upper end, 95 %': '' };
    for (const [label, text] of Object.entries(counted)) await room.getByLabel(label, { exact: true }).fill(text);
    await room.getByLabel('An event is').selectOption('good');
    await room.getByLabel('Pooled with').selectOption('tape against sham');
    await room.getByRole('button', { name: 'Add the trial' }).click();
    await page.getByText(/Not in this pool: Wharf 2026/).waitFor();
    await page.locator('.forest').first().locator('xpath=..').getByText('The same as a table').click();
    await page.getByText(/Over the weeks of follow-up/).first().waitFor();
    await axe(page, 'trials');
    await shoot(page, 'trials-pools');
    noTroubles(troubles, /status of 4\d\d/);
}

export async function test_an_owner_ends_and_gives_back_a_users_access({ browser, server }) {
    const { page, troubles } = await open(browser);
    await signIn(page, server, 'owner');
    await page.getByRole('link', { name: 'Settings' }).click();
    const users = page.getByRole('region', { name: 'Users', exact: true });
    await page.getByText('Add a user').click();
    const form = page.locator('details', { has: page.getByText('Add a user') });
    await form.getByLabel('Name *', { exact: true }).fill('Runa Mooring (invented)');
    await form.getByLabel(/^Name to sign in with/).fill('mooring');
    await form.getByLabel(/^First passphrase/).fill('rope and bollard at noon');
    await form.getByLabel(/^Role/).selectOption('clinician');
    await form.getByRole('button', { name: 'Add' }).click();
    const row = users.locator('tr', { hasText: 'Runa Mooring' });
    await row.getByText('Change Runa Mooring').click();
    await row.getByLabel('may log injections').check();
    await row.getByLabel(/^A new passphrase/).fill('another rope at midnight');
    await row.getByRole('button', { name: 'Save' }).click();
    await row.getByRole('cell', { name: 'injection', exact: true }).waitFor();
    const tries = async (/** @type {string} */ passphrase) => page.evaluate(async (word) => {
        const answer = await fetch('/api/session', { method: 'POST', credentials: 'omit', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ login: 'mooring', passphrase: word }) });
        return answer.status;
    }, passphrase);
    assert.equal(await tries('rope and bollard at noon'), 401);
    assert.equal(await tries('another rope at midnight'), 200);
    // Both were given by the owner, who knows them: the user sets one of their own before anything opens.
    const own = await open(browser);
    await own.page.goto(server.address);
    await own.page.getByLabel('Name to sign in with').fill('mooring');
    await own.page.getByLabel('Passphrase').fill('another rope at midnight');
    await own.page.getByRole('button', { name: 'Sign in' }).click();
    await own.page.getByRole('heading', { name: 'A passphrase of your own' }).waitFor();
    await axe(own.page, 'a passphrase of one’s own');
    await shoot(own.page, 'own-passphrase');
    await own.page.getByLabel('The one you were given').fill('another rope at midnight');
    await own.page.getByLabel('Your own', { exact: true }).fill('a rope of my own at dawn');
    await own.page.getByRole('button', { name: 'Set it and begin' }).click();
    await own.page.locator('nav.rail').waitFor();
    await own.page.getByRole('button', { name: 'New person' }).waitFor();
    noTroubles(own.troubles);
    await row.getByText('Change Runa Mooring').click();
    await axe(page, 'changing a user');
    await row.scrollIntoViewIfNeeded();
    await shoot(page, 'users');
    await row.getByRole('button', { name: /^End the access of/ }).click();
    await row.getByText('may not sign in').waitFor();
    assert.equal(await tries('a rope of my own at dawn'), 401);
    await row.getByText('Change Runa Mooring').click();
    await row.getByRole('button', { name: /^Let in again/ }).click();
    await row.getByText('may not sign in').waitFor({ state: 'detached' });
    assert.equal(await tries('a rope of my own at dawn'), 200);
    noTroubles(troubles, /status of 401/);
}
